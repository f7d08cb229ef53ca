// Light of every n-th pixel of the master's samples, for what is counted of a frame that passes.
#include "lib/encoding.glsl"
#include "lib/grid.glsl"
#include "lib/signal_range.glsl"
#include "generated/source.glsl"
#include "lib/source.glsl"

out vec4 result;

void main()
{
    vec3 signal = source_signal(texel_of(ivec2(gl_FragCoord.xy)));
    result = vec4(decode(signal, SOURCE_TRANSFER, source), 1.0);
}
