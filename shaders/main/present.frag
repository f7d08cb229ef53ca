// A tile onto the page, pixel by pixel: its signal as it is where it is made for a screen like the monitor, else the
// light that its own display makes of it, as the monitor's signal. The surround where the picture is not.
// Of two tiles with a line between them, each is drawn on its own side of it.
// A tile that was drawn quickly has fewer pixels than the window: each covers some.
// The signal is rounded to the framebuffer's steps here: the software rasteriser does not round to the nearest itself.
#include "lib/monitor.glsl"
#include "lib/shown.glsl"

uniform sampler2D tile;
uniform ivec2 corner;  // of the tile in the window, lower left
uniform int rows;      // of the window's pixels under the tile; its first row is the upper one
uniform int stride;    // of them a pixel of the tile
uniform ivec2 texels;  // of the tile, across and down
uniform vec3 surround;  // the monitor's signal
uniform vec3 side;      // pixels of the tile, from the upper left, with side.x x + side.y y >= side.z are drawn
uniform float top_code;  // of the framebuffer: 255 or 1023
uniform Encoding shown;  // in SHOWN_TRANSFER; PASSES: the signal goes out as it is
uniform float gain;      // on the tile's light
uniform Monitor monitor;

out vec4 result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy) - corner;
    pixel.y = rows - 1 - pixel.y;
    if (dot(side.xy, vec2(pixel) + 0.5) < side.z) discard;
    vec4 signal = texelFetch(tile, min(pixel / stride, texels - 1), 0);
    vec3 out_signal = surround;
    if (signal.a > 0.5) {
#if PASSES
        out_signal = signal.rgb;
#else
        vec3 light = light_of(signal.rgb, Shown(false, SHOWN_TRANSFER, shown));
        out_signal = monitor_signal(gain * light, monitor);
#endif
    }
    result = vec4(floor(clamp(out_signal, 0.0, 1.0) * top_code + 0.5) / top_code, 1.0);
}
