// Pair of NumPy's power, cbrt, expm1 and log1p: powers and logarithms with float32 rounding only.
// The built-in pow, exp2 and log2 may be looser than the parity bar, and differ between drivers; these do not.

// log2(x) of a positive normal number, as its whole part and the rest in -0.5..0.5.
vec2 log2_split(float x)
{
    int bits = floatBitsToInt(x);
    int exponent = (bits - 0x3f3504f3) >> 23;  // 0x3f3504f3 is sqrt(0.5)
    float mantissa = intBitsToFloat(bits - (exponent << 23));
    float s = (mantissa - 1.0) / (mantissa + 1.0);
    float z = s * s;
    float series = z * (0.96179669 + z * (0.57707802 + z * (0.41219858 + z * 0.3243)));  // 2/ln 2 * atanh(s)
    return vec2(float(exponent), s * 2.8853900 + s * series);
}

// 2^(whole + rest) with whole an integer and rest in -0.5..0.5.
float exp2_split(float whole, float rest)
{
    float t = clamp(whole, -126.0, 127.0);
    float series = rest * (0.69314718 + rest * (0.24022651 + rest * (0.055504109 + rest * (0.0096181291
                 + rest * (0.0013333558 + rest * 0.00015403530)))));
    return (1.0 + series) * intBitsToFloat((int(t) + 127) << 23);
}

float exp2_of(float t)
{
    float whole = floor(t + 0.5);
    return exp2_split(whole, t - whole);
}

// x^y for x >= 0; 0 for x = 0. y is split so that its product with the exponent of x is exact.
float power(float x, float y)
{
    if (!(x > 1e-37)) return 0.0;
    vec2 l = log2_split(x);
    float y_high = intBitsToFloat(floatBitsToInt(y) & 0xfffff000);
    float y_low = y - y_high;
    float product = y_high * l.x;
    float whole = floor(product + y * l.y + 0.5);
    precise float rest = ((product - whole) + y_low * l.x) + y * l.y;
    return exp2_split(whole, rest);
}

vec3 power(vec3 x, float y) { return vec3(power(x.r, y), power(x.g, y), power(x.b, y)); }
vec3 power(vec3 x, vec3 y) { return vec3(power(x.r, y.r), power(x.g, y.g), power(x.b, y.b)); }

// The cube root of x >= 0, by two rounds of Halley's method from a third of the bits.
float cube_root(float x)
{
    if (!(x > 1e-37)) return 0.0;
    float root = intBitsToFloat(int(float(floatBitsToInt(x)) * 0.33333333) + 0x2a5119f2);
    for (int look = 0; look < 2; ++look) {
        float cube = root * root * root;
        root -= root * (cube - x) / (2.0 * cube + x);
    }
    return root;
}

vec3 cube_root(vec3 x) { return vec3(cube_root(x.r), cube_root(x.g), cube_root(x.b)); }

// ln(x) of a positive number.
float natural_log(float x)
{
    vec2 l = log2_split(max(x, 1e-37));
    return l.x * 0.69314718 + l.y * 0.69314718;
}

// exp(x) - 1 without cancellation near 0.
float exp_minus_one(float x)
{
    if (abs(x) < 0.2)
        return x * (1.0 + x * (0.5 + x * (0.16666667 + x * (0.041666667 + x * (0.0083333333 + x * (0.0013888889
               + x * 0.00019841270))))));
    return exp2_of(x * 1.44269504) - 1.0;
}

// ln(1 + x) without cancellation near 0.
float log_one_plus(float x)
{
    if (abs(x) < 0.25) {
        float s = x / (2.0 + x);
        float z = s * s;
        return 2.0 * s * (1.0 + z * (0.33333333 + z * (0.2 + z * (0.14285714 + z * 0.11111111))));
    }
    return natural_log(1.0 + x);
}
