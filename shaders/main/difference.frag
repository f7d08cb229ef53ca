// The colour difference of two tiles, pixel by pixel as they are shown, in the colours of a table from 0 to the top.
// Each is a signal with the display that shows it, or light as it is (the master).
#include "lib/difference.glsl"
#include "lib/shown.glsl"

uniform sampler2D first_picture, second_picture;
uniform Shown first, second;
uniform sampler2D heat;  // one row: the colours as the screen's signal
uniform float top;       // Delta E ITP of the last colour

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    vec4 one = texelFetch(first_picture, pixel, 0);
    vec4 other = texelFetch(second_picture, pixel, 0);
    float difference = delta_e_itp(light_of(one.rgb, first), light_of(other.rgb, second));
    int last = textureSize(heat, 0).x - 1;
    int index = int(clamp(difference / top, 0.0, 1.0) * float(last) + 0.5);
    result = vec4(texelFetch(heat, ivec2(index, 0), 0).rgb, one.a * other.a);
}
