// Pair of tonemap/adjustments.py: exposure, contrast and saturation on BT.2020 light in cd/m2; never negative.
#include "lib/colorimetry.glsl"

const float LUMINANCE_FLOOR = 1e-6;

struct InputAdjustments {
    bool is_neutral;
    float exposure;
    float contrast;
    float pivot;
    float saturation;
};

vec3 apply_input_adjustments(vec3 light, InputAdjustments adjustments)
{
    if (adjustments.is_neutral) return max(light, 0.0);
    light *= exp2_of(adjustments.exposure);
    float lum = luminance(light);
    float relative = max(lum, LUMINANCE_FLOOR) / adjustments.pivot;
    float gain = power(relative, adjustments.contrast - 1.0);
    light *= gain;
    lum *= gain;
    return max(adjustments.saturation * light + (1.0 - adjustments.saturation) * lum, 0.0);
}
