// The master's samples at one pixel of the source textures, as a normalised signal or linear values, and as light.
// SOURCE_CODES says whether they are integer code values. SOURCE_PLANES is 0 for R, G and B in one texture, 1 for Y' and a
// texture of Cb and Cr, 2 for planes of R', G' and B'. SOURCE_IS_NEAR says whether chroma may be that of the nearest sample,
// SOURCE_IS_BT2020 whether codes need no other primaries. SOURCE_LAYOUT says how code values in one texture lie: 0 in a
// texel's channels, 1 in three texels in a row, 2 in one word. SOURCE_TABLE is the number of codes whose light is in
// source_table, 0 for none.
#include "lib/encoding.glsl"
#include "lib/planes.glsl"

#if SOURCE_CODES
uniform usampler2D source_texture;
#else
uniform sampler2D source_texture;
#endif
#if SOURCE_PLANES
uniform usampler2D source_second, source_third;
uniform Coding source_coding;
#endif

#if SOURCE_TABLE
layout(std140) uniform Source_light { float source_table[SOURCE_TABLE]; };  // in the master's own primaries
#endif

#if SOURCE_CODES && SOURCE_PLANES == 0
uvec3 source_codes(ivec2 pixel)
{
#if SOURCE_LAYOUT == 2
    return codes_of(texelFetch(source_texture, pixel, 0).r);
#elif SOURCE_LAYOUT == 1
    ivec2 first = ivec2(3 * pixel.x, pixel.y);
    return uvec3(texelFetch(source_texture, first, 0).r, texelFetch(source_texture, first + ivec2(1, 0), 0).r,
                 texelFetch(source_texture, first + ivec2(2, 0), 0).r);
#else
    return texelFetch(source_texture, pixel, 0).rgb;
#endif
}
#endif

vec3 source_signal(ivec2 pixel)
{
#if SOURCE_PLANES == 1 && SOURCE_IS_NEAR
    return near_planes_signal(source_texture, source_second, pixel, source_coding);
#elif SOURCE_PLANES == 1
    return planes_signal(source_texture, source_second, pixel, source_coding);
#elif SOURCE_PLANES == 2
    uint second = texelFetch(source_second, pixel, 0).r;
    uint third = texelFetch(source_third, pixel, 0).r;
    return expand(vec3(texelFetch(source_texture, pixel, 0).r, second, third), source_scale, source_offset);
#elif SOURCE_CODES
    return expand(vec3(source_codes(pixel)), source_scale, source_offset);
#else
    return texelFetch(source_texture, pixel, 0).rgb;
#endif
}

// BT.2020 light in cd/m2. What codes stand for is finite.
vec3 source_light(ivec2 pixel)
{
#if SOURCE_TABLE
    uvec3 codes = min(source_codes(pixel), uint(SOURCE_TABLE - 1));
    vec3 light = vec3(source_table[codes.r], source_table[codes.g], source_table[codes.b]);
#elif SOURCE_CODES
    vec3 light = signal_to_light(source_signal(pixel), SOURCE_TRANSFER, source.display);
#endif
#if SOURCE_CODES && SOURCE_IS_BT2020
    return clamp(light, 0.0, LIGHT_CEILING);
#elif SOURCE_CODES
    return in_bt2020(light, source);
#else
    return decode(source_signal(pixel), SOURCE_TRANSFER, source);
#endif
}
