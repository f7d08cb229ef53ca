// Fragment main: one pixel of the master to one pixel of the target's signal, or to its code values.
#include "lib/chain.glsl"
#include "lib/source.glsl"

#if RESULT_CODES
out uvec4 result;
#else
out vec4 result;
#endif

void main()
{
    vec3 light = source_light(ivec2(gl_FragCoord.xy));
    vec3 signal = light_to_target_signal(light);
#if RESULT_CODES
    result = uvec4(quantise(signal, code_scale, code_offset, top_code), 0u);
#else
    result = vec4(signal, 1.0);
#endif
}
