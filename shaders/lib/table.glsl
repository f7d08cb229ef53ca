// Pair of tonemap/table.py.
// A position 0..1 in, the table's value there out, linearly interpolated; outside, the nearest end.

float table_at(sampler2D table, float position)
{
    int last = textureSize(table, 0).x - 1;
    float place = clamp(position, 0.0, 1.0) * float(last);
    int low = min(int(place), last - 1);
    float value = texelFetch(table, ivec2(low, 0), 0).r;
    return value + (texelFetch(table, ivec2(low + 1, 0), 0).r - value) * (place - float(low));
}
