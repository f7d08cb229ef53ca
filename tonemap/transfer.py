"""Transfer functions between signal and light, each with its inverse.

Signals are normalised (0..1 is the nominal range), light is in cd/m2, arrays keep their shape and floating dtype.
"""

import math

import numpy as np

from .arrays import Array

# SMPTE ST 2084:2014, clause 5.2; Recommendation ITU-R BT.2100-3, Table 4.
PQ_M1 = 2610.0 / 16384.0
PQ_M2 = 2523.0 / 32.0
PQ_C1 = 3424.0 / 4096.0
PQ_C2 = 2413.0 / 128.0
PQ_C3 = 2392.0 / 128.0
PQ_PEAK = 10000.0

# Recommendation ITU-R BT.2100-3, Table 5.
HLG_A = 0.17883277
HLG_B = 1.0 - 4.0 * HLG_A
HLG_C = 0.5 - HLG_A * math.log(4.0 * HLG_A)
HLG_WEIGHTS = (0.2627, 0.6780, 0.0593)
HLG_CEILING = 8.0


def pq_eotf(signal: Array) -> Array:
    """Decode a PQ signal to light.

    Parameters
    ----------
    signal : ndarray, PQ, 0..1; values outside are read as the nearer end

    Returns
    -------
    ndarray
        Light in cd/m2, 0..10000.

    References
    ----------
    SMPTE ST 2084:2014, clause 5.2.

    Examples
    --------
    >>> round(float(pq_eotf(np.array(0.5))), 6)
    92.245709
    """
    root = np.clip(signal, 0.0, 1.0) ** (1.0 / PQ_M2)
    return PQ_PEAK * (np.maximum(root - PQ_C1, 0.0) / (PQ_C2 - PQ_C3 * root)) ** (1.0 / PQ_M1)


def pq_eotf_inverse(light: Array) -> Array:
    """Encode light as a PQ signal.

    Parameters
    ----------
    light : ndarray, cd/m2; negative light is read as 0, light above 10000 gives a signal above 1

    Returns
    -------
    ndarray
        PQ signal.

    References
    ----------
    SMPTE ST 2084:2014, clause 5.3.

    Examples
    --------
    >>> round(float(pq_eotf_inverse(np.array(203.0))), 9)
    0.580688881
    """
    power = (np.maximum(light, 0.0) / PQ_PEAK) ** PQ_M1
    return ((PQ_C1 + PQ_C2 * power) / (1.0 + PQ_C3 * power)) ** PQ_M2


def hlg_oetf(scene: Array) -> Array:
    """Encode scene light (0..1) as an HLG signal; BT.2100-3, Table 5. Negative light is read as 0."""
    scene = np.maximum(scene, 0.0)
    return np.where(
        scene <= 1.0 / 12.0,
        np.sqrt(3.0 * scene),
        HLG_A * np.log(np.maximum(12.0 * scene - HLG_B, 1e-30)) + HLG_C,
    )


def hlg_oetf_inverse(signal: Array) -> Array:
    """Decode an HLG signal to scene light (0..1); BT.2100-3, Table 5.

    Negative signals are read as 0, signals above 8 as 8, which is light beyond any display and below any overflow.
    """
    signal = np.clip(signal, 0.0, HLG_CEILING)
    return np.where(signal <= 0.5, signal * signal / 3.0, (np.exp((signal - HLG_C) / HLG_A) + HLG_B) / 12.0)


def hlg_system_gamma(peak_nits: float) -> float:
    """Return the HLG system gamma for a display of the given nominal peak.

    From 400 to 2000 cd/m2 this is BT.2100-3, Table 5, note 5f; outside that range the extended form of BT.2390.

    Examples
    --------
    >>> hlg_system_gamma(1000.0)
    1.2
    """
    if 400.0 <= peak_nits <= 2000.0:
        return 1.2 + 0.42 * math.log10(peak_nits / 1000.0)
    return float(1.2 * 1.111 ** math.log2(peak_nits / 1000.0))


def hlg_ootf(scene: Array, peak_nits: float) -> Array:
    """Turn scene light (..., 3), 0..1, into display light in cd/m2; BT.2100-3, Table 5."""
    gamma = hlg_system_gamma(peak_nits)
    luminance = np.maximum(_hlg_luminance(scene), 1e-30)
    return peak_nits * luminance ** (gamma - 1.0) * scene


