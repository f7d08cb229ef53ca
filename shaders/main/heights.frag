// Heights of a histogram, 0..1, a column a pixel of its plot: rows R, G, B, Y of the first picture, then of the second.
// The axis is logarithmic: decades of the share of the pixels that fall into a cell.
#include "lib/cells.glsl"

uniform COUNTS first_counts, second_counts;
uniform bool has_second;
uniform vec2 window;   // cells at the plot's left and right edge
uniform int width;     // of the plot in pixels
uniform int bins;
uniform vec2 share;    // of the pixels, of a count, for each picture
uniform float decades;

out float result;

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    float cells = (window.y - window.x) / float(width);
    vec2 middle = vec2(window.x + (float(pixel.x) + 0.5) * cells, 0.5);
    int row = pixel.y % 4;
    bool is_second = pixel.y >= 4;
    if (is_second && !has_second) {
        result = 0.0;
        return;
    }
    ivec2 first = ivec2(0, row), end = ivec2(bins, row + 1);
    vec2 half_size = vec2(0.5 * cells, 0.0);
    float count = is_second ? share.y * mean_count(second_counts, middle, half_size, first, end)
                            : share.x * mean_count(first_counts, middle, half_size, first, end);
    result = count > 0.0 ? clamp(1.0 + log2(count) / log2(10.0) / decades, 0.0, 1.0) : 0.0;
}
