// Pair of pq_eotf and pq_eotf_inverse in tonemap/transfer.py and of the LMS functions in tonemap/colorimetry.py.
// For operators that subtract PQ-coded cone responses: in float32 their rounding would show in the channels near 0.
// Light in cd/m2. Needs no more than GL 4.1; a few times slower than the float functions.

const double PQ_M1_DOUBLE = 2610.0lf / 16384.0lf;
const double PQ_M2_DOUBLE = 2523.0lf / 32.0lf;
const double PQ_C1_DOUBLE = 3424.0lf / 4096.0lf;
const double PQ_C2_DOUBLE = 2413.0lf / 128.0lf;
const double PQ_C3_DOUBLE = 2392.0lf / 128.0lf;

// Recommendation ITU-R BT.2100-3, Table 7; GLSL matrices are written column by column.
const dmat3 LMS_FROM_BT2020_DOUBLE = dmat3(1688.0lf / 4096.0lf, 683.0lf / 4096.0lf, 99.0lf / 4096.0lf,
                                           2146.0lf / 4096.0lf, 2951.0lf / 4096.0lf, 309.0lf / 4096.0lf,
                                           262.0lf / 4096.0lf, 462.0lf / 4096.0lf, 3688.0lf / 4096.0lf);
const dmat3 BT2020_FROM_LMS_DOUBLE = dmat3(3.436606694333079lf, -0.7913295555989289lf, -0.025949899690592672lf,
                                           -2.5064521186562705lf, 1.9836004517922912lf, -0.09891371471172646lf,
                                           0.06984542432319152lf, -0.19227089619336202lf, 1.1248636144023192lf);

// x^y for x >= 0; 0 for x = 0. Error below 1e-11 of the result for y ln x within +-40.
double power(double x, double y)
{
    if (!(x > 1e-37lf)) return 0.0lf;
    int exponent = ((floatBitsToInt(float(x)) - 0x3f3504f3) >> 23);
    double mantissa = x * double(intBitsToFloat((127 - exponent) << 23));
    double s = (mantissa - 1.0lf) / (mantissa + 1.0lf);
    double z = s * s;
    double series = 1.0lf + z * (1.0lf / 3.0lf + z * (1.0lf / 5.0lf + z * (1.0lf / 7.0lf + z * (1.0lf / 9.0lf
                  + z * (1.0lf / 11.0lf + z * (1.0lf / 13.0lf + z * (1.0lf / 15.0lf)))))));
    double t = y * (double(exponent) + 2.8853900817779268lf * s * series);
    double whole = floor(t + 0.5lf);
    double r = (t - whole) * 0.69314718055994531lf;
    double e = 1.0lf + r * (1.0lf + r * (1.0lf / 2.0lf + r * (1.0lf / 6.0lf + r * (1.0lf / 24.0lf + r * (1.0lf / 120.0lf
             + r * (1.0lf / 720.0lf + r * (1.0lf / 5040.0lf + r * (1.0lf / 40320.0lf + r * (1.0lf / 362880.0lf)))))))));
    return e * double(intBitsToFloat((int(clamp(whole, -126.0lf, 127.0lf)) + 127) << 23));
}

double pq_eotf(double signal)
{
    double root = power(clamp(signal, 0.0lf, 1.0lf), 1.0lf / PQ_M2_DOUBLE);
    double quotient = max(root - PQ_C1_DOUBLE, 0.0lf) / (PQ_C2_DOUBLE - PQ_C3_DOUBLE * root);
    return 10000.0lf * power(quotient, 1.0lf / PQ_M1_DOUBLE);
}

double pq_eotf_inverse(double light)
{
    double y = power(max(light, 0.0lf) / 10000.0lf, PQ_M1_DOUBLE);
    return power((PQ_C1_DOUBLE + PQ_C2_DOUBLE * y) / (1.0lf + PQ_C3_DOUBLE * y), PQ_M2_DOUBLE);
}

// I of ICtCp, and L'M'S' less I: scaling the second scales Ct and Cp.
void intensity_and_chroma(vec3 light, out double intensity, out dvec3 chroma)
{
    dvec3 lms = LMS_FROM_BT2020_DOUBLE * dvec3(light);
    dvec3 lms_signal = dvec3(pq_eotf_inverse(lms.x), pq_eotf_inverse(lms.y), pq_eotf_inverse(lms.z));
    intensity = 0.5lf * (lms_signal.x + lms_signal.y);
    chroma = lms_signal - intensity;
}

vec3 light_of_intensity_and_chroma(double intensity, dvec3 chroma)
{
    dvec3 lms_signal = intensity + chroma;
    dvec3 lms = dvec3(pq_eotf(lms_signal.x), pq_eotf(lms_signal.y), pq_eotf(lms_signal.z));
    return vec3(BT2020_FROM_LMS_DOUBLE * lms);
}
