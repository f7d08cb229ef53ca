// Pair of tonemap/roll_off.py: what drives a curve, and how its result is carried to the picture.
// Levels in cd/m2; a single driving level stands in all three channels.
#include "lib/colorimetry.glsl"
#include "lib/levels.glsl"

const float SMALLEST_LEVEL = 1e-9;

// In the order of the options of APPLICATION.
const int PER_CHANNEL = 0;
const int MAX_RGB = 1;
const int LUMINANCE = 2;

float highest_of(vec3 levels) { return max(max(levels.r, levels.g), levels.b); }

vec3 driving_level(vec3 light, int application)
{
    vec3 level = light;
    if (application == MAX_RGB) level = vec3(highest_of(light));
    if (application == LUMINANCE) level = vec3(luminance(light));
    return max(level, 0.0);
}

vec3 carry(vec3 light, vec3 drive, vec3 mapped, int application, float gain, float desaturation, float pivot)
{
    vec3 result = application == PER_CHANNEL ? mapped : light * (mapped.r / max(drive.r, SMALLEST_LEVEL));
    float highest = max(highest_of(drive), SMALLEST_LEVEL);
    float held_back = highest > pivot ? clamp(1.0 - highest_of(mapped) / (gain * highest), 0.0, 1.0) : 0.0;
    float grey = luminance(result);
    return result + desaturation * held_back * (grey - result);
}

vec3 carry(vec3 light, vec3 drive, vec3 mapped, int application, float gain, float desaturation)
{
    return carry(light, drive, mapped, application, gain, desaturation, 0.0);
}
