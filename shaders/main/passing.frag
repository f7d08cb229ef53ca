// What a tile below 1:1 shows of a frame that passes, as light: quickly, from four samples under each of its pixels.
// Their signal is averaged and then decoded once; view.frag, for a frame that stays, is the mean of all light there.
#include "lib/encoding.glsl"
#include "lib/signal_range.glsl"
#include "generated/source.glsl"
#include "lib/source.glsl"

uniform vec2 picture_size;
uniform vec2 origin;       // tile pixel at which the picture's corner lies
uniform float zoom;        // tile pixels a picture pixel

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    vec2 middle = (gl_FragCoord.xy - origin) / zoom;
    if (any(lessThan(middle, vec2(0.0))) || any(greaterThanEqual(middle, picture_size))) {
        result = vec4(0.0);
        return;
    }
    vec3 sum = vec3(0.0);
    for (int i = 0; i < 4; ++i) {
        vec2 at = middle + (vec2(i % 2, i / 2) - 0.5) * 0.5 / zoom;
        sum += source_signal(ivec2(clamp(at, vec2(0.0), picture_size - 1.0)));
    }
    result = vec4(decode(0.25 * sum, SOURCE_TRANSFER, source), 1.0);
}
