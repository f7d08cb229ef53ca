"""Figures of a monitor, on readings invented from the standards' own formulas."""

from dataclasses import asdict, replace

import numpy as np
import pytest

from tonemap.colorimetry import PRIMARIES, matrix_to_xyz
from tonemap.encoding import Encoding, sdr_target, signal_to_light
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.monitor import monitor_figures
from tonemap.measure.monitor_grade import CONFIRMED, GRADES, SECONDARY, judge
from tonemap.measure.readings import Reading

SDR = sdr_target()
PQ = Encoding("pq", "bt2020", peak=1000.0)
GREYS = [(step / 10.0,) * 3 for step in range(11)]
COLOURS = [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (0.6, 0.4, 0.3), (0.2, 0.5, 0.7)]


def screen(encoding: Encoding, signals, matrix=None, window=None) -> list[Reading]:
    """Return what an instrument reads of a display that does exactly what the encoding asks for."""
    light = np.minimum(signal_to_light(np.array(signals), encoding), encoding.peak)
    xyz = light @ (matrix_to_xyz(PRIMARIES[encoding.primaries]) if matrix is None else matrix).T
    return [
        Reading(str(signal), signal, (float(values[0]), float(values[1]), float(values[2])), window, number)
        for number, (signal, values) in enumerate(zip(signals, xyz, strict=True), start=1)
    ]


def white(nits: float, window: float) -> Reading:
    x, y, z = matrix_to_xyz(PRIMARIES["bt2020"]).sum(axis=1) * nits
    return Reading(f"white {window:g}", (1.0, 1.0, 1.0), (x, y, z), window, 1)


@pytest.mark.parametrize("encoding", [SDR, sdr_target(98.0, 0.02), PQ, Encoding("gamma2.6", "p3-d65", peak=48.0)])
def test_a_perfect_monitor_has_no_error(encoding):
    found = monitor_figures(screen(encoding, GREYS + COLOURS), encoding)
    assert found.delta_e_2000_max == pytest.approx(0.0, abs=1e-6)
    assert found.delta_e_itp_max == pytest.approx(0.0, abs=1e-6)
    assert found.white_error_uv == pytest.approx(0.0, abs=1e-12)
    assert found.white_nits == found.peak_nits == pytest.approx(encoding.peak)
    assert max(abs(grey.pq_error) for grey in found.greys) < 1e-9
    assert (len(found.patches), len(found.greys)) == (16, 11)


def test_bt1886_is_judged_at_the_measured_white_and_black():
    """A display of 90 and 0.05 cd/m2 that follows BT.1886 between its own ends is without error against Lw 100."""
    found = monitor_figures(screen(sdr_target(90.0, 0.05), GREYS), SDR)
    assert max(abs(grey.relative_error) for grey in found.greys) < 1e-9
    assert (found.white_nits, found.black_nits, found.contrast) == pytest.approx((90.0, 0.05, 1800.0))
    assert found.gamma == pytest.approx(2.4, abs=0.002)


@pytest.mark.parametrize("exponent", [2.2, 2.6])
def test_gamma_is_found(exponent):
    readings = screen(Encoding(f"gamma{exponent}", "bt709", peak=100.0), GREYS)
    assert monitor_figures(readings, SDR).gamma == pytest.approx(exponent, abs=0.002)


def test_tone_curve_error_is_arithmetic():
    """At half the signal, gamma 2.2 gives 21.76 cd/m2 where BT.1886 asks for 18.95: 14.9 % too much."""
    found = monitor_figures(screen(Encoding("gamma2.2", "bt709", peak=100.0), GREYS), SDR)
    half = found.greys[5]
    assert (half.signal, half.nits, half.expected_nits) == pytest.approx((0.5, 21.764, 18.946), abs=5e-4)
    assert half.relative_error == pytest.approx(0.1487, abs=1e-4)
    assert half.pq_error > 0.0


