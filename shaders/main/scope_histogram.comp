// Compute main of a histogram's counts, for cards: a group counts in its shared memory, and adds that to the counts once.
// A software rasteriser takes scope.comp, for it waits at every barrier for each invocation by itself.
#include "lib/scopes.glsl"

layout(local_size_x = 16, local_size_y = 16) in;
layout(r32ui, binding = 0) uniform uimage2D counts;

const int RUN = 32;  // samples that one invocation counts, one below the other
const int BINS = 1024;
const int CELLS = 4 * BINS;

shared uint group_counts[CELLS];

void main()
{
    const int MEMBERS = int(gl_WorkGroupSize.x * gl_WorkGroupSize.y);
    int member = int(gl_LocalInvocationIndex);
    for (int cell = member; cell < CELLS; cell += MEMBERS) group_counts[cell] = 0u;
    barrier();
    ivec2 index = ivec2(gl_GlobalInvocationID.xy) * ivec2(1, RUN);
    int end = index.x < samples.x ? min(index.y + RUN, samples.y) : index.y;
    for (; index.y < end; ++index.y) {
        ivec2 cells[4];
        cells_of(index, cells);
        for (int i = 0; i < channels; ++i) {
            if (cells[i].x >= 0) atomicAdd(group_counts[cells[i].y * BINS + cells[i].x], 1u);
        }
    }
    barrier();
    for (int cell = member; cell < CELLS; cell += MEMBERS) {
        if (group_counts[cell] > 0u) imageAtomicAdd(counts, ivec2(cell % BINS, cell / BINS), group_counts[cell]);
    }
}
