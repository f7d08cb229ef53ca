// A rendition on its tile: light of the view to the target's signal, on the steps of the target's code values.
#include "lib/chain.glsl"

uniform sampler2D view_light;
uniform ivec2 first;  // texel of the light for the first pixel drawn
uniform bool has_codes;

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    vec4 light = texelFetch(view_light, ivec2(gl_FragCoord.xy) + first, 0);
    vec3 signal = light_to_target_signal(light.rgb);
    if (has_codes) signal = expand(quantise(signal, code_scale, code_offset, top_code), code_scale, code_offset);
    result = vec4(signal, light.a);
}
