"""A monitor by its readings: colour differences, tone curve, white, black, and how the peak holds by window size."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array
from ..colorimetry import PRIMARIES, conversion_matrix, convert, matrix_to_xyz, xyz_of_chromaticity
from ..difference import delta_e_2000, delta_e_itp, lab_from_xyz
from ..encoding import Encoding, signal_to_light
from ..errors import TrimbenchError, WrongCall
from ..transfer import pq_eotf_inverse
from .readings import Reading, Triple

HELD_SHARE = 0.97
"""A window holds the peak when it reaches this share of it: about what instruments and warm-up leave uncertain."""

GAMMAS = np.arange(1.60, 3.2001, 0.001)


@dataclass(frozen=True)
class PatchReading:
    """One patch: what was measured, what the encoding asks for, and the two differences."""

    name: str
    signal: Triple
    xyz: Triple
    expected_xyz: Triple
    delta_e_2000: float
    delta_e_itp: float


@dataclass(frozen=True)
class GreyReading:
    """One step of the tone curve.

    Attributes
    ----------
    relative_error : (measured - expected) / expected
    pq_error : the same step as a difference of PQ signals, which is about equally visible from black to peak
    """

    signal: float
    nits: float
    expected_nits: float
    relative_error: float
    pq_error: float


@dataclass(frozen=True)
class WindowReading:
    """White on a part of the screen: its size in percent of the area, what was reached, and whether the peak held."""

    percent: float
    nits: float
    holds_peak: bool


@dataclass(frozen=True)
class MonitorFigures:
    """What a file of readings says of a monitor.

    Attributes
    ----------
    encoding_title : what the monitor was judged against
    white_nits, black_nits : measured; black is None when no black patch was read
    white_xy, white_uv : CIE 1931 and CIE 1976 chromaticity of the white
    white_error_uv : distance of the white from the encoding's in u'v'
    white_error_luv : the same in CIELUV at L* = 100, as EBU Tech 3320 counts: 1300 times the distance
    gamma : exponent that fits the greys best with the measured white and black; None for PQ and HLG or too few greys
    contrast : white over black; None without a black above 0
    nominal_peak : cd/m2 that the monitor was asked to reach
    largest_window : percent of the area up to which every window read holds the nominal peak; None when none does
    """

    encoding_title: str
    patches: tuple[PatchReading, ...]
    greys: tuple[GreyReading, ...]
    windows: tuple[WindowReading, ...]
    delta_e_2000_mean: float
    delta_e_2000_max: float
    delta_e_2000_worst: str
    delta_e_itp_mean: float
    delta_e_itp_max: float
    delta_e_itp_worst: str
    white_nits: float
    white_xy: tuple[float, float]
    white_uv: tuple[float, float]
    white_error_uv: float
    white_error_luv: float
    black_nits: float | None
    contrast: float | None
    gamma: float | None
    peak_nits: float
    nominal_peak: float
    largest_window: float | None


def monitor_figures(readings: Sequence[Reading], encoding: Encoding) -> MonitorFigures:
    """Judge readings against what an encoding asks for.

    Parameters
    ----------
    encoding : of the signal that the monitor was fed; `peak` is its nominal peak. PQ is absolute up to that peak;
        BT.1886 and the gammas are taken at the measured white and black.

    Raises
    ------
    WrongCall
        If the encoding is linear light.
    TrimbenchError
        If no white patch, R' = G' = B' = 1, was read.
    """
    if encoding.transfer == "linear":
        raise WrongCall("a monitor is fed a signal, not linear light; give the transfer function that it is set to")
    white = _white(readings)
    x, y, uv = _chromaticity(np.array(white.xyz))
    black = min((r.xyz[1] for r in readings if max(np.abs(r.signal)) < 1e-6), default=None)
    shown = _as_measured(encoding, white.xyz[1], black or 0.0)
    series = _window_series(readings, white)
    judged = [reading for reading in readings if reading not in series]
    patches = _patches(judged, shown, white.xyz[1])
    windows = tuple(
        WindowReading(r.window or 0.0, r.xyz[1], r.xyz[1] >= HELD_SHARE * encoding.peak)
        for r in sorted([*series, white], key=lambda r: r.window or 0.0)
        if r.window is not None
    )
    held = 0.0
    for window in windows:
        if not window.holds_peak:
            break
        held = window.percent
    primaries = PRIMARIES[encoding.primaries]
    error = float(np.hypot(*(uv - _chromaticity(xyz_of_chromaticity(primaries.white))[2])))
    e2000, itp = ([getattr(patch, name) for patch in patches] for name in ("delta_e_2000", "delta_e_itp"))
    return MonitorFigures(
        encoding_title=encoding.title,
        patches=patches,
        greys=_greys(patches),
        windows=windows,
        delta_e_2000_mean=float(np.mean(e2000)),
        delta_e_2000_max=max(e2000),
        delta_e_2000_worst=patches[int(np.argmax(e2000))].name,
        delta_e_itp_mean=float(np.mean(itp)),
        delta_e_itp_max=max(itp),
        delta_e_itp_worst=patches[int(np.argmax(itp))].name,
        white_nits=white.xyz[1],
        white_xy=(x, y),
        white_uv=(float(uv[0]), float(uv[1])),
        white_error_uv=error,
        white_error_luv=1300.0 * error,
        black_nits=black,
        contrast=white.xyz[1] / black if black else None,
        gamma=_gamma(patches, encoding, white.xyz[1], black or 0.0),
        peak_nits=max(reading.xyz[1] for reading in readings),
        nominal_peak=encoding.peak,
        largest_window=held or None,
    )


def _white(readings: Sequence[Reading]) -> Reading:
    """Return the white that belongs to the other patches: the one of their most common window size."""
    whites = [reading for reading in readings if _is_white(reading)]
    if not whites:
        raise TrimbenchError("no white patch (R, G, B at the top) is among the readings; measure one and export again")
    common = Counter(reading.window for reading in readings if not _is_white(reading)).most_common(1)
    fitting = [reading for reading in whites if common and reading.window == common[0][0]]
    return (fitting or whites)[0]


def _is_white(reading: Reading) -> bool:
    return min(reading.signal) > 1.0 - 1e-6


def _window_series(readings: Sequence[Reading], white: Reading) -> list[Reading]:
    """Return the whites of other window sizes: they say how the peak holds, and aren't judged as colours."""
    return [r for r in readings if _is_white(r) and r.window is not None and r.window != white.window]


