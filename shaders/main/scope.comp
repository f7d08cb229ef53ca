// Compute main of a scope's counts, for GL 4.3 and newer. Equal cells that follow each other are added at once, so that
// flat parts of a picture don't wait for one another.
#include "lib/scopes.glsl"

layout(local_size_x = 16, local_size_y = 16) in;
layout(r32ui, binding = 0) uniform uimage2D counts;

const int RUN = 8;  // samples that one invocation counts, one below the other

void main()
{
    ivec2 index = ivec2(gl_GlobalInvocationID.xy) * ivec2(1, RUN);
    if (index.x >= samples.x) return;
    ivec2 last[4] = ivec2[4](NOWHERE, NOWHERE, NOWHERE, NOWHERE);
    uint number[4] = uint[4](0u, 0u, 0u, 0u);
    int end = min(index.y + RUN, samples.y);
    for (; index.y < end; ++index.y) {
        ivec2 cells[4];
        cells_of(index, cells);
        for (int i = 0; i < channels; ++i) {
            if (cells[i] != last[i]) {
                if (last[i].x >= 0) imageAtomicAdd(counts, last[i], number[i]);
                last[i] = cells[i];
                number[i] = 0u;
            }
            ++number[i];
        }
    }
    for (int i = 0; i < channels; ++i) {
        if (last[i].x >= 0) imageAtomicAdd(counts, last[i], number[i]);
    }
}
