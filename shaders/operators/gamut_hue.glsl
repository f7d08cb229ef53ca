// Pair of tonemap/operators/gamut_hue.py.
// BT.2020 light in, light in the target's primaries out, each channel within 0..peak.
#include "lib/colorimetry.glsl"
#include "lib/gamut.glsl"
#include "lib/levels.glsl"

const int GAMUT_HUE_ROUNDS = 8;
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

vec3 value(ChromaCubic cubic, float s) { return cubic.c0 + s * (cubic.c1 + s * (cubic.c2 + s * cubic.c3)); }

// How far a colour is inside the target's volume: the least share of the peak to either end.
float margin(ChromaCubic cubic, float scale)
{
    vec3 relative = value(cubic, scale);
    vec3 least = min(relative, 1.0 - relative);
    return min(min(least.r, least.g), least.b);
}

// The chroma scale at which a colour meets the boundary, by halving and false position.
float boundary(ChromaCubic cubic, float limit)
{
    float low = 0.0;
    float high = limit;
    float at_low = margin(cubic, low);
    float at_high = margin(cubic, high);
    for (int look = 0; look < 2 * GAMUT_HUE_ROUNDS; ++look) {
        float share = look % 2 == 0 ? 0.5 : at_low / max(at_low - at_high, 1e-12);
        float scale = low + (high - low) * share;
        float at_scale = margin(cubic, scale);
        bool is_out = at_scale < 0.0;
        low = is_out ? low : scale;
        at_low = is_out ? at_low : at_scale;
        high = is_out ? scale : high;
        at_high = is_out ? at_scale : at_high;
    }
    return low + (high - low) * clamp(at_low / max(at_low - at_high, 1e-12), 0.0, 1.0);
}

vec3 compressed(ChromaCubic cubic, float threshold, float reach)
{
    float edge = max(boundary(cubic, 1.0 / threshold), 1e-6);
    float back = edge * remaining_room(1.0 / edge, reach, threshold);
    float scale = edge - back;
    vec3 at_edge = value(cubic, edge);
    float least = min(min(at_edge.r, at_edge.g), at_edge.b);
    float most = max(max(at_edge.r, at_edge.g), at_edge.b);
    bvec3 vanishes = bvec3(ivec3(equal(at_edge, vec3(least))) * int(least < 1.0 - most));
    // A channel that is 0 at the edge is (edge - scale) times the quotient of its cubic by that factor.
    vec3 quotient = cubic.c1 + edge * (cubic.c2 + edge * cubic.c3)
                  + scale * ((cubic.c2 + edge * cubic.c3) + scale * cubic.c3);
    return mix(value(cubic, scale), -back * quotient, vanishes);
}

vec3 gamut_hue(vec3 light, Levels levels, Volume volume, float threshold, float reach)
{
    vec3 cone_root = power(max(convert(light, CONE_FROM_BT2020) / levels.target_peak, 0.0), 1.0 / 3.0);
    float lightness = dot(LIGHTNESS_WEIGHTS, cone_root);
    vec3 chroma = cone_root - lightness;
    ChromaCubic cubic = chroma_cubic(min(lightness, 1.0), chroma, volume);
    bool untouched = margin(cubic, 1.0 / threshold) >= 0.0 && lightness <= 1.0;
    if (untouched) return clamp(convert(light, volume.to_target), 0.0, levels.target_peak);
    return levels.target_peak * clamp(compressed(cubic, threshold, reach), 0.0, 1.0);
}
