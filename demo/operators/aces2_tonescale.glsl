// Pair of aces2_tonescale.py.
// Light in, light out: luminance within the target's peak, channels not clipped.
#include "lib/colorimetry.glsl"
#include "lib/elementary.glsl"
#include "lib/levels.glsl"

const float REFERENCE_NITS = 100.0;
const float CONTRAST = 1.15;
const float SCENE_GREY = 0.18;
const float TOE = 0.04;

vec3 aces2_tonescale(vec3 light, Levels levels, float grey, float numerator, float shift)
{
    float level = max(luminance(light), 1e-9);
    float scene = level * (SCENE_GREY / grey);
    float curve = numerator * power(scene / (scene + shift), CONTRAST);
    float nits = min(curve * curve / (curve + TOE) * REFERENCE_NITS, levels.target_peak);
    return light * (nits / level);
}
