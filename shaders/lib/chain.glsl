// Pair of tonemap/reference.py: the chain of a rendition, from the master's samples to the target's signal.
// The generated part gives SOURCE_TRANSFER, TARGET_TRANSFER, the uniforms, tone() and gamut(), and says by ADJUSTS_INPUT and
// ADJUSTS_OUTPUT whether there are adjustments: a software rasteriser computes neutral ones like any other.
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
    return gamut(light);
}

vec3 light_to_target_signal(vec3 light)
{
    vec3 signal = encode(render_light(light), TARGET_TRANSFER, target_display);
#if ADJUSTS_OUTPUT
    signal = apply_cdl(signal, cdl);
#endif
    return signal;
}
