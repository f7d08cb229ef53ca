// Pair of cube_curve.py.
// Light in, light out: no channel passes the target's peak.
#include "lib/elementary.glsl"
#include "lib/levels.glsl"
#include "lib/table.glsl"
#include "lib/transfer.glsl"

const float SMALLEST = 1e-9;

vec3 cube_curve(vec3 light, Levels levels, float strength, sampler2D curve)
{
    float peak = levels.target_peak;
    float level = max(max(light.r, max(light.g, light.b)), SMALLEST);
    float mapped = peak * power(max(table_at(curve, pq_eotf_inverse(level)), 0.0), 2.4);
    float clipped = min(level, peak);
    return light * ((clipped + strength * (mapped - clipped)) / level);
}