def hlg_ootf_inverse(light: Array, peak_nits: float) -> Array:
    """Turn display light (..., 3) in cd/m2 into scene light, 0..1; BT.2100-3, Table 5. Black stays black."""
    gamma = hlg_system_gamma(peak_nits)
    relative = light / peak_nits
    luminance = np.maximum(_hlg_luminance(relative), 1e-30)
    return luminance ** ((1.0 - gamma) / gamma) * relative


def hlg_black_lift(peak_nits: float, black_nits: float) -> float:
    """Return the signal offset that shows black at `black_nits`; BT.2100-3, Table 5 (since edition 2)."""
    return math.sqrt(3.0 * (black_nits / peak_nits) ** (1.0 / hlg_system_gamma(peak_nits)))


def hlg_eotf(signal: Array, peak_nits: float, black_nits: float = 0.0) -> Array:
    """Decode an HLG signal (..., 3) to the light of a display with the given peak and black.

    Examples
    --------
    >>> round(float(hlg_eotf(np.full(3, 0.75), 1000.0)[0]), 5)
    203.15215
    """
    lift = hlg_black_lift(peak_nits, black_nits)
    return hlg_ootf(hlg_oetf_inverse((1.0 - lift) * signal + lift), peak_nits)


def hlg_eotf_inverse(light: Array, peak_nits: float, black_nits: float = 0.0) -> Array:
    """Encode display light (..., 3) in cd/m2 as an HLG signal; light below black gives a signal below 0."""
    lift = hlg_black_lift(peak_nits, black_nits)
    return (hlg_oetf(hlg_ootf_inverse(light, peak_nits)) - lift) / (1.0 - lift)


def bt1886_gain_and_lift(peak_nits: float, black_nits: float) -> tuple[float, float]:
    """Return the user gain a and the black lift b of BT.1886-0, Annex 1."""
    white_root = peak_nits ** (1.0 / 2.4)
    black_root = black_nits ** (1.0 / 2.4)
    return (white_root - black_root) ** 2.4, black_root / (white_root - black_root)


def bt1886_eotf(signal: Array, peak_nits: float, black_nits: float = 0.0) -> Array:
    """Decode an SDR signal to the light of a reference display; BT.1886-0, Annex 1: L = a max(V + b, 0)^2.4."""
    gain, lift = bt1886_gain_and_lift(peak_nits, black_nits)
    return gain * np.maximum(signal + lift, 0.0) ** 2.4


def bt1886_eotf_inverse(light: Array, peak_nits: float, black_nits: float = 0.0) -> Array:
    """Encode light for a BT.1886 display; light below the display's black gives a signal below 0."""
    gain, lift = bt1886_gain_and_lift(peak_nits, black_nits)
    return (np.maximum(light, 0.0) / gain) ** (1.0 / 2.4) - lift


def gamma_eotf(signal: Array, exponent: float, peak_nits: float) -> Array:
    """Decode a pure power-law signal to light in cd/m2; negative signals are read as 0."""
    return peak_nits * np.maximum(signal, 0.0) ** exponent


def gamma_eotf_inverse(light: Array, exponent: float, peak_nits: float) -> Array:
    """Encode light as a pure power-law signal; negative light is read as 0."""
    return (np.maximum(light, 0.0) / peak_nits) ** (1.0 / exponent)


def srgb_eotf(signal: Array, peak_nits: float) -> Array:
    """Decode an sRGB signal to light in cd/m2; IEC 61966-2-1:1999. Negative signals are read as 0."""
    signal = np.maximum(signal, 0.0)
    return peak_nits * np.where(signal <= 0.04045, signal / 12.92, ((signal + 0.055) / 1.055) ** 2.4)


def srgb_eotf_inverse(light: Array, peak_nits: float) -> Array:
    """Encode light as an sRGB signal; IEC 61966-2-1:1999. Negative light is read as 0."""
    relative = np.maximum(light, 0.0) / peak_nits
    return np.where(relative <= 0.0031308, 12.92 * relative, 1.055 * relative ** (1.0 / 2.4) - 0.055)


def _hlg_luminance(rgb: Array) -> Array:
    red, green, blue = HLG_WEIGHTS
    return (red * rgb[..., 0] + green * rgb[..., 1] + blue * rgb[..., 2])[..., np.newaxis]
