// The colour difference of two tiles, pixel by pixel as they are shown, in the colours of a table from 0 to the top.
// Each is a signal with the display that shows it, or light as it is (the master).
#include "generated/constants.glsl"
#include "lib/difference.glsl"
#include "lib/shown.glsl"

uniform sampler2D first_picture, second_picture;
uniform Encoding first, second;  // in FIRST_TRANSFER and SECOND_TRANSFER; FIRST_IS_LIGHT, SECOND_IS_LIGHT: light
uniform ivec2 first_texels, second_texels;        // of each, across and down
uniform int first_stride, second_stride, stride;  // pixels of the tile a pixel of each, and of the result
uniform sampler2D heat;  // one row: the colours as the interface's signal
uniform float top;       // Delta E ITP of the last colour

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy) * stride + stride / 2;
    vec4 one = texelFetch(first_picture, min(pixel / first_stride, first_texels - 1), 0);
    vec4 other = texelFetch(second_picture, min(pixel / second_stride, second_texels - 1), 0);
    vec3 light = light_of(one.rgb, Shown(bool(FIRST_IS_LIGHT), FIRST_TRANSFER, first));
    vec3 other_light = light_of(other.rgb, Shown(bool(SECOND_IS_LIGHT), SECOND_TRANSFER, second));
    float difference = delta_e_itp(light, other_light);
    int last = textureSize(heat, 0).x - 1;
    int index = int(clamp(difference / top, 0.0, 1.0) * float(last) + 0.5);
    result = vec4(texelFetch(heat, ivec2(index, 0), 0).rgb, one.a * other.a);
}
