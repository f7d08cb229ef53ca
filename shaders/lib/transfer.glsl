// Pair of tonemap/transfer.py.
// Signals are normalised, light is in cd/m2; matrices and display constants arrive as arguments.
#include "lib/elementary.glsl"

const float PQ_M1 = 2610.0 / 16384.0;
const float PQ_M2 = 2523.0 / 32.0;
const float PQ_C1 = 3424.0 / 4096.0;
const float PQ_C3 = 2392.0 / 128.0;
const float PQ_PEAK = 10000.0;
// (c1 + c2 y) / (1 + c3 y) = 1 - d with d = (1 - c1)(1 - y) / (1 + c3 y), since c1 = c3 - c2 + 1. Raised to 78.84, the
// quotient would lose six bits to cancellation; d does not.
const float PQ_K = 1.0 - PQ_C1;

float pq_eotf(float signal)
{
    float clipped = clamp(signal, 1e-30, 1.0);
    vec2 l = log2_split(clipped);
    // d = -expm1(ln(signal) / m2), and the quotient (K - d) / (K + c3 d), each as a sum of two floats: the power that
    // follows raises their rounding errors sixfold.
    const float SCALE = 0.69314718 / PQ_M2;
    const float SCALE_HIGH = 0.0087890625;  // 9 / 1024: exact in a product with the exponent
    const float SCALE_LOW = 2.3405035e-6;     // ln 2 / m2 - 9 / 1024
    precise float t = l.x * SCALE_HIGH + l.y * SCALE;
    precise float t_low = (l.x * SCALE_HIGH - t) + l.y * SCALE + l.x * SCALE_LOW;
    float x = t + t_low;
    t_low += x * x * (0.5 + x * (0.16666667 + x * (0.041666667 + x * 0.0083333333)));
    precise float above = PQ_K + t;
    precise float above_low = (PQ_K - above) + t + t_low;
    float t_high = intBitsToFloat(floatBitsToInt(t) & 0xfffff000);
    precise float product = -PQ_C3 * t_high;  // exact: 9 bits by 12
    precise float below = PQ_K + product;
    precise float below_low = (PQ_K - below) + product - PQ_C3 * ((t - t_high) + t_low);
    float quotient = max(above + above_low, 0.0) / (below + below_low);
    float q_high = intBitsToFloat(floatBitsToInt(quotient) & 0xfffff000);
    float b_high = intBitsToFloat(floatBitsToInt(below) & 0xfffff000);
    precise float remainder = ((above - q_high * b_high) - q_high * (below - b_high)) - (quotient - q_high) * below;
    remainder += above_low - quotient * below_low;
    float correction = remainder / (below * max(quotient, 1e-30));
    return PQ_PEAK * power(quotient, 1.0 / PQ_M1) * (1.0 + correction / PQ_M1);
}

float pq_eotf_inverse(float light)
{
    float y = power(max(light, 0.0) / PQ_PEAK, PQ_M1);
    float d = PQ_K * (1.0 - y) / (1.0 + PQ_C3 * y);
    return exp2_of(log_one_plus(-d) * (PQ_M2 * 1.44269504));
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
