// What a tile shows of the master, as light: one pixel of the tile from one level of the light pyramid.
// At 1:1 and above the pixel under the middle, untouched. Below, the mean of light over the pixel's own area: from a
// level whose texels are at most half as large, each weighed by how much of it lies inside. A texel is itself an exact
// mean, so only where the area's edge cuts one (below 1:4; above, the level is the picture) is the mean not exact.
// The master's light is averaged, before the operators: quick, for while a hand moves; average.frag is exact.
#include "lib/averaging.glsl"

uniform sampler2D light;   // the level
uniform ivec2 level_size;  // in texels
uniform float texel;       // picture pixels a side of a texel: 1, 2, 4, ...
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
    if (zoom >= 1.0) {
        result = vec4(texelFetch(light, ivec2(middle), 0).rgb, 1.0);
        return;
    }
    vec2 low = max(middle - 0.5 / zoom, vec2(0.0));
    vec2 high = min(middle + 0.5 / zoom, picture_size);
    ivec2 first = ivec2(low / texel);
    ivec2 last = min(ivec2(high / texel), level_size - 1);
    vec3 sum = vec3(0.0);
    float weight = 0.0;
    for (int y = first.y; y <= last.y; ++y) {
        float height = covered(low.y, high.y, y, texel, picture_size.y);
        for (int x = first.x; x <= last.x; ++x) {
            float area = height * covered(low.x, high.x, x, texel, picture_size.x);
            sum += area * texelFetch(light, ivec2(x, y), 0).rgb;
            weight += area;
        }
    }
    result = vec4(sum / weight, 1.0);
}
