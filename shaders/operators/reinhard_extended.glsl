// Pair of tonemap/operators/reinhard_extended.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

float reinhard_extended_curve(float level, float base, float room, float span)
{
    float u = clamp((level - base) / max(room, 1e-9), 0.0, span);
    float risen = span > 1.0 ? u * (1.0 + u / (span * span)) / (1.0 + u) : u;
    return min(level, base) + room * risen;
}

vec3 reinhard_extended(vec3 light, Levels levels, float start, float reach, float landing, int application,
                       float desaturation, float base, float room, float span)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = vec3(reinhard_extended_curve(drive.r, base, room, span));
    if (application == PER_CHANNEL) {
        mapped.g = reinhard_extended_curve(drive.g, base, room, span);
        mapped.b = reinhard_extended_curve(drive.b, base, room, span);
    }
    return carry(light, drive, mapped, application, 1.0, desaturation);
}
