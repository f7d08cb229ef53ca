// Pair of tonemap/encoding.py: decode to BT.2020 light in cd/m2, encode the target's light as a signal.
// The transfer is an int that is known when the program is made, so only one branch stays.
#include "lib/colorimetry.glsl"

// In the order of TRANSFERS.
const int PQ = 0;
const int HLG = 1;
const int BT1886 = 2;
const int GAMMA22 = 3;
const int GAMMA24 = 4;
const int GAMMA26 = 5;
const int SRGB = 6;
const int LINEAR = 7;

const float LIGHT_CEILING = 65504.0;

struct Encoding {
    mat3 to_bt2020;
    Display display;
};

vec3 signal_to_light(vec3 signal, int transfer, Display display)
{
    if (transfer == PQ) return pq_eotf(signal);
    if (transfer == HLG) return hlg_eotf(signal, display);
    if (transfer == BT1886) return bt1886_eotf(signal, display);
    if (transfer == SRGB) return srgb_eotf(signal, display);
    if (transfer == LINEAR) return signal * display.unit;
    return gamma_eotf(signal, transfer == GAMMA22 ? 2.2 : transfer == GAMMA24 ? 2.4 : 2.6, display);
}

vec3 light_to_signal(vec3 light, int transfer, Display display)
{
    if (transfer == PQ) return pq_eotf_inverse(light);
    if (transfer == HLG) return hlg_eotf_inverse(light, display);
    if (transfer == BT1886) return bt1886_eotf_inverse(light, display);
    if (transfer == SRGB) return srgb_eotf_inverse(light, display);
    if (transfer == LINEAR) return light / display.unit;
    return gamma_eotf_inverse(light, transfer == GAMMA22 ? 2.2 : transfer == GAMMA24 ? 2.4 : 2.6, display);
}

// NaN and -Inf become 0, +Inf the top. By the bits: a driver may assume that isnan is never true.
float finite(float x, float top)
{
    uint bits = floatBitsToUint(x);
    if ((bits & 0x7f800000u) != 0x7f800000u) return clamp(x, -top, top);
    return bits == 0x7f800000u ? top : 0.0;
}

vec3 in_bt2020(vec3 light, Encoding encoding)
{
    return clamp(convert(light, encoding.to_bt2020), 0.0, LIGHT_CEILING);
}

vec3 decode(vec3 signal, int transfer, Encoding encoding)
{
    float top = transfer == LINEAR ? LIGHT_CEILING / min(encoding.display.unit, 1.0) : LIGHT_CEILING;
    vec3 known = vec3(finite(signal.r, top), finite(signal.g, top), finite(signal.b, top));
    return in_bt2020(signal_to_light(known, transfer, encoding.display), encoding);
}

vec3 encode(vec3 light, int transfer, Display display)
{
    return clamp(light_to_signal(light, transfer, display), 0.0, 1.0);
}
