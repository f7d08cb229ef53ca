// Pair of tonemap/operators/gamut_boundary.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/gamut.glsl"
#include "lib/levels.glsl"

// X + 15 Y + 3 Z of BT.2020 light, 1 for white.
const vec3 SUM_WEIGHTS = vec3(0.23819073548330236, 0.54110764436544170, 0.22070162015125613);
const float NO_ZERO = 1e9;

// For each channel, the t > 0 at which start + t slope falls to 0; NO_ZERO where it does not fall.
vec3 zero_of(float start, vec3 slope)
{
    return mix(vec3(NO_ZERO), start / max(-slope, 1e-9), lessThan(slope, vec3(0.0)));
}

float least_of(vec3 channels) { return min(min(channels.r, channels.g), channels.b); }

vec3 gamut_boundary(vec3 light, Levels levels, Volume volume, float threshold)
{
    float peak = levels.target_peak;
    float lum = luminance(light);
    if (!(lum > 0.0)) return vec3(0.0);
    float limited = clamp(lum, 0.0, peak);
    float total = max(dot(SUM_WEIGHTS, light), 1e-9);
    vec3 ray_source = light / total - 1.0;
    vec3 ray = convert(light, volume.to_target) / total - 1.0;
    float ray_v = lum / total - 1.0;
    float source_edge = least_of(zero_of(1.0, ray_source));
    vec3 zeros = zero_of(1.0, ray);
    vec3 tops = zero_of(peak - limited, peak * ray_v - limited * ray);
    float edge = least_of(min(zeros, tops));
    float target_edge = clamp(edge, 1e-6, 1.0 / threshold);  // farther off, the colour stays where it is
    float reach = max(source_edge / target_edge, 1.0);
    float back = target_edge * remaining_room(1.0 / target_edge, reach, threshold);
    vec3 on_edge = mix(1.0 + target_edge * ray, vec3(0.0), lessThanEqual(zeros, vec3(target_edge)));
    float luminance_gain = limited / max(1.0 + (target_edge - back) * ray_v, 1e-9);
    vec3 moved = luminance_gain * (on_edge - back * ray);
    bool untouched = edge >= 1.0 / threshold && lum <= peak;
    vec3 result = untouched ? convert(light, volume.to_target) : moved;
    return clamp(result, 0.0, peak);
}
