// Pair of tonemap/reference.py: the chain of a rendition, from the master's samples to the target's signal.
// The generated part gives SOURCE_TRANSFER, TARGET_TRANSFER, the uniforms, tone() and gamut().
#include "lib/adjustments.glsl"
#include "lib/cdl.glsl"
#include "lib/encoding.glsl"
#include "lib/levels.glsl"
#include "lib/signal_range.glsl"
#include "generated/rendition.glsl"

vec3 render_light(vec3 light)
{
    light = apply_input_adjustments(light, adjustments);
    light = tone(light);
    return gamut(light);
}

vec3 light_to_target_signal(vec3 light)
{
    return apply_cdl(encode(render_light(light), TARGET_TRANSFER, target_display), cdl);
}
