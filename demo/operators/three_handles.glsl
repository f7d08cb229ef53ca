// Pair of three_handles.py.
// Light in, light out: no channel passes the target's peak.
#include "lib/levels.glsl"
#include "lib/transfer.glsl"

const float SMALLEST = 1e-9;

float piece(float signal, float x0, float x1, float y0, float y1, float slope0, float slope1)
{
    float width = max(x1 - x0, SMALLEST);
    float t = clamp((signal - x0) / width, 0.0, 1.0);
    float back = 1.0 - t;
    float rise = t * t * (3.0 - 2.0 * t);
    return y0 + (y1 - y0) * rise + width * t * back * (slope0 * back - slope1 * t);
}

vec3 three_handles(vec3 light, Levels levels, float shadow, float grey, float white, float x_0, float x_1, float x_2,
                   float x_3, float x_4, float y_0, float y_1, float y_2, float y_3, float y_4, float slope_0,
                   float slope_1, float slope_2, float slope_3, float slope_4)
{
    float level = max(max(light.r, max(light.g, light.b)), SMALLEST);
    float signal = min(pq_eotf_inverse(level), x_4);
    float mapped = piece(signal, x_0, x_1, y_0, y_1, slope_0, slope_1);
    if (signal > x_1) mapped = piece(signal, x_1, x_2, y_1, y_2, slope_1, slope_2);
    if (signal > x_2) mapped = piece(signal, x_2, x_3, y_2, y_3, slope_2, slope_3);
    if (signal > x_3) mapped = piece(signal, x_3, x_4, y_3, y_4, slope_3, slope_4);
    return light * (min(pq_eotf(mapped), levels.target_peak) / level);
}
