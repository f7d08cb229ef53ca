// Pair of tonemap/picture_colours.py: the mark of every pixel, as its colour in the interface's signal.
// A signal, or the master's light, in; a pixel without a mark stays grey, by its luminance.
#include "generated/constants.glsl"
#include "lib/grid.glsl"
#include "lib/shown.glsl"

const int LUMINANCE = 0;
const int GAMUT = 1;
const int CLIPPING = 2;
const int MONITOR = 3;

uniform sampler2D picture;
uniform Encoding shown;  // in SHOWN_TRANSFER; SHOWN_IS_LIGHT: what is coloured is light
uniform sampler2D marks;  // one row: colours as the interface's signal, negative for grey. A second row: where bands begin
uniform mat3 to_bt709, to_p3;
uniform float tolerance, floor_nits;
uniform mat3 to_own;   // BT.2020 to the picture's primaries
uniform mat3 to_monitor;  // BT.2020 to the monitor's primaries
uniform float most;    // cd/m2 of a channel from which it counts as above the monitor
uniform float limit;   // signal from which a channel counts as clipped
uniform float grey_level;
uniform Display screen;  // BT.1886

out vec4 result;

bool is_outside(vec3 light, mat3 to_gamut)
{
    vec3 own = convert(light, to_gamut);
    float largest = max(own.r, max(own.g, own.b));
    return max(light.r, max(light.g, light.b)) >= floor_nits && min(own.r, min(own.g, own.b)) < -tolerance * largest;
}

int mark_of(vec3 pixel, vec3 light)
{
    if (VIEW == LUMINANCE) {
        float nits = luminance(light);
        int mark = 0;
        for (int i = 1; i < textureSize(marks, 0).x; ++i) {
            if (nits >= texelFetch(marks, ivec2(i, 1), 0).r) mark = i;
        }
        return mark;
    }
    if (VIEW == GAMUT) return is_outside(light, to_p3) ? 2 : is_outside(light, to_bt709) ? 1 : 0;
    if (VIEW == MONITOR) {
        vec3 own = convert(light, to_monitor);
        return int(is_outside(light, to_monitor)) + 2 * int(max(own.r, max(own.g, own.b)) > most);
    }
    vec3 signal = bool(SHOWN_IS_LIGHT)
        ? light_to_signal(convert(light, to_own), SHOWN_TRANSFER, shown.display)
        : pixel;
    return int(signal.r >= limit) + int(signal.g >= limit) + int(signal.b >= limit);
}

void main()
{
    vec4 pixel = texelFetch(picture, texel_of(ivec2(gl_FragCoord.xy)), 0);
    vec3 light = light_of(pixel.rgb, Shown(bool(SHOWN_IS_LIGHT), SHOWN_TRANSFER, shown));
    vec4 colour = texelFetch(marks, ivec2(mark_of(pixel.rgb, light), 0), 0);
    float share = min(pq_eotf_inverse(vec3(luminance(light))).r / pq_eotf_inverse(vec3(1000.0)).r, 1.0);
    vec3 grey = encode(vec3(grey_level * power(share, 2.4) * screen.peak), BT1886, screen);
    result = vec4(colour.r >= 0.0 ? colour.rgb : grey, pixel.a);
}
