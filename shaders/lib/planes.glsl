// Pair of tonemap/media/planes.py: the planes of a movie's frame to an R'G'B' signal, and the matrix of the way back.
// Code values of Y', Cb and Cr in, signal out, not clipped; chroma is interpolated from where its samples lie.

struct Coding {
    vec2 luma_scale;    // scale and offset: code = scale * signal + offset
    vec2 chroma_scale;
    vec2 weights;       // Kr and Kb
    ivec2 steps;        // columns and rows of luma for each sample of chroma
    vec2 place;         // of the first sample of chroma, in columns and rows of luma
};

// Cb and Cr, from four samples read at once, which a software rasteriser does sooner than one by one. Beyond an edge
// stands the outermost sample.
vec2 interpolated_chroma(usampler2D chroma, ivec2 pixel, Coding coding)
{
    vec2 at = (vec2(pixel) - coding.place) / vec2(coding.steps);
    ivec2 before = ivec2(floor(at));
    vec2 weight = at - floor(at);
    vec2 corner = vec2(before + 1) / vec2(textureSize(chroma, 0));  // where the four meet
    vec4 blue = vec4(textureGather(chroma, corner, 0)), red = vec4(textureGather(chroma, corner, 1));
    vec2 upper = mix(vec2(blue.w, red.w), vec2(blue.z, red.z), weight.x);
    vec2 lower = mix(vec2(blue.x, red.x), vec2(blue.y, red.y), weight.x);
    return mix(upper, lower, weight.y);
}

vec3 coded_signal(uint luma_code, vec2 codes, Coding coding)
{
    float grey = (float(luma_code) - coding.luma_scale.y) / coding.luma_scale.x;
    vec2 chroma = (codes - coding.chroma_scale.y) / coding.chroma_scale.x;
    float of_red = 2.0 * (1.0 - coding.weights.x);
    float of_blue = 2.0 * (1.0 - coding.weights.y);
    float green = 1.0 - coding.weights.x - coding.weights.y;
    float mixed = coding.weights.x * of_red * chroma.y + coding.weights.y * of_blue * chroma.x;
    return grey + vec3(of_red * chroma.y, -mixed / green, of_blue * chroma.x);
}

vec3 luma_and_chroma(vec3 signal, vec2 weights)
{
    float grey = weights.x * signal.r + (1.0 - weights.x - weights.y) * signal.g + weights.y * signal.b;
    return vec3(grey, (signal.b - grey) * (0.5 / (1.0 - weights.y)), (signal.r - grey) * (0.5 / (1.0 - weights.x)));
}

vec3 planes_signal(usampler2D luma, usampler2D chroma, ivec2 pixel, Coding coding)
{
    return coded_signal(texelFetch(luma, pixel, 0).r, interpolated_chroma(chroma, pixel, coding), coding);
}

// The same with the chroma of the pixel's own sample, wherever it lies: for what is averaged over several pixels.
vec3 near_planes_signal(usampler2D luma, usampler2D chroma, ivec2 pixel, Coding coding)
{
    vec2 codes = vec2(texelFetch(chroma, pixel / coding.steps, 0).rg);
    return coded_signal(texelFetch(luma, pixel, 0).r, codes, coding);
}
