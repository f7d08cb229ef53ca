// The master's samples to light, once a frame: all tiles start from the result.
// With a texel of one pixel that pixel; with a larger one, quickly, the light of the mean signal of four pixels in it.
#include "lib/encoding.glsl"
#include "lib/signal_range.glsl"
#include "generated/source.glsl"
#include "lib/source.glsl"

uniform int texel;           // picture pixels a side of a pixel of the result: 1, 2, 4, ...
uniform ivec2 picture_size;

out vec4 result;

void main()
{
    ivec2 corner = texel * ivec2(gl_FragCoord.xy) + texel / 4;
    int count = min(texel, 2);
    vec3 sum = vec3(0.0);
    for (int i = 0; i < count * count; ++i) {
        ivec2 pixel = corner + (texel / 2) * ivec2(i % 2, i / 2);
        sum += source_signal(min(pixel, picture_size - 1));
    }
    result = vec4(decode(sum / float(count * count), SOURCE_TRANSFER, source), 1.0);
}
