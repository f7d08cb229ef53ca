// Pair of tonemap/reference.py: the chain of a rendition, from the master's samples to the target's signal.
// The generated part gives SOURCE_TRANSFER, TARGET_TRANSFER, the uniforms, tone() and gamut(), and says by ADJUSTS_INPUT
// and ADJUSTS_OUTPUT whether there are adjustments: a software rasteriser computes neutral ones like any other.
// RESULT_LIGHT asks for light instead of a signal: 1 as the tone operator leaves it, 2 as the gamut operator does.
#include "lib/adjustments.glsl"
#include "lib/cdl.glsl"
#include "lib/encoding.glsl"
#include "lib/levels.glsl"
#include "lib/signal_range.glsl"
#include "generated/rendition.glsl"

vec3 render_light(vec3 light)
{
#if ADJUSTS_INPUT
    light = apply_input_adjustments(light, adjustments);
#endif
    light = tone(light);
#if RESULT_LIGHT == 1
    return light;
#else
    return gamut(light);
#endif
}

vec3 light_to_target_signal(vec3 light)
{
#if RESULT_LIGHT
    return render_light(light);
#else
    vec3 signal = encode(render_light(light), TARGET_TRANSFER, target_display);
#if ADJUSTS_OUTPUT
    signal = apply_cdl(signal, cdl);
#endif
    return signal;
#endif
}
