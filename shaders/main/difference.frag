// The colour difference of two tiles, pixel by pixel as they are shown, in the colours of a table from 0 to the top.
// Each is a signal with the display that shows it, or light as it is (the master).
#include "lib/difference.glsl"
#include "lib/shown.glsl"

uniform sampler2D first_picture, second_picture;
uniform Shown first, second;
uniform int first_stride, second_stride, stride;  // pixels of the tile a pixel of each, and of the result
uniform sampler2D heat;  // one row: the colours as the interface's signal
uniform float top;       // Delta E ITP of the last colour

out vec4 result;  // alpha: 1 inside the picture

vec4 at(sampler2D picture, ivec2 pixel)
{
    return texelFetch(picture, min(pixel, textureSize(picture, 0) - 1), 0);
}

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy) * stride + stride / 2;
    vec4 one = at(first_picture, pixel / first_stride);
    vec4 other = at(second_picture, pixel / second_stride);
    float difference = delta_e_itp(light_of(one.rgb, first), light_of(other.rgb, second));
    int last = textureSize(heat, 0).x - 1;
    int index = int(clamp(difference / top, 0.0, 1.0) * float(last) + 0.5);
    result = vec4(texelFetch(heat, ivec2(index, 0), 0).rgb, one.a * other.a);
}
