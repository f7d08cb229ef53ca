// Pair of tonemap/difference.py.
// Two colours as BT.2020 light in cd/m2 in, Delta E ITP out (Recommendation ITU-R BT.2124-0, Annex 1).
#include "lib/colorimetry.glsl"

float delta_e_itp(vec3 light, vec3 other)
{
    vec3 difference = ictcp_from_light(light) - ictcp_from_light(other);
    vec3 itp = difference * vec3(1.0, 0.5, 1.0);
    return 720.0 * length(itp);
}
