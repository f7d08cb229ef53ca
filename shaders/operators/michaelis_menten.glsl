// Pair of tonemap/operators/michaelis_menten.py.
// Light in, light out: the driving level stays within the landing.
#include "lib/roll_off.glsl"

float michaelis_menten_curve(float level, float half_level, float hardness, float ceiling, float scale)
{
    float response = power(level / half_level, hardness);
    return min(scale * (response / (1.0 + response)), ceiling);
}

vec3 michaelis_menten(vec3 light, Levels levels, float half_level, float hardness, float reach, float landing,
                      int application, float desaturation, float ceiling, float scale, float pivot,
                      float pivot_gain)
{
    vec3 drive = driving_level(light, application);
    vec3 mapped = vec3(michaelis_menten_curve(drive.r, half_level, hardness, ceiling, scale));
    if (application == PER_CHANNEL) {
        mapped.g = michaelis_menten_curve(drive.g, half_level, hardness, ceiling, scale);
        mapped.b = michaelis_menten_curve(drive.b, half_level, hardness, ceiling, scale);
    }
    return carry(light, drive, mapped, application, pivot_gain, desaturation, pivot);
}
