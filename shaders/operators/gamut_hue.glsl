// Pair of tonemap/operators/gamut_hue.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/gamut.glsl"
#include "lib/levels.glsl"

const int GAMUT_HUE_ROUNDS = 6;
const float GAMUT_HUE_NEAR_NEUTRAL = 1.5;
const float GAMUT_HUE_NEAR = 1e-5;  // of a round's step: the next one is far smaller
const float GAMUT_HUE_TOLERANCE = 0.005;
const vec3 LIGHTNESS_WEIGHTS = vec3(0.2104542553, 0.7936177850, -0.0040720468);
const mat3 CONE_FROM_BT2020 = mat3(0.61675578794165693, 0.26513306027320770, 0.10010263127935722,
                                   0.36019840206731846, 0.63583937143274540, 0.20390652049066431,
                                   0.023045809991024686, 0.099027568294046990, 0.69599084822997850);
const mat3 BT2020_FROM_CONE = mat3(2.1399067199974820, -0.88473583417399700, -0.048573753448451454,
                                   -1.2463894954583736, 2.1632309413204890, -0.45450314033949150,
                                   0.10648277546089119, -0.27849510714649184, 1.5030768937879430);

// The target's channels, 1 at its peak, as cubics of the chroma scale.
struct ChromaCubic {
    vec3 c0;
    vec3 c1;
    vec3 c2;
    vec3 c3;
};

vec3 target_from_cone(vec3 cone, Volume volume) { return convert(convert(cone, BT2020_FROM_CONE), volume.to_target); }

ChromaCubic chroma_cubic(float lightness, vec3 chroma, Volume volume)
{
    return ChromaCubic(target_from_cone(vec3(lightness * lightness * lightness), volume),
                       target_from_cone(3.0 * lightness * lightness * chroma, volume),
                       target_from_cone(3.0 * lightness * chroma * chroma, volume),
                       target_from_cone(chroma * chroma * chroma, volume));
}

ChromaCubic white_room(ChromaCubic cubic) { return ChromaCubic(1.0 - cubic.c0, -cubic.c1, -cubic.c2, -cubic.c3); }

vec3 value(ChromaCubic cubic, vec3 s) { return cubic.c0 + s * (cubic.c1 + s * (cubic.c2 + s * cubic.c3)); }

// Divide, with a denominator of 0 read as a small one.
vec3 quotient(vec3 numerator, vec3 denominator)
{
    return numerator / mix(denominator, vec3(1e-20), lessThan(abs(denominator), vec3(1e-20)));
}

// Where a cubic and a shift fall to 0 between two places, by Halley's method; else the second. The search starts where it
// comes nearer from one side only: at the turning point, or at an end on whose side the bend is.
vec3 fall(ChromaCubic cubic, vec3 shift, vec3 low, vec3 high, bvec3 is_wanted)
{
    cubic.c0 += shift;
    vec3 turn = clamp(quotient(-cubic.c2, 3.0 * cubic.c3), low, high);
    vec3 end = mix(low, high, greaterThan(value(cubic, turn), vec3(0.0)));
    vec3 s = mix(end, turn, greaterThan(cubic.c3, vec3(0.0)));
    bvec3 falls = bvec3(ivec3(is_wanted) * ivec3(lessThan(value(cubic, high), vec3(0.0))));
    bvec3 is_far = falls;
    for (int look = 0; look < GAMUT_HUE_ROUNDS && any(is_far); ++look) {
        vec3 at_s = value(cubic, s);
        vec3 slope = cubic.c1 + s * (2.0 * cubic.c2 + s * (3.0 * cubic.c3));
        vec3 bend = cubic.c2 + s * (3.0 * cubic.c3);
        vec3 next = clamp(s - quotient(at_s * slope, slope * slope - at_s * bend), low, high);
        is_far = bvec3(ivec3(falls) * ivec3(greaterThan(abs(next - s), vec3(GAMUT_HUE_NEAR))));
        s = next;
    }
    return mix(high, s, falls);
}

