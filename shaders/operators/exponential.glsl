// Pair of tonemap/operators/exponential.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

float exponential_curve(float level, float base, float room, float span, float rate)
{
    float u = clamp((level - base) / max(room, 1e-9), 0.0, span);
    float risen = span > 1.0 ? -exp_minus_one(-rate * u) / rate : u;
    return min(level, base) + room * risen;
}

vec3 exponential(vec3 light, Levels levels, float start, float reach, float landing, int application,
                 float desaturation, float base, float room, float span, float rate)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = vec3(exponential_curve(drive.r, base, room, span, rate));
    if (application == PER_CHANNEL) {
        mapped.g = exponential_curve(drive.g, base, room, span, rate);
        mapped.b = exponential_curve(drive.b, base, room, span, rate);
    }
    return carry(light, drive, mapped, application, 1.0, desaturation);
}
