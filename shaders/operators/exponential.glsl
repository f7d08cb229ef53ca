// Pair of tonemap/operators/exponential.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

float exponential_curve(float level, float base, float room, float rate)
{
    float u = max(level - base, 0.0) / max(room, 1e-9);
    float risen = min(-exp_minus_one(-rate * u) / rate, 1.0);
    return min(level, base) + room * risen;
}

vec3 exponential(vec3 light, Levels levels, float start, float hardness, float landing, int application,
                 float desaturation, float base, float room, float rate)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = vec3(exponential_curve(drive.r, base, room, rate));
    if (application == PER_CHANNEL) {
        mapped.g = exponential_curve(drive.g, base, room, rate);
        mapped.b = exponential_curve(drive.b, base, room, rate);
    }
    return carry(light, drive, mapped, application, 1.0, desaturation);
}
