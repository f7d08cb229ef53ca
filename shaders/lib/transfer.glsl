// Pair of tonemap/transfer.py.
// Signals are normalised, light is in cd/m2; matrices and display constants arrive as arguments.
#include "lib/elementary.glsl"

// PQ by quotients of polynomials, fitted to ST 2084, clause 5: two powers take four times as long, and the second raises
// the rounding of the first 79-fold. The root of the light is fitted, and squared. Towards black it bends like a logarithm,
// which the fourth root x of the signal straightens; there it reaches 0 a little above black, as the standard has it. Light
// raises the rounding of x twelvefold, so what weighs most is a multiple of x^4, and that is the signal as it came.
float pq_eotf(float signal)
{
    float e = clamp(signal, 0.0, 1.0);
    float rest = e - 0.5;
    float above = 0.015193962 + e * (5.7407603 + e * (28.786890 + e * (25.605164 + e * 1.0011951)));
    float below = 1.3895121 - rest * (1.3144511 + rest * (1.2541996 - rest * (1.8128042 - rest * 0.54152215)));
    if (e < 0.15) {
        float x = sqrt(sqrt(e));
        rest = x - 0.25;
        above = -2.687677e-5 + x * (2.5005157e-3 + x * (-0.070258460 + x * 0.33118898))
              + e * (7.4746200 + x * (4.3783960 - x * 0.72393507));
        below = 1.6708362 + rest * (4.5929440 - rest * (12.799592 + rest * (13.256352 - rest * (39.723465
              - rest * 20.194519))));
    }
    float root = max(above, 0.0) / below;
    return root * root;
}

// Above 0.13 cd/m2 from the signal 0.5, so that a quotient's rounding is least where pictures are.
float pq_eotf_inverse(float light)
{
    float x = sqrt(sqrt(max(light, 0.0)));
    bool is_dark = x < 0.6027546;
    float above = is_dark
        ? 1.8332003e-6 + x * (1.4015147e-3 + x * (0.22140972 + x * (15.337596 + x * (414.71292 + x * 4131.4814))))
        : 0.20070061 + x * (0.85941046 + x * (1.2652130 + x * (0.28650352 + x * (0.011126369 + x * 4.6501368e-6))));
    float below = is_dark
        ? 1.8750041 + x * (185.58055 + x * (2764.3191 + x * (10793.466 + x * (13693.336 + x * 2988.8586))))
        : 1.2500004 + x * (4.8578668 + x * (6.6340575 + x * (2.6634579 + x * (0.31484911 + x * 0.0083873719))));
    float quotient = above / below;
    return is_dark ? quotient : 0.5 + (x - 3.0991068) * quotient;
}

vec3 pq_eotf(vec3 signal) { return vec3(pq_eotf(signal.r), pq_eotf(signal.g), pq_eotf(signal.b)); }

vec3 pq_eotf_inverse(vec3 light)
{
    return vec3(pq_eotf_inverse(light.r), pq_eotf_inverse(light.g), pq_eotf_inverse(light.b));
}

const float HLG_A = 0.17883277;
const float HLG_B = 1.0 - 4.0 * HLG_A;
const float HLG_C = 0.55991073;
const vec3 HLG_WEIGHTS = vec3(0.2627, 0.6780, 0.0593);
const float HLG_CEILING = 8.0;

float hlg_oetf(float scene)
{
    scene = max(scene, 0.0);
    if (scene <= 1.0 / 12.0) return sqrt(3.0 * scene);
    return HLG_A * natural_log(12.0 * scene - HLG_B) + HLG_C;
}

float hlg_oetf_inverse(float signal)
{
    signal = clamp(signal, 0.0, HLG_CEILING);
    if (signal <= 0.5) return signal * signal / 3.0;
    return (exp2_of((signal - HLG_C) / HLG_A * 1.44269504) + HLG_B) / 12.0;
}

// A display as the transfer functions see it; gamma is the HLG system gamma, lift the black lift of HLG or BT.1886,
// gain the user gain of BT.1886.
struct Display {
    float peak;
    float gamma;
    float gain;
    float lift;
    float unit;
};

vec3 hlg_ootf(vec3 scene, Display display)
{
    float luminance = max(dot(HLG_WEIGHTS, scene), 1e-30);
    return display.peak * power(luminance, display.gamma - 1.0) * scene;
}

vec3 hlg_ootf_inverse(vec3 light, Display display)
{
    vec3 relative = light / display.peak;
    float luminance = max(dot(HLG_WEIGHTS, relative), 1e-30);
    return relative / power(luminance, (display.gamma - 1.0) / display.gamma);
}

vec3 hlg_eotf(vec3 signal, Display display)
{
    vec3 lifted = (1.0 - display.lift) * signal + display.lift;
    return hlg_ootf(vec3(hlg_oetf_inverse(lifted.r), hlg_oetf_inverse(lifted.g), hlg_oetf_inverse(lifted.b)), display);
}

vec3 hlg_eotf_inverse(vec3 light, Display display)
{
    vec3 scene = hlg_ootf_inverse(light, display);
    vec3 signal = vec3(hlg_oetf(scene.r), hlg_oetf(scene.g), hlg_oetf(scene.b));
    return (signal - display.lift) / (1.0 - display.lift);
}

vec3 bt1886_eotf(vec3 signal, Display display)
{
    return display.gain * power(max(signal + display.lift, 0.0), 2.4);
}

vec3 bt1886_eotf_inverse(vec3 light, Display display)
{
    return power(max(light, 0.0) / display.gain, 1.0 / 2.4) - display.lift;
}

vec3 gamma_eotf(vec3 signal, float exponent, Display display)
{
    return display.peak * power(max(signal, 0.0), exponent);
}

vec3 gamma_eotf_inverse(vec3 light, float exponent, Display display)
{
    return power(max(light, 0.0) / display.peak, 1.0 / exponent);
}

float srgb_eotf(float signal)
{
    signal = max(signal, 0.0);
    if (signal <= 0.04045) return signal / 12.92;
    return power((signal + 0.055) / 1.055, 2.4);
}

float srgb_eotf_inverse(float relative)
{
    relative = max(relative, 0.0);
    if (relative <= 0.0031308) return 12.92 * relative;
    return 1.055 * power(relative, 1.0 / 2.4) - 0.055;
}

vec3 srgb_eotf(vec3 signal, Display display)
{
    return display.peak * vec3(srgb_eotf(signal.r), srgb_eotf(signal.g), srgb_eotf(signal.b));
}

vec3 srgb_eotf_inverse(vec3 light, Display display)
{
    vec3 relative = light / display.peak;
    return vec3(srgb_eotf_inverse(relative.r), srgb_eotf_inverse(relative.g), srgb_eotf_inverse(relative.b));
}
