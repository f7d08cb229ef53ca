// Pair of tonemap/operators/knee.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

float knee_curve(float level, float point, float half_width, float slope, float top)
{
    float signal = pq_eotf_inverse(level);
    float into_corner = clamp(signal - (point - half_width), 0.0, 2.0 * half_width);
    float above = max(signal - (point + half_width), 0.0);
    float loss = (1.0 - slope) * (into_corner * into_corner / (4.0 * half_width) + above);
    float mapped = pq_eotf(min(signal - loss, top));
    return loss > 0.0 || signal > top ? mapped : level;
}

vec3 knee(vec3 light, Levels levels, float start, float softness, float reach, float landing, int application,
          float desaturation, float point, float half_width, float slope, float top)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = vec3(knee_curve(drive.r, point, half_width, slope, top));
    if (application == PER_CHANNEL) {
        mapped.g = knee_curve(drive.g, point, half_width, slope, top);
        mapped.b = knee_curve(drive.b, point, half_width, slope, top);
    }
    return carry(light, drive, mapped, application, 1.0, desaturation);
}
