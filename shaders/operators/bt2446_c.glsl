// Pair of tonemap/operators/bt2446_c.py.
// Light in, light out: greys within the target's peak; saturated colours may exceed it, and a channel fall below 0.
#include "lib/colorimetry.glsl"
#include "lib/levels.glsl"

vec3 bt2446_c(vec3 light, Levels levels, float crosstalk, int top, float slope, float inflection, float log_gain,
              float log_shift, float log_offset, float top_gain)
{
    light = clamp(light, 0.0, levels.source_peak);
    float total = light.r + light.g + light.b;
    vec3 mixed = (1.0 - 3.0 * crosstalk) * light + crosstalk * total;
    float lum = luminance(mixed);
    float above = natural_log(max(lum / inflection, 1.0) - log_shift);
    float curve = lum < inflection ? slope * lum : log_gain * above + log_offset;
    float mapped = min(top_gain * curve, levels.target_peak);
    mixed *= mapped / max(lum, 1e-9);
    total = mixed.r + mixed.g + mixed.b;
    return (mixed - crosstalk * total) / (1.0 - 3.0 * crosstalk);
}
