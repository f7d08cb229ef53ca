// Pair of tonemap/scopes.py: in which cells of a scope's counts a pixel falls.
// A pixel of a picture in, cells (column, row) out, one for each channel that is counted; NOWHERE where it is not.
#include "lib/shown.glsl"

// In the order of KINDS in viewer/bench/scopes.py.
const int WAVEFORM = 0;
const int VECTORSCOPE = 1;
const int HISTOGRAM = 2;
const int CHROMATICITY = 3;
const int TRANSFER = 4;

const ivec2 NOWHERE = ivec2(-1);

uniform int scope;
uniform bool is_nits;           // whether a waveform's axis is light, spaced as PQ, or the signal
uniform int bins;               // levels of an axis
uniform int columns;            // of a waveform
uniform int first_channel, channels;  // of R, G, B, Y
uniform vec2 signal_axis, chroma_axis, uv_axis;  // where they begin and end
uniform vec3 luma_weights;
uniform mat3 to_xyz;            // from BT.2020
uniform float floor_nits;       // darker light has no chromaticity
uniform sampler2D master_light;
uniform ivec2 light_first;      // its texel for the first sample that is counted now
uniform int light_stride;       // texels a sample
uniform sampler2D signal;       // of the samples that are counted now, where the picture is not the master's light
uniform sampler2D mask;         // of the region: counted where it is not 0
uniform bool has_mask;
uniform Shown shown;
uniform ivec2 region;           // size of what is counted, in pixels of the picture
uniform int stride;             // every stride-th pixel of it, across and down
uniform ivec2 samples;          // how many are counted, across and down
uniform int first_row;          // of them, the first that is counted now

int bin_of(float place)
{
    return int(clamp(place, 0.0, 1.0) * float(bins - 1) + 0.5);
}

int bin_on(float value, vec2 axis)
{
    return bin_of((value - axis.x) / (axis.y - axis.x));
}

// Channels R, G, B and Y of one value.
float channel_of(vec3 value, float y, int channel)
{
    return channel == 0 ? value.r : channel == 1 ? value.g : channel == 2 ? value.b : y;
}

ivec2 chroma_cell(vec3 signal)
{
    float luma = dot(luma_weights, signal);
    float cb = (signal.b - luma) / (2.0 * (1.0 - luma_weights.b));
    float cr = (signal.r - luma) / (2.0 * (1.0 - luma_weights.r));
    return ivec2(bin_on(cb, chroma_axis), bin_on(cr, chroma_axis));
}

ivec2 chromaticity_cell(vec3 light)
{
    if (max(light.r, max(light.g, light.b)) < floor_nits) return NOWHERE;
    vec3 xyz = convert(light, to_xyz);
    float total = xyz.x + 15.0 * xyz.y + 3.0 * xyz.z;
    return ivec2(bin_on(4.0 * xyz.x / total, uv_axis), bin_on(9.0 * xyz.y / total, uv_axis));
}

// The cells of the sample with an index, first_row being the first row.
void cells_of(ivec2 index, out ivec2 cells[4])
{
    ivec2 place = min((index + ivec2(0, first_row)) * stride + stride / 2, region - 1);
    vec3 master = texelFetch(master_light, light_first + light_stride * index, 0).rgb;
    vec3 pixel = shown.is_light ? master : texelFetch(signal, index, 0).rgb;
    cells = ivec2[4](NOWHERE, NOWHERE, NOWHERE, NOWHERE);
    if (has_mask && texelFetch(mask, place, 0).r == 0.0) return;
    if (scope == VECTORSCOPE) {
        cells[0] = chroma_cell(shown.is_light ? pq_eotf_inverse(pixel) : pixel);
        return;
    }
    if (scope == WAVEFORM && !is_nits) {
        float luma = dot(luma_weights, pixel);
        for (int i = 0; i < channels; ++i) {
            int level = bin_on(channel_of(pixel, luma, first_channel + i), signal_axis);
            cells[i] = ivec2(place.x * columns / region.x, i * bins + level);
        }
        return;
    }
    vec3 light = light_of(pixel, shown);
    if (scope == CHROMATICITY) {
        cells[0] = chromaticity_cell(light);
    } else if (scope == TRANSFER) {
        cells[0] = ivec2(bin_of(pq_eotf_inverse(luminance(master))), bin_of(pq_eotf_inverse(luminance(light))));
    } else {
        float y = luminance(light);
        for (int i = 0; i < channels; ++i) {
            int level = bin_of(pq_eotf_inverse(channel_of(light, y, first_channel + i)));
            cells[i] = scope == WAVEFORM ? ivec2(place.x * columns / region.x, i * bins + level) : ivec2(level, i);
        }
    }
}