def test_pq_is_absolute_up_to_the_nominal_peak():
    """10 % too much light everywhere is 10 % error at every grey; above the peak nothing is asked for."""
    bright = [replace(r, xyz=tuple(1.1 * value for value in r.xyz)) for r in screen(PQ, GREYS)]
    found = monitor_figures(bright, PQ)
    assert [grey.relative_error for grey in found.greys[1:]] == pytest.approx([0.1] * 10)
    assert (found.greys[10].expected_nits, found.gamma) == (pytest.approx(1000.0), None)


def test_differences_match_colour_science(colour):
    """Every patch of a display with other primaries, by the library's CIE 2000 and ITP."""
    off = matrix_to_xyz(PRIMARIES["p3-d65"])
    found = monitor_figures(screen(SDR, GREYS + COLOURS, off), SDR)
    measured, expected = (
        np.array([getattr(patch, name) for patch in found.patches]) for name in ("xyz", "expected_xyz")
    )
    lab = [colour.XYZ_to_Lab(xyz / found.white_nits, (0.3127, 0.3290)) for xyz in (expected, measured)]
    e2000 = colour.delta_E(*lab, method="CIE 2000")
    from_xyz = np.linalg.inv(matrix_to_xyz(PRIMARIES["bt2020"]))
    ictcp = [colour.RGB_to_ICtCp(xyz @ from_xyz.T, method="ITU-R BT.2100-2 PQ") for xyz in (expected, measured)]
    itp = colour.difference.delta_E_ITP(*ictcp)
    np.testing.assert_allclose([patch.delta_e_2000 for patch in found.patches], e2000, atol=1e-6)
    np.testing.assert_allclose([patch.delta_e_itp for patch in found.patches], itp, atol=1e-6)
    assert (found.delta_e_2000_mean, found.delta_e_2000_max) == pytest.approx((e2000.mean(), e2000.max()))
    assert (found.delta_e_itp_mean, found.delta_e_itp_max) == pytest.approx((itp.mean(), itp.max()))
    assert found.delta_e_2000_worst == found.patches[int(e2000.argmax())].name
    assert e2000.max() > 3.0


def test_white_point_error_is_the_distance_in_uv(colour):
    """D50 on a monitor that should show D65."""
    warm = colour.xy_to_XYZ((0.3457, 0.3585)) * 100.0
    found = monitor_figures([Reading("white", (1.0, 1.0, 1.0), tuple(map(float, warm)), None, 1)], SDR)
    assert found.white_xy == pytest.approx((0.3457, 0.3585))
    places = [colour.xy_to_Luv_uv(xy) for xy in ((0.3457, 0.3585), (0.3127, 0.3290))]
    assert found.white_uv == pytest.approx(tuple(places[0]), abs=1e-12)
    assert found.white_error_uv == pytest.approx(np.hypot(*(places[0] - places[1])), abs=1e-12)
    luv = [colour.XYZ_to_Luv(xyz / 100.0, (0.3127, 0.3290)) for xyz in (warm, colour.xy_to_XYZ((0.3127, 0.3290)) * 100)]
    assert found.white_error_luv == pytest.approx(np.hypot(*(luv[0] - luv[1])[1:]), abs=1e-6)


def test_peak_is_held_up_to_a_window():
    """A screen that reaches 1000 cd/m2 on 10 % of its area and tires beyond."""
    series = [
        white(nits, window)
        for window, nits in ((25.0, 800.0), (1.0, 1005.0), (10.0, 990.0), (5.0, 1002.0), (100.0, 300.0))
    ]
    found = monitor_figures([*screen(PQ, GREYS[:10] + COLOURS, window=10.0), *series], PQ)
    assert [(w.percent, w.holds_peak) for w in found.windows] == [
        (1.0, True),
        (5.0, True),
        (10.0, True),
        (25.0, False),
        (100.0, False),
    ]
    assert (found.largest_window, found.peak_nits, found.white_nits) == pytest.approx((10.0, 1005.0, 990.0))
    assert len(found.patches) == 16  # the white at the common window is a patch, the others are the series


