// Pair of template_tone.py.
// Light in, light out: no channel passes the target's peak.
#include "lib/levels.glsl"

vec3 template_tone(vec3 light, Levels levels, float slope, float bend)
{
    float level = max(light.r, max(light.g, light.b));
    float share = clamp(level / levels.source_peak, 0.0, 1.0);
    float curve = bend * share / ((bend - 1.0) * share + 1.0);
    return light * (curve * levels.target_peak / max(level, 1e-9));
}
