// Some rows of a tile below 1:1: the mean of the display light of what is shown, over each pixel's own area.
// The signal of every picture pixel under the rows is in a texture; the mean is exact, edges that cut a pixel included.
#include "generated/constants.glsl"
#include "lib/averaging.glsl"
#include "lib/encoding.glsl"

uniform sampler2D signal;
uniform ivec2 first;       // picture pixel of the texture's first texel
uniform ivec2 texels;      // of the signal, across and down
uniform vec2 picture_size;
uniform vec2 origin;       // tile pixel at which the picture's corner lies
uniform float zoom;        // tile pixels a picture pixel
uniform Display display;   // that shows the signal, in SHOWN_TRANSFER

out vec4 result;  // alpha: 1 inside the picture

void main()
{
    vec2 middle = (gl_FragCoord.xy - origin) / zoom;
    if (any(lessThan(middle, vec2(0.0))) || any(greaterThanEqual(middle, picture_size))) {
        result = vec4(0.0);
        return;
    }
    vec2 low = max(middle - 0.5 / zoom, vec2(0.0));
    vec2 high = min(middle + 0.5 / zoom, picture_size);
    ivec2 from = max(ivec2(low), first);
    ivec2 to = min(ivec2(high), first + texels - 1);
    vec3 sum = vec3(0.0);
    float weight = 0.0;
    for (int y = from.y; y <= to.y; ++y) {
        float height = covered(low.y, high.y, y, 1.0, picture_size.y);
        for (int x = from.x; x <= to.x; ++x) {
            float area = height * covered(low.x, high.x, x, 1.0, picture_size.x);
            if (area > 0.0) {
                sum += area * signal_to_light(texelFetch(signal, ivec2(x, y) - first, 0).rgb, SHOWN_TRANSFER, display);
                weight += area;
            }
        }
    }
    result = vec4(encode(sum / weight, SHOWN_TRANSFER, display), 1.0);
}
