// Pair of tonemap/operators/linear_scale.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

vec3 linear_scale(vec3 light, Levels levels, float white, float landing, int application, float desaturation,
                  float ceiling, float gain)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = min(drive * gain, ceiling);
    return carry(light, drive, mapped, application, gain, desaturation);
}
