// The master's samples at one pixel of the source texture, as a normalised signal or linear values.
// SOURCE_CODES says whether the texture holds integer code values.

#if SOURCE_CODES
uniform usampler2D source_texture;
#else
uniform sampler2D source_texture;
#endif

vec3 source_signal(ivec2 pixel)
{
#if SOURCE_CODES
    return expand(vec3(texelFetch(source_texture, pixel, 0).rgb), source_scale, source_offset);
#else
    return texelFetch(source_texture, pixel, 0).rgb;
#endif
}
