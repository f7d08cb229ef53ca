// Pair of tonemap/operators/gamut_hue.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/gamut.glsl"
#include "lib/levels.glsl"

const int GAMUT_HUE_ROUNDS = 5;
const float GAMUT_HUE_TOLERANCE = 0.005;
const vec3 LIGHTNESS_WEIGHTS = vec3(0.2104542553, 0.7936177850, -0.0040720468);
const mat3 CONE_FROM_BT2020 = mat3(0.61675578794165693, 0.26513306027320770, 0.10010263127935722,
                                   0.36019840206731846, 0.63583937143274540, 0.20390652049066431,
                                   0.023045809991024686, 0.099027568294046990, 0.69599084822997850);
const mat3 BT2020_FROM_CONE = mat3(2.1399067199974820, -0.88473583417399700, -0.048573753448451454,
                                   -1.2463894954583736, 2.1632309413204890, -0.45450314033949150,
                                   0.10648277546089119, -0.27849510714649184, 1.5030768937879430);

// A channel of the target, 1 at its peak, or the room above it, as a cubic of the chroma scale.
float value(vec4 cubic, float s) { return cubic[0] + s * (cubic[1] + s * (cubic[2] + s * cubic[3])); }

// The slopes of two lines from the start of a cubic, down and up, between which it stays up to the limit: the steepest and
// the flattest through one of the three points of its Bezier form.
vec2 steepest_fall_and_rise(vec4 cubic, float limit)
{
    float second = cubic[1] + 0.5 * limit * cubic[2];
    float third = cubic[1] + limit * (cubic[2] + limit * cubic[3]);
    return vec2(-min(min(cubic[1], second), third), max(max(cubic[1], second), third));
}

// Divide, with a denominator of 0 read as a small one.
float quotient(float numerator, float denominator)
{
    return numerator / (abs(denominator) < 1e-20 ? 1e-20 : denominator);
}

// The place up to which a cubic that is below 0 at the high place is above it, by Halley's method. The search starts where
// it comes nearer from one side only: behind the crossing, where the cubic bends down all the way from there to the high
// place, else before it.
float fall(vec4 cubic, float high)
{
    float turn = clamp(quotient(-cubic[2], 3.0 * cubic[3]), 0.0, high);
    bool bends_down = cubic[3] < 0.0 && value(cubic, turn) > 0.0;
    vec2 slopes = steepest_fall_and_rise(cubic, high);
    float s = clamp(cubic[0] / max(bends_down ? -slopes.y : slopes.x, 1e-20), 0.0, high);
    for (int look = 0; look < GAMUT_HUE_ROUNDS; ++look) {  // without an end of its own: drivers write it out
        float at_s = value(cubic, s);
        float bend = cubic[2] + s * (3.0 * cubic[3]);
        float slope = cubic[1] + s * (cubic[2] + bend);
        s = clamp(s - at_s * slope / max(slope * slope - at_s * bend, 1e-30), 0.0, high);
    }
    return s;
}

// Where a cubic that starts above 0 falls below it, averaged over the tolerance; the limit where it does not.
float crossing(vec4 cubic, float limit)
{
    float tolerance = GAMUT_HUE_TOLERANCE * max(cubic[0], 0.0) + 1e-12;
    float discriminant = cubic[2] * cubic[2] - 3.0 * cubic[1] * cubic[3];
    float root = sqrt(max(discriminant, 0.0));
    float lowest = cubic[2] > 0.0 ? quotient(-cubic[1], root + cubic[2]) : quotient(root - cubic[2], 3.0 * cubic[3]);
    bool dips = discriminant > 0.0 && lowest > 0.0 && lowest < limit;
    float first = dips ? lowest : limit, second = limit;
    float before = clamp(-value(cubic, first) / tolerance, 0.0, 1.0);
    vec4 lift = vec4(0.5 * before * tolerance, 0.0, 0.0, 0.0);
    if (before > 0.0) first = fall(cubic + lift, first);
    lift[0] += 0.5 * tolerance;
    if (dips && before < 1.0 && value(cubic + lift, limit) < 0.0) second = fall(cubic + lift, limit);
    return before * first + (1.0 - before) * second;
}

float least_of(vec3 channels) { return min(min(channels.r, channels.g), channels.b); }

// Where the first of the target's channels leaves 0..1, or the limit. Only crossings that may be the first are searched for,
// in the order in which they may come.
float first_crossing(vec4 red, vec4 green, vec4 blue, float limit)
{
    vec2 slopes[3] = vec2[3](steepest_fall_and_rise(red, limit), steepest_fall_and_rise(green, limit),
                             steepest_fall_and_rise(blue, limit));
    vec3 below = red[0] / max(vec3(slopes[0].x, slopes[1].x, slopes[2].x), 1e-20);
    vec3 above = (1.0 - red[0]) / max(vec3(slopes[0].y, slopes[1].y, slopes[2].y), 1e-20);
    float edge = limit;
    for (int look = 0; look < 6; ++look) {
        bool is_above = least_of(above) < least_of(below);
        vec3 earliest = is_above ? above : below;
        float first = least_of(earliest);
        int channel = earliest.r == first ? 0 : earliest.g == first ? 1 : 2;
        vec4 cubic = channel == 0 ? red : channel == 1 ? green : blue;
        if (is_above) cubic = vec4(1.0, 0.0, 0.0, 0.0) - cubic;
        if (first < edge) edge = min(edge, crossing(cubic, limit));
        earliest[channel] = limit;
        if (is_above) above = earliest;
        else below = earliest;
        if (min(least_of(above), least_of(below)) >= edge) break;
    }
    return edge;
}

vec3 target_from_cone(vec3 cone, Volume volume) { return convert(convert(cone, BT2020_FROM_CONE), volume.to_target); }

vec3 gamut_hue(vec3 light, Levels levels, Volume volume, float threshold, float reach)
{
    float limit = 1.0 / threshold;
    vec3 cone_root = cube_root(convert(light, CONE_FROM_BT2020) / levels.target_peak);
    float lightness = dot(LIGHTNESS_WEIGHTS, cone_root);
    vec3 chroma = cone_root - lightness;
    float grey = min(lightness, 1.0);
    float c0 = grey * grey * grey;  // white is white in both primaries
    vec3 c1 = 3.0 * grey * grey * target_from_cone(chroma, volume);
    vec3 c2 = 3.0 * grey * target_from_cone(chroma * chroma, volume);
    vec3 c3 = target_from_cone(chroma * chroma * chroma, volume);
    float edge = first_crossing(vec4(c0, c1.r, c2.r, c3.r), vec4(c0, c1.g, c2.g, c3.g), vec4(c0, c1.b, c2.b, c3.b), limit);
    if (edge >= limit && lightness <= 1.0)
        return clamp(convert(light, volume.to_target), 0.0, levels.target_peak);
    edge = max(edge, 1e-6);
    float scale = edge * (1.0 - remaining_room(1.0 / edge, reach, threshold));
    return levels.target_peak * clamp(c0 + scale * (c1 + scale * (c2 + scale * c3)), 0.0, 1.0);
}
