// Cb and Cr of every pixel to the code values of one sample of chroma; pair of tonemap/media/coded_planes.py.
#include "generated/coding.glsl"
#include "lib/signal_range.glsl"

uniform sampler2D chroma;
uniform ivec2 size;  // of the picture
uniform vec2 chroma_scale;
uniform float top_code;

layout(location = 0) out uint blue;
layout(location = 1) out uint red;

vec2 at(ivec2 pixel) { return texelFetch(chroma, clamp(pixel, ivec2(0), size - 1), 0).rg; }

// STEPS are the columns and rows of luma for a sample of chroma, PLACE is where the first lies. A sample on one of luma
// is filtered by (1 2 1) / 4, one between two by (1 1) / 2.
vec2 across(ivec2 pixel)
{
    if (STEPS.x == 1) return at(pixel);
    if (fract(PLACE.x) > 0.0) return 0.5 * (at(pixel) + at(pixel + ivec2(1, 0)));
    return 0.5 * at(pixel) + 0.25 * (at(pixel - ivec2(1, 0)) + at(pixel + ivec2(1, 0)));
}

vec2 filtered(ivec2 pixel)
{
    if (STEPS.y == 1) return across(pixel);
    if (fract(PLACE.y) > 0.0) return 0.5 * (across(pixel) + across(pixel + ivec2(0, 1)));
    return 0.5 * across(pixel) + 0.25 * (across(pixel - ivec2(0, 1)) + across(pixel + ivec2(0, 1)));
}

void main()
{
    vec2 signal = filtered(STEPS * ivec2(gl_FragCoord.xy) + ivec2(PLACE));
    vec3 codes = quantise(vec3(signal, 0.0), chroma_scale.x, chroma_scale.y, top_code);
    blue = uint(codes.r);
    red = uint(codes.g);
}
