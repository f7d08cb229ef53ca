// Fragment main: one pixel of the master to one pixel of what is asked for of the target, as RESULT_FORM says: 0 its
// signal, 1 its code values, 2 these in one word, 3 these in three planes, 4 Y' as a code value, with Cb and Cr for
// chroma.frag.
#include "lib/chain.glsl"
#include "lib/source.glsl"

#if RESULT_FORM == 0
out vec4 result;
#elif RESULT_FORM == 1
out uvec4 result;
#elif RESULT_FORM == 2
out uint result;
#elif RESULT_FORM == 3
layout(location = 0) out uint red;
layout(location = 1) out uint green;
layout(location = 2) out uint blue;
#else
layout(location = 0) out uint luma;
layout(location = 1) out vec2 chroma;
uniform Coding result_coding;
#endif

void main()
{
    vec3 light = source_light(ivec2(gl_FragCoord.xy));
    vec3 signal = light_to_target_signal(light);
#if RESULT_FORM == 0
    result = vec4(signal, 1.0);
#elif RESULT_FORM == 4
    vec3 coded = luma_and_chroma(signal, result_coding.weights);
    vec2 scale = result_coding.luma_scale;
    luma = uint(quantise(vec3(coded.r), scale.x, scale.y, top_code).r);
    chroma = coded.gb;
#else
    uvec3 codes = uvec3(quantise(signal, code_scale, code_offset, top_code));
#if RESULT_FORM == 1
    result = uvec4(codes, 0u);
#elif RESULT_FORM == 2
    result = word_of(codes);
#else
    red = codes.r;
    green = codes.g;
    blue = codes.b;
#endif
#endif
}
