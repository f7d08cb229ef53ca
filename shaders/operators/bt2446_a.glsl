// Pair of tonemap/operators/bt2446_a.py.
// Light in, light out: never negative, but a saturated channel may exceed the target's peak.
#include "lib/elementary.glsl"
#include "lib/levels.glsl"

const float BT2446_A_GAMMA = 2.4;

float bt2446_a_knee(float perceptual)
{
    if (perceptual <= 0.7399) return 1.0770 * perceptual;
    if (perceptual < 0.9909) return -1.1510 * perceptual * perceptual + 2.7811 * perceptual - 0.6302;
    return 0.5 * perceptual + 0.5;
}

vec3 bt2446_a(vec3 light, Levels levels, float rho_hdr, float rho_sdr, float log_rho_hdr, float log_rho_sdr)
{
    vec3 signal = power(clamp(light / levels.source_peak, 0.0, 1.0), 1.0 / BT2446_A_GAMMA);
    float luma = 0.2627 * signal.r + 0.6780 * signal.g + 0.0593 * signal.b;
    float perceptual = log_one_plus((rho_hdr - 1.0) * luma) / log_rho_hdr;
    float luma_sdr = exp_minus_one(bt2446_a_knee(perceptual) * log_rho_sdr) / (rho_sdr - 1.0);
    float colour_scaling = luma_sdr / (1.1 * max(luma, 1e-12));
    float cb = colour_scaling * (signal.b - luma) / 1.8814;
    float cr = colour_scaling * (signal.r - luma) / 1.4746;
    float luma_out = luma_sdr - max(0.1 * cr, 0.0);
    float red = luma_out + 1.4746 * cr;
    float blue = luma_out + 1.8814 * cb;
    float green = (luma_out - 0.2627 * red - 0.0593 * blue) / 0.6780;
    return levels.target_peak * power(max(vec3(red, green, blue), 0.0), BT2446_A_GAMMA);
}
