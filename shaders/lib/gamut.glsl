// Pair of tonemap/gamut.py: how far from a boundary at 1 a distance ends after the soft limit.

float remaining_room(float ratio, float reach, float threshold)
{
    float alpha = reach - 1.0;
    float beta = 1.0 - threshold;
    float q = clamp(ratio - threshold, 0.0, alpha + beta);
    float s = q / (beta + sqrt(max(beta * beta + (alpha - beta) * q, 0.0)));
    return ratio < threshold ? 1.0 - ratio : beta * (1.0 - s) * (1.0 - s);
}
