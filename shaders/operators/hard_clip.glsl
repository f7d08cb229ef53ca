// Pair of tonemap/operators/hard_clip.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

vec3 hard_clip(vec3 light, Levels levels, float landing, int application, float desaturation, float ceiling)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = min(drive, ceiling);
    return carry(light, drive, mapped, application, 1.0, desaturation);
}
