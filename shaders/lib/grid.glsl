// No pair: every n-th texel of a picture, for what is drawn quickly or counted on a sample.
// A pixel of the result in, the texel that it is drawn from out.

uniform ivec2 first;   // texel for the first pixel
uniform int stride;    // texels a pixel
uniform ivec2 texels;  // of the picture, across and down: its texture may have more

ivec2 texel_of(ivec2 pixel)
{
    return min(first + stride * pixel, texels - 1);
}
