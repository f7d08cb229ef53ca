// Compute main: the same as rendition.frag, for GL 4.3 and newer.
#include "lib/chain.glsl"
#include "lib/source.glsl"

layout(local_size_x = 16, local_size_y = 16) in;

#if RESULT_CODES
layout(rgba16ui, binding = 0) uniform writeonly uimage2D result;
#else
layout(rgba32f, binding = 0) uniform writeonly image2D result;
#endif

uniform ivec2 size;

void main()
{
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size))) return;
    vec3 light = source_light(pixel);
    vec3 signal = light_to_target_signal(light);
#if RESULT_CODES
    imageStore(result, pixel, uvec4(quantise(signal, code_scale, code_offset, top_code), 0u));
#else
    imageStore(result, pixel, vec4(signal, 1.0));
#endif
}
