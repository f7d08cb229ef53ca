// No pair: a rendition on its tile, light to the target's signal on the steps of the target's code values.
// A pixel of the result in, signal out, alpha 1 inside the picture; both mains of a tile call it.
#include "lib/chain.glsl"
#include "lib/grid.glsl"

uniform sampler2D view_light;
uniform bool has_codes;

vec4 tile_signal(ivec2 pixel)
{
    vec4 light = texelFetch(view_light, texel_of(pixel), 0);
    vec3 signal = light_to_target_signal(light.rgb);
    if (has_codes) signal = expand(quantise(signal, code_scale, code_offset, top_code), code_scale, code_offset);
    return vec4(signal, light.a);
}
