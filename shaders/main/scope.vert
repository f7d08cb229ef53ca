// Vertex main of a scope's counts where there is no compute: one point a sample and channel, onto its cell.
// With scope.frag and additive blending into floats the counts are exact up to 2^24.
#include "lib/scopes.glsl"

uniform ivec2 cells_size;

void main()
{
    ivec2 cells[4];
    cells_of(ivec2(gl_VertexID % samples.x, gl_VertexID / samples.x), cells);
    ivec2 cell = cells[gl_InstanceID];
    vec2 place = (vec2(cell) + 0.5) / vec2(cells_size) * 2.0 - 1.0;
    gl_Position = cell.x < 0 ? vec4(2.0, 2.0, 0.0, 1.0) : vec4(place, 0.0, 1.0);
    gl_PointSize = 1.0;
}
