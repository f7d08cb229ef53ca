// Compute main of decode.frag, for GL 4.3 and newer.
#include "lib/encoding.glsl"
#include "lib/signal_range.glsl"
#include "generated/source.glsl"
#include "lib/source.glsl"

layout(local_size_x = 8, local_size_y = 8) in;
layout(rgba32f, binding = 0) uniform writeonly image2D result;

uniform ivec2 corner, size;  // pixels from corner up to size are decoded

void main()
{
    ivec2 pixel = corner + ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size))) return;
    imageStore(result, pixel, vec4(decode(source_signal(pixel), SOURCE_TRANSFER, source), 1.0));
}
