// A histogram in its plot, from its heights: luminance filled and as a line, R, G and B as lines; of a second picture
// that lies over it, luminance as a line. Colours are the interface's codes.
uniform sampler2D heights;  // rows R, G, B, Y of each picture
uniform ivec2 size;         // of the plot in pixels
uniform float line;         // width of the lines in pixels
uniform bool has_second;
uniform vec3 ground, filled;
uniform vec3 colours[8];    // of the lines

out vec4 result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    float y = float(pixel.y) + 0.5;
    vec3 shown = y < texelFetch(heights, ivec2(pixel.x, 3), 0).r * float(size.y) ? filled : ground;
    for (int row = 0; row < 8; ++row) {
        if (row >= 4 && !(has_second && row == 7)) continue;
        float here = texelFetch(heights, ivec2(pixel.x, row), 0).r * float(size.y);
        float before = texelFetch(heights, ivec2(max(pixel.x - 1, 0), row), 0).r * float(size.y);
        float low = min(here, before) - line, high = max(here, before);
        if (y > low && y <= high && high > 0.0) shown = max(shown, colours[row]);
    }
    result = vec4(shown, 1.0);
}
