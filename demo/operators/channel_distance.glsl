// Pair of channel_distance.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/elementary.glsl"
#include "lib/levels.glsl"

const float SMALLEST = 1e-9;

float compressed(float distance, float threshold, float scale, float exponent)
{
    float over = max(distance - threshold, 0.0) / scale;
    return min(distance, threshold) + scale * over / power(1.0 + power(over, exponent), 1.0 / exponent);
}

vec3 channel_distance(vec3 light, Levels levels, Volume volume, float threshold, float exponent, float scale_r,
                      float scale_g, float scale_b)
{
    vec3 colour = convert(light, volume.to_target);
    float largest = max(colour.r, max(colour.g, colour.b));
    vec3 distance = (largest - colour) / max(largest, SMALLEST);
    vec3 kept = vec3(compressed(distance.r, threshold, scale_r, exponent),
                     compressed(distance.g, threshold, scale_g, exponent),
                     compressed(distance.b, threshold, scale_b, exponent));
    return clamp(largest - kept * max(largest, SMALLEST), 0.0, levels.target_peak);
}
