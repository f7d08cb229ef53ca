// Pair of tonemap/colorimetry.py.
// BT.2020 light in cd/m2 in and out; ICtCp in its PQ form.
#include "lib/transfer.glsl"

// Row Y of the BT.2020 matrix to XYZ, as exact colorimetry has it.
const vec3 LUMINANCE_WEIGHTS = vec3(0.26270021201126703, 0.67799807151887108, 0.05930171646986196);

// Recommendation ITU-R BT.2100-3, Table 7; GLSL matrices are written column by column.
const mat3 LMS_FROM_BT2020 = mat3(1688.0, 683.0, 99.0, 2146.0, 2951.0, 309.0, 262.0, 462.0, 3688.0) / 4096.0;
const mat3 ICTCP_FROM_LMS =
    mat3(2048.0, 6610.0, 17933.0, 2048.0, -13613.0, -17390.0, 0.0, 7003.0, -543.0) / 4096.0;
const mat3 BT2020_FROM_LMS = mat3(3.4366066943330784, -0.7913295555989289, -0.0259498996905927,
                                  -2.5064521186562698, 1.9836004517922907, -0.0989137147117265,
                                  0.0698454243231915, -0.1922708961933620, 1.1248636144023192);
const mat3 LMS_FROM_ICTCP = mat3(1.0, 1.0, 1.0,
                                 0.0086090370379328, -0.0086090370379328, 0.5600313357106792,
                                 0.1110296250030260, -0.1110296250030260, -0.3206271749873189);

float luminance(vec3 light)
{
    return LUMINANCE_WEIGHTS.r * light.r + LUMINANCE_WEIGHTS.g * light.g + LUMINANCE_WEIGHTS.b * light.b;
}

vec3 convert(vec3 pixel, mat3 matrix)
{
    precise vec3 converted = matrix[0] * pixel.r + matrix[1] * pixel.g + matrix[2] * pixel.b;
    return converted;
}

vec3 lms_from_light(vec3 light) { return convert(light, LMS_FROM_BT2020); }
vec3 light_from_lms(vec3 lms) { return convert(lms, BT2020_FROM_LMS); }

vec3 ictcp_from_light(vec3 light) { return convert(pq_eotf_inverse(lms_from_light(light)), ICTCP_FROM_LMS); }
vec3 light_from_ictcp(vec3 ictcp) { return light_from_lms(pq_eotf(convert(ictcp, LMS_FROM_ICTCP))); }
