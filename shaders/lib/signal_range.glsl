// Pair of tonemap/signal_range.py: code values and normalised signal, with the scale and offset of the bit depth.

vec3 quantise(vec3 signal, float scale, float offset, float top_code)
{
    return clamp(floor(signal * scale + offset + 0.5), 0.0, top_code);
}

// Pair of words_of in tonemap/media/dpx.py: three ten-bit codes in one word, its bytes as a file has them, the highest
// first; so in memory, where a processor puts the lowest first, they are turned round.
uint word_of(uvec3 codes)
{
    uint word = codes.r << 22 | codes.g << 12 | codes.b << 2;
    return word << 24 | (word & 0xff00u) << 8 | (word >> 8 & 0xff00u) | word >> 24;
}

vec3 expand(vec3 codes, float scale, float offset) { return (codes - offset) / scale; }
