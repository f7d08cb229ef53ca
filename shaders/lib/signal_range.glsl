// Pair of tonemap/signal_range.py: code values and normalised signal, with the scale and offset of the bit depth.

vec3 quantise(vec3 signal, float scale, float offset, float top_code)
{
    precise vec3 code = signal * scale + offset + 0.5;  // rounded as NumPy does it, on every card
    return clamp(floor(code), 0.0, top_code);
}

// Pair of words_of and codes_of in tonemap/media/dpx.py: three ten-bit codes in one word. Its bytes are those of a file,
// the highest first; processors put the lowest first, so they are turned round.
uint turned_round(uint word) { return word << 24 | (word & 0xff00u) << 8 | (word >> 8 & 0xff00u) | word >> 24; }

uint word_of(uvec3 codes) { return turned_round(codes.r << 22 | codes.g << 12 | codes.b << 2); }

uvec3 codes_of(uint word) { return uvec3(turned_round(word)) >> uvec3(22u, 12u, 2u) & 1023u; }

vec3 expand(vec3 codes, float scale, float offset) { return (codes - offset) / scale; }
