// No pair: the areas that a mean over a screen pixel weighs its texels with.
// Edges in picture pixels in, out how much of one texel lies between them and inside the picture.

float covered(float low, float high, int index, float texel, float limit)
{
    float from = max(low, float(index) * texel);
    float to = min(high, min(float(index + 1) * texel, limit));
    return max(to - from, 0.0);
}
