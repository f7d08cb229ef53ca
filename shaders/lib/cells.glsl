// No pair: the mean count of the cells under a pixel of a plot, by which a trace is drawn.
// Counts and the middle of a pixel and half its size in cells in, counts a cell out. A pixel reaches one cell farther
// than its own edges, fading, so that the gaps between code values don't show as stripes.
#include "generated/counts.glsl"

float reach(float from, float half_width, int cell)
{
    return clamp(half_width + 1.0 - abs(float(cell) + 0.5 - from), 0.0, 1.0);
}

float mean_count(COUNTS counts, vec2 middle, vec2 half_size, ivec2 first, ivec2 end)
{
    ivec2 low = max(ivec2(floor(middle - half_size - 1.0)), ivec2(0));
    ivec2 high = min(ivec2(ceil(middle + half_size + 1.0)), end - first);
    float sum = 0.0;
    for (int y = low.y; y < high.y; ++y) {
        float row = reach(middle.y, half_size.y, y);
        for (int x = low.x; x < high.x; ++x) {
            sum += row * reach(middle.x, half_size.x, x) * float(texelFetch(counts, first + ivec2(x, y), 0).r);
        }
    }
    return sum / ((2.0 * half_size.x + 1.0) * (2.0 * half_size.y + 1.0));
}
