// The master on the tile of an SDR screen: light up to the window's nits, relative to them, clipped above and beyond the
// screen's primaries. With a window of the screen's own white, light is shown as it is.
#include "lib/encoding.glsl"
#include "lib/grid.glsl"

uniform sampler2D view_light;
uniform mat3 to_screen;  // BT.2020 to the screen's primaries
uniform float window;    // cd/m2 that the screen's white stands for
uniform Display screen;  // BT.1886

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    vec4 light = texelFetch(view_light, texel_of(ivec2(gl_FragCoord.xy), textureSize(view_light, 0)), 0);
    vec3 shown = clamp(convert(light.rgb, to_screen) / window, 0.0, 1.0) * screen.peak;
    result = vec4(encode(shown, BT1886, screen), light.a);
}
