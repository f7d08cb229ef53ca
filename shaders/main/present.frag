// A tile onto the window: its signal as it is, pixel by pixel, with the surround where the picture is not.
uniform sampler2D tile;
uniform ivec2 corner;  // of the tile in the window, lower left
uniform int rows;      // of the tile; its first row is the upper one
uniform vec3 surround;

out vec4 result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy) - corner;
    vec4 signal = texelFetch(tile, ivec2(pixel.x, rows - 1 - pixel.y), 0);
    result = vec4(signal.a > 0.5 ? signal.rgb : surround, 1.0);
}