float least_of(vec3 channels) { return min(min(channels.r, channels.g), channels.b); }
float most_of(vec3 channels) { return max(max(channels.r, channels.g), channels.b); }

// Whether a colour is near neutral and no channel can leave 0..1 up to the limit; what is not is looked at more closely.
bool is_near_neutral_inside(vec3 cone, vec3 target, float limit, float bend)
{
    float low = least_of(cone), high = most_of(cone);
    return high <= GAMUT_HUE_NEAR_NEUTRAL * low
        && low >= 1.02 * bend * high
        && limit * least_of(target) >= (limit - 1.0 + 1.01 * bend) * 1.005 * high
        && limit * most_of(target) < 1.0 - 1.01 * bend * high + (limit - 1.0) * 0.995 * low
        && 1.01 * (1.0 + bend) * high < 1.0;
}

// Whether no channel can leave 0..1 up to the limit, by the size of the coefficients alone.
bool is_surely_inside(ChromaCubic cubic, float limit)
{
    vec3 most = limit * (abs(cubic.c1) + limit * (abs(cubic.c2) + limit * abs(cubic.c3)));
    vec3 room = min(cubic.c0, 1.0 - cubic.c0);
    return least_of(room) > most_of(most);
}

// Where cubics that start above 0 fall below it, averaged over the tolerance; the limit where they do not.
vec3 crossing(ChromaCubic cubic, float limit)
{
    vec3 tolerance = GAMUT_HUE_TOLERANCE * max(cubic.c0, 0.0) + 1e-12;
    vec3 discriminant = cubic.c2 * cubic.c2 - 3.0 * cubic.c1 * cubic.c3;
    vec3 root = sqrt(max(discriminant, 0.0));
    vec3 lowest = mix(quotient(root - cubic.c2, 3.0 * cubic.c3), quotient(-cubic.c1, root + cubic.c2),
                      greaterThan(cubic.c2, vec3(0.0)));
    bvec3 dips = bvec3(ivec3(greaterThan(discriminant, vec3(0.0))) * ivec3(greaterThan(lowest, vec3(0.0)))
                     * ivec3(lessThan(lowest, vec3(limit))));
    lowest = mix(vec3(limit), lowest, dips);
    vec3 before = clamp(-value(cubic, lowest) / tolerance, 0.0, 1.0);
    vec3 first = fall(cubic, 0.5 * before * tolerance, vec3(0.0), lowest, greaterThan(before, vec3(0.0)));
    vec3 second = fall(cubic, 0.5 * (1.0 + before) * tolerance, lowest, vec3(limit), dips);
    return before * first + (1.0 - before) * second;
}

vec3 gamut_hue(vec3 light, Levels levels, Volume volume, float threshold, float reach, float bend)
{
    vec3 target = convert(light, volume.to_target);
    vec3 untouched = clamp(target, 0.0, levels.target_peak);
    vec3 cone = convert(light, CONE_FROM_BT2020) / levels.target_peak;
    if (is_near_neutral_inside(cone, target / levels.target_peak, 1.0 / threshold, bend)) return untouched;
    vec3 cone_root = cube_root(cone);
    float lightness = dot(LIGHTNESS_WEIGHTS, cone_root);
    vec3 chroma = cone_root - lightness;
    ChromaCubic cubic = chroma_cubic(min(lightness, 1.0), chroma, volume);
    float limit = 1.0 / threshold;
    if (is_surely_inside(cubic, limit) && lightness <= 1.0) return untouched;
    float edge = limit;
    ChromaCubic room = cubic;
    for (int side = 0; side < 2; ++side) {  // written once, so that less is to be compiled
        edge = min(edge, least_of(crossing(room, limit)));
        room = white_room(cubic);
    }
    edge = max(edge, 1e-6);
    if (edge >= limit && lightness <= 1.0) return untouched;
    float scale = edge * (1.0 - remaining_room(1.0 / edge, reach, threshold));
    return levels.target_peak * clamp(value(cubic, vec3(scale)), 0.0, 1.0);
}