def test_a_screen_that_never_reaches_its_peak_holds_no_window():
    found = monitor_figures([white(600.0, 10.0), white(590.0, 100.0)], PQ)
    assert (found.largest_window, found.peak_nits) == (None, pytest.approx(600.0))


def test_grade_verdicts_say_what_is_met_and_how_well_it_is_known():
    good = judge(monitor_figures(screen(sdr_target(100.0, 0.02), GREYS), SDR), GRADES["ebu-3320-grade-1-sdr"])
    assert {verdict.name: verdict.is_met for verdict in good} == {
        "white point": True,
        "white luminance": True,
        "black": True,
        "sequential contrast": True,
        "gamma": True,
    }
    assert {verdict.name: verdict.evidence for verdict in good} == {
        "white point": CONFIRMED,
        "white luminance": SECONDARY,
        "black": SECONDARY,
        "sequential contrast": SECONDARY,
        "gamma": SECONDARY,
    }
    bad = judge(monitor_figures(screen(sdr_target(120.0, 0.1), GREYS), SDR), GRADES["ebu-3320-grade-1-sdr"])
    assert [verdict.is_met for verdict in bad] == [True, False, False, False, True]


def test_grade_limits_of_white_and_of_hdr():
    """1.3 of u*v* is 0.001 of u'v' at L* = 100."""
    base = monitor_figures(screen(PQ, GREYS), PQ)
    for error, met in ((1.29, True), (1.31, False)):
        verdicts = judge(replace(base, white_error_luv=error), GRADES["ebu-3320-grade-1-hdr"])
        assert [verdict.is_met for verdict in verdicts] == [met, True, True]
    dim = judge(replace(base, peak_nits=999.0, black_nits=0.006), GRADES["ebu-3320-grade-1-hdr"])
    assert [verdict.is_met for verdict in dim] == [True, False, False]


def test_what_was_not_read_has_no_verdict():
    figures = monitor_figures(screen(SDR, [(1.0, 1.0, 1.0)]), SDR)
    assert (figures.black_nits, figures.contrast, figures.gamma) == (None, None, None)
    verdicts = {verdict.name: verdict.is_met for verdict in judge(figures, GRADES["ebu-3320-grade-1-sdr"])}
    assert verdicts == {
        "white point": True,
        "white luminance": True,
        "black": None,
        "sequential contrast": None,
        "gamma": None,
    }


def test_figures_become_a_dictionary():
    entries = asdict(monitor_figures(screen(SDR, GREYS), SDR))
    assert entries["patches"][5]["signal"] == (0.5, 0.5, 0.5)


def test_what_can_not_be_judged_is_one_sentence():
    with pytest.raises(TrimbenchError) as refused:
        monitor_figures(screen(SDR, GREYS[:10]), SDR)
    assert str(refused.value) == (
        "no white patch (R, G, B at the top) is among the readings; measure one and export again"
    )
    with pytest.raises(TrimbenchError) as refused:
        monitor_figures([white(0.0, 10.0)], PQ)
    assert str(refused.value) == "the white patch was measured as black; check the instrument and measure again"
    with pytest.raises(TrimbenchError) as refused:
        monitor_figures([*screen(SDR, [(0.0, 0.0, 0.0)]), white(0.3, 10.0)], SDR)
    assert str(refused.value) == (
        "the measured white and black make no display: peak = 0.3 is outside 1..10000 cd/m2; "
        "give the display's peak luminance"
    )
    with pytest.raises(WrongCall) as refused:
        monitor_figures(screen(SDR, GREYS), Encoding("linear"))
    assert str(refused.value) == (
        "a monitor is fed a signal, not linear light; give the transfer function that it is set to"
    )
