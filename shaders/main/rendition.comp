// Compute main: the same as rendition.frag, for GL 4.3 and newer and for what is no planes; code values go to three texels
// in a row, as in memory.
#include "lib/chain.glsl"
#include "lib/source.glsl"

layout(local_size_x = 8, local_size_y = 8) in;

#if RESULT_FORM == 0
layout(rgba32f, binding = 0) uniform writeonly image2D result;
#elif RESULT_FORM == 1
layout(r16ui, binding = 0) uniform writeonly uimage2D result;
#else
layout(r32ui, binding = 0) uniform writeonly uimage2D result;
#endif

uniform ivec2 size;

void main()
{
    ivec2 pixel = ivec2(gl_GlobalInvocationID.xy);
    if (any(greaterThanEqual(pixel, size))) return;
    vec3 light = source_light(pixel);
    vec3 signal = light_to_target_signal(light);
#if RESULT_FORM == 0
    imageStore(result, pixel, vec4(signal, 1.0));
#else
    uvec3 codes = uvec3(quantise(signal, code_scale, code_offset, top_code));
#if RESULT_FORM == 1
    for (int channel = 0; channel < 3; ++channel)
        imageStore(result, ivec2(3 * pixel.x + channel, pixel.y), uvec4(codes[channel]));
#else
    imageStore(result, pixel, uvec4(word_of(codes)));
#endif
#endif
}
