// One pixel of the master's samples to light, once a frame: all tiles start from the result.
#include "lib/encoding.glsl"
#include "lib/signal_range.glsl"
#include "generated/source.glsl"
#include "lib/source.glsl"

out vec4 result;

void main()
{
    result = vec4(decode(source_signal(ivec2(gl_FragCoord.xy)), SOURCE_TRANSFER, source), 1.0);
}
