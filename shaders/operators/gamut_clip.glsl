// Pair of tonemap/operators/gamut_clip.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/levels.glsl"

vec3 gamut_clip(vec3 light, Levels levels, Volume volume)
{
    return clamp(convert(light, volume.to_target), 0.0, levels.target_peak);
}