def _as_measured(encoding: Encoding, white: float, black: float) -> Encoding:
    if encoding.transfer in ("pq", "hlg"):
        return encoding
    try:
        return replace(encoding, peak=white, black=black)
    except WrongCall as fault:
        raise TrimbenchError(f"the measured white and black make no display: {fault}") from None


def _patches(readings: Sequence[Reading], shown: Encoding, white_nits: float) -> tuple[PatchReading, ...]:
    signal = np.array([reading.signal for reading in readings])
    measured = np.array([reading.xyz for reading in readings])
    light = np.minimum(signal_to_light(signal, shown), shown.peak)
    expected = convert(light, matrix_to_xyz(PRIMARIES[shown.primaries]))
    to_bt2020 = np.linalg.inv(matrix_to_xyz(PRIMARIES["bt2020"]))
    itp = delta_e_itp(convert(measured, to_bt2020), convert(light, conversion_matrix(shown.primaries, "bt2020")))
    # CIELAB needs one white: the encoding's chromaticity at the luminance that the monitor reached.
    white = white_nits * xyz_of_chromaticity(PRIMARIES[shown.primaries].white)
    e2000 = delta_e_2000(lab_from_xyz(expected, white), lab_from_xyz(measured, white))
    return tuple(
        PatchReading(r.name, r.signal, r.xyz, (float(e[0]), float(e[1]), float(e[2])), float(one), float(other))
        for r, e, one, other in zip(readings, expected, e2000, itp, strict=True)
    )


def _greys(patches: Sequence[PatchReading]) -> tuple[GreyReading, ...]:
    """Return the neutral patches in order of their signal, black left out of relative errors by its floor."""
    steps = []
    for patch in sorted(patches, key=lambda patch: patch.signal[1]):
        if max(patch.signal) - min(patch.signal) < 1e-6:
            nits, expected = patch.xyz[1], patch.expected_xyz[1]
            came, asked = pq_eotf_inverse(np.array([nits, expected]))
            relative = (nits - expected) / expected if expected > 1e-4 else 0.0
            steps.append(GreyReading(patch.signal[1], nits, expected, relative, float(came - asked)))
    return tuple(steps)


def _gamma(patches: Sequence[PatchReading], encoding: Encoding, white: float, black: float) -> float | None:
    """Fit the exponent of BT.1886's formula to the greys from 10 to 90 % of the signal, by least squares in PQ."""
    greys = [g for g in _greys(patches) if 0.1 <= g.signal <= 0.9]
    if encoding.transfer in ("pq", "hlg") or len(greys) < 3:
        return None
    signal = np.array([grey.signal for grey in greys])
    measured = pq_eotf_inverse(np.array([grey.nits for grey in greys]))
    exponents = GAMMAS[:, np.newaxis]
    white_root, black_root = white ** (1.0 / exponents), black ** (1.0 / exponents)
    curves = ((white_root - black_root) * signal + black_root) ** exponents
    errors = ((pq_eotf_inverse(curves) - measured) ** 2).sum(axis=1)
    return float(GAMMAS[int(np.argmin(errors))])


def _chromaticity(xyz: Array) -> tuple[float, float, Array]:
    x, y, z = (float(value) for value in xyz)
    whole = x + y + z
    if whole <= 0.0:
        raise TrimbenchError("the white patch was measured as black; check the instrument and measure again")
    return x / whole, y / whole, np.array([4.0 * x, 9.0 * y]) / (x + 15.0 * y + 3.0 * z)
