// Fragment main of a tile.
#include "lib/tile.glsl"

out vec4 result;

void main()
{
    result = tile_signal(ivec2(gl_FragCoord.xy));
}
