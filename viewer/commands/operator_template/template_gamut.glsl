// Pair of template_gamut.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/levels.glsl"

vec3 template_gamut(vec3 light, Levels levels, Volume volume, float beyond)
{
    float peak = levels.target_peak;
    float grey = clamp(luminance(light), 0.0, peak);
    vec3 offset = convert(light, volume.to_target) - grey;
    float low = min(offset.r, min(offset.g, offset.b));
    float high = max(offset.r, max(offset.g, offset.b));
    float room = min(grey / max(-low, 1e-9), (peak - grey) / max(high, 1e-9));
    float share = min(room * (1.0 + beyond), 1.0);
    return clamp(grey + share * offset, 0.0, peak);
}
