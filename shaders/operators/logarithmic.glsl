// Pair of tonemap/operators/logarithmic.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

float logarithmic_curve(float level, float base, float room, float span, float bend)
{
    float u = clamp((level - base) / max(room, 1e-9), 0.0, span);
    float risen = span > 1.0 ? log_one_plus(bend * u) / bend : u;
    return min(level, base) + room * risen;
}

vec3 logarithmic(vec3 light, Levels levels, float start, float reach, float landing, int application,
                 float desaturation, float base, float room, float span, float bend)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = vec3(logarithmic_curve(drive.r, base, room, span, bend));
    if (application == PER_CHANNEL) {
        mapped.g = logarithmic_curve(drive.g, base, room, span, bend);
        mapped.b = logarithmic_curve(drive.b, base, room, span, bend);
    }
    return carry(light, drive, mapped, application, 1.0, desaturation);
}
