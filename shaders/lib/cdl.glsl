// Pair of tonemap/cdl.py: ASC CDL v1.2 with its clamps, on a signal.
#include "lib/elementary.glsl"

const vec3 CDL_WEIGHTS = vec3(0.2126, 0.7152, 0.0722);

struct Cdl {
    bool is_neutral;
    vec3 slope;
    vec3 offset;
    vec3 power;
    float saturation;
};

vec3 apply_cdl(vec3 signal, Cdl cdl)
{
    if (cdl.is_neutral) return clamp(signal, 0.0, 1.0);
    vec3 graded = power(clamp(signal * cdl.slope + cdl.offset, 0.0, 1.0), cdl.power);
    float luma = dot(CDL_WEIGHTS, graded);
    return clamp(luma + cdl.saturation * (graded - luma), 0.0, 1.0);
}
