// The master's samples at one pixel of the source textures, as a normalised signal or linear values.
// SOURCE_CODES says whether they are integer code values, SOURCE_PLANES how many textures they are in: none for R, G and
// B in one, else 1 for planes of Y', Cb and Cr, 2 for planes of R', G' and B'. SOURCE_IS_NEAR says whether chroma may be
// that of the nearest sample.
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

vec3 source_signal(ivec2 pixel)
{
#if SOURCE_PLANES == 1 && SOURCE_IS_NEAR
    return near_planes_signal(source_texture, source_second, source_third, pixel, source_coding);
#elif SOURCE_PLANES == 1
    return planes_signal(source_texture, source_second, source_third, pixel, source_coding);
#elif SOURCE_PLANES == 2
    uint second = texelFetch(source_second, pixel, 0).r;
    uint third = texelFetch(source_third, pixel, 0).r;
    return expand(vec3(texelFetch(source_texture, pixel, 0).r, second, third), source_scale, source_offset);
#elif SOURCE_CODES
    return expand(vec3(texelFetch(source_texture, pixel, 0).rgb), source_scale, source_offset);
#else
    return texelFetch(source_texture, pixel, 0).rgb;
#endif
}
