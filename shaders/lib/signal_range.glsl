// Pair of tonemap/signal_range.py: code values and normalised signal, with the scale and offset of the bit depth.

vec3 quantise(vec3 signal, float scale, float offset, float top_code)
{
    return clamp(floor(signal * scale + offset + 0.5), 0.0, top_code);
}

vec3 expand(vec3 codes, float scale, float offset) { return (codes - offset) / scale; }
