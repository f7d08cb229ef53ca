// A tile onto the window: its signal as it is, pixel by pixel, with the surround where the picture is not.
// Of two tiles with a line between them, each is drawn on its own side of it.
// A tile that was drawn quickly has fewer pixels than the window: each covers some.
// The signal is rounded to the framebuffer's steps here: the software rasteriser does not round to the nearest itself.
uniform sampler2D tile;
uniform ivec2 corner;  // of the tile in the window, lower left
uniform int rows;      // of the window's pixels under the tile; its first row is the upper one
uniform int stride;    // of them a pixel of the tile
uniform vec3 surround;
uniform vec3 side;      // pixels of the tile, from the upper left, with side.x x + side.y y >= side.z are drawn
uniform float top_code;  // of the framebuffer: 255 or 1023

out vec4 result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy) - corner;
    pixel.y = rows - 1 - pixel.y;
    if (dot(side.xy, vec2(pixel) + 0.5) < side.z) discard;
    vec4 signal = texelFetch(tile, min(pixel / stride, textureSize(tile, 0) - 1), 0);
    vec3 shown = signal.a > 0.5 ? signal.rgb : surround;
    result = vec4(floor(clamp(shown, 0.0, 1.0) * top_code + 0.5) / top_code, 1.0);
}
