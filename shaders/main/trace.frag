// The trace of a scope in its plot: the more pixels fall there, the brighter. Colours are the interface's codes.
// The channels of a picture add as light. A second picture lies under the first, in one colour for all its channels:
// where the first is dense it hides the second.
#include "lib/cells.glsl"

uniform COUNTS first_counts, second_counts;
uniform bool has_second;
uniform vec4 window;      // cells at the plot's left, right, bottom and top edge
uniform ivec2 size;       // of the plot in pixels
uniform int panels;       // side by side, one channel each
uniform int layers;       // channels that lie over each other in a panel
uniform int columns;      // of a waveform, one to a pixel or more; 0 for a plane
uniform int bins;
uniform vec2 strength;    // of a count a cell, for each picture
uniform float power;
uniform vec3 ground;
uniform vec3 first_colours[3], second_colour;

out vec4 result;

float density(COUNTS counts, ivec2 pixel, int panel, int width, int channel)
{
    vec2 cells = vec2(window.y - window.x, window.w - window.z) / vec2(width, size.y);
    vec2 middle = window.xz + (vec2(pixel) + 0.5) * cells;
    ivec2 first = ivec2(0, channel * bins), end = ivec2(bins, (channel + 1) * bins);
    if (columns > 0) {
        int column = pixel.x * columns / width;
        return mean_count(counts, vec2(0.5, middle.y), vec2(-0.0, 0.5 * cells.y), ivec2(column, first.y),
                          ivec2(column + 1, end.y));
    }
    return mean_count(counts, middle, 0.5 * cells, first, end);
}

void main()
{
    ivec2 pixel = ivec2(gl_FragCoord.xy);
    int width = max(size.x / panels, 1);
    int panel = min(pixel.x / width, panels - 1);
    pixel.x = min(pixel.x - panel * width, width - 1);
    vec3 sum = vec3(0.0);
    float over = 0.0, under = 0.0;
    for (int i = 0; i < layers; ++i) {
        int channel = panel + i;
        float first = pow(min(density(first_counts, pixel, panel, width, channel) * strength.x, 1.0), power);
        sum += first * max(first_colours[channel] - ground, 0.0);
        over = max(over, first);
        if (has_second) {
            float second = density(second_counts, pixel, panel, width, channel) * strength.y;
            under = max(under, pow(min(second, 1.0), power));
        }
    }
    sum += (1.0 - over) * under * max(second_colour - ground, 0.0);
    result = vec4(min(ground + sum, 1.0), 1.0);
}
