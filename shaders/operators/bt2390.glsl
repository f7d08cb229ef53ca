// Pair of tonemap/operators/bt2390.py.
// Light in, light out: channels within the peak by per_channel and max_rgb; by luminance and intensity they may exceed it.
#include "lib/colorimetry.glsl"
#include "lib/double_precision.glsl"
#include "lib/levels.glsl"

const vec3 BT2390_LUMINANCE_WEIGHTS = vec3(0.2627, 0.6780, 0.0593);
const float BT2390_SMALLEST_LEVEL = 1e-9;

struct Bt2390Curve {
    float pq_black;
    float pq_range;
    float pq_top;
    float min_lum;
    float max_lum;
    float knee;
};

float bt2390_eetf(float signal, Bt2390Curve p)
{
    float e1 = clamp((signal - p.pq_black) / p.pq_range, 0.0, 1.0);
    float e2 = e1;
    if (p.max_lum < 1.0 && e1 >= p.knee) {
        float t = (e1 - p.knee) / (1.0 - p.knee);
        float u = 1.0 - t;
        e2 = p.knee + t * ((1.0 - p.knee) * u * u + (p.max_lum - p.knee) * t * (3.0 - 2.0 * t));
    }
    float v = 1.0 - e2;
    float e3 = e2 + p.min_lum * (v * v) * (v * v);
    return e3 * p.pq_range + p.pq_black;
}

float bt2390_curve(float level, Levels levels, Bt2390Curve p)
{
    float signal = pq_eotf_inverse(level);
    bool untouched = p.min_lum == 0.0 && (signal - p.pq_black) / p.pq_range < min(p.knee, 1.0);
    if (untouched) return max(level, levels.source_black);
    return min(pq_eotf(bt2390_eetf(signal, p)), levels.target_peak);
}

// As bt2390_eetf, without rounding that would show in the channels near 0.
double bt2390_eetf(double signal, Bt2390Curve p)
{
    double e1 = clamp((signal - p.pq_black) / p.pq_range, 0.0lf, 1.0lf);
    double e2 = e1;
    if (p.max_lum < 1.0 && e1 >= p.knee) {
        double t = (e1 - p.knee) / (1.0lf - p.knee);
        double u = 1.0lf - t;
        e2 = p.knee + t * ((1.0lf - p.knee) * u * u + (p.max_lum - p.knee) * t * (3.0lf - 2.0lf * t));
    }
    double v = 1.0lf - e2;
    double e3 = e2 + p.min_lum * (v * v) * (v * v);
    return e3 * p.pq_range + p.pq_black;
}

vec3 bt2390_on_intensity(vec3 light, Bt2390Curve p)
{
    double before;
    dvec3 chroma;
    intensity_and_chroma(light, before, chroma);
    double after = min(bt2390_eetf(before, p), double(p.pq_top));
    double ratio = min(before / after, after / before);
    return light_of_intensity_and_chroma(after, ratio * chroma);
}

vec3 bt2390(vec3 light, Levels levels, int application, bool adjust_knee, float knee_offset, float pq_black,
            float pq_range, float pq_top, float min_lum, float max_lum, float knee)
{
    Bt2390Curve p = Bt2390Curve(pq_black, pq_range, pq_top, min_lum, max_lum, knee);
    if (application == APPLICATION_PER_CHANNEL)
        return vec3(bt2390_curve(light.r, levels, p), bt2390_curve(light.g, levels, p), bt2390_curve(light.b, levels, p));
    if (application == APPLICATION_INTENSITY) return bt2390_on_intensity(light, p);
    float drive = application == APPLICATION_MAX_RGB ? max(max(light.r, light.g), light.b)
                                                     : dot(BT2390_LUMINANCE_WEIGHTS, light);
    float mapped = bt2390_curve(drive, levels, p);
    return drive > BT2390_SMALLEST_LEVEL ? light * (mapped / drive) : vec3(mapped);
}
