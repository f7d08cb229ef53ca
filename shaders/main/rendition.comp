// Compute main: the same as rendition.frag, for GL 4.3 and newer; code values in one go to three texels in a row, as in
// memory.
#include "lib/chain.glsl"
#include "lib/source.glsl"

layout(local_size_x = 8, local_size_y = 8) in;

#if RESULT_FORM == 0
layout(rgba32f, binding = 0) uniform writeonly image2D result;
#elif RESULT_FORM == 1
layout(r16ui, binding = 0) uniform writeonly uimage2D result;
#elif RESULT_FORM == 2
layout(r32ui, binding = 0) uniform writeonly uimage2D result;
#elif RESULT_FORM == 3
layout(r16ui, binding = 0) uniform writeonly uimage2D red;
layout(r16ui, binding = 1) uniform writeonly uimage2D green;
layout(r16ui, binding = 2) uniform writeonly uimage2D blue;
#else
layout(r16ui, binding = 0) uniform writeonly uimage2D luma;
layout(rg32f, binding = 1) uniform writeonly image2D chroma;
uniform Coding result_coding;
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
#elif RESULT_FORM == 4
    vec3 coded = luma_and_chroma(signal, result_coding.weights);
    vec2 scale = result_coding.luma_scale;
    imageStore(luma, pixel, uvec4(quantise(vec3(coded.r), scale.x, scale.y, top_code), 0.0));
    imageStore(chroma, pixel, vec4(coded.gb, 0.0, 0.0));
#else
    uvec3 codes = uvec3(quantise(signal, code_scale, code_offset, top_code));
#if RESULT_FORM == 1
    for (int channel = 0; channel < 3; ++channel)
        imageStore(result, ivec2(3 * pixel.x + channel, pixel.y), uvec4(codes[channel]));
#elif RESULT_FORM == 2
    imageStore(result, pixel, uvec4(word_of(codes)));
#else
    imageStore(red, pixel, uvec4(codes.r));
    imageStore(green, pixel, uvec4(codes.g));
    imageStore(blue, pixel, uvec4(codes.b));
#endif
#endif
}
