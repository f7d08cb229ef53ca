"""Bands of nits, gamut and clipping as marks: what is marked, and that the colours tell apart."""

import itertools
import warnings

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix, convert, matrix_to_xyz, primaries_named
from tonemap.difference import delta_e_2000, lab_from_xyz
from tonemap.encoding import Encoding, sdr_target
from tonemap.picture_colours import (
    CLIPPING,
    CLIPPING_MARKS,
    GAMUT,
    GAMUT_MARKS,
    LUMINANCE,
    MONITOR_MARKS,
    grey_light,
    mark_numbers,
    monitor_colours,
    picture_colours,
)

HDR = Encoding("pq", peak=4000.0)
LEAST_DIFFERENCE = 10.0
"""CIEDE2000 between any two colours of one legend; several times what is seen side by side. Our choice."""


def grey(*nits: float) -> np.ndarray:
    return np.repeat(np.array(nits)[np.newaxis, :, np.newaxis], 3, axis=2)


def titles(colours, light, shown):
    return [colours.marks[number].title for number in mark_numbers(colours, light, shown)[0]]


def test_bands_of_a_master_are_where_the_reports_put_them():
    """Skin: Report ITU-R BT.2408-8, Table 2 (10 to 40, 40 to 85, 65 to 110 cd/m2); white 203: Table 1.

    A title has the limits of its own band, which are not those of the report where two of its ranges overlap.
    """
    colours = picture_colours(LUMINANCE, HDR, 100.0, 1000.0)
    levels = grey(0.001, 0.5, 5.0, 20.0, 50.0, 75.0, 100.0, 150.0, 203.0, 500.0, 2000.0)
    assert titles(colours, levels, HDR) == [
        "black, below 0.005",
        "shadows, to 1",
        "",
        "dark skin 10 to 40",
        "medium skin 40 to 65",
        "medium or light skin 65 to 85",
        "light skin 85 to 110",
        "above the target, from 110",
        "reference white 203",
        "above 203",
        "above the monitor, 1000",
    ]
    without = picture_colours(LUMINANCE, HDR, 203.0)
    assert titles(without, grey(150.0, 1000.0, 2000.0), HDR) == ["", "above 203", "above 1000"]


def test_bands_of_an_sdr_picture():
    """Faces in Japanese studio news, Report ITU-R BT.2408-8, Annex 4: 68.6 to 80.6 % of the signal."""
    target = sdr_target()
    colours = picture_colours(LUMINANCE, target, 100.0)
    signal = np.array([0.68, 0.69, 0.80, 0.81, 0.98, 1.0])
    assert titles(colours, grey(*(100.0 * signal**2.4)), target) == [
        "", "skin in studio news 40 to 60", "skin in studio news 40 to 60", "", "", "the target's peak, 100",
    ]  # fmt: skip
    assert len(picture_colours(LUMINANCE, Encoding("pq", peak=300.0), 100.0).marks) == 10


def test_gamut_marks_are_outside_bt709_and_outside_p3():
    """The primaries are those of BT.709-6, SMPTE EG 432-1 and BT.2020-2, each inside the next larger set but one."""
    colours = picture_colours(GAMUT, HDR, 100.0)
    pure = {
        name: convert(100.0 * np.eye(3)[:2], conversion_matrix(name, "bt2020"))
        for name in ("bt709", "p3-d65", "bt2020")
    }
    numbers = [mark_numbers(colours, light[np.newaxis], HDR)[0].tolist() for light in pure.values()]
    assert numbers == [[0, 0], [1, 1], [2, 2]]


def test_clipping_counts_channels_at_the_top():
    target = sdr_target()
    signal = np.array([[[1.0, 0.5, 0.2], [1.0, 1.0, 0.9], [1.0, 0.9996, 1.0], [0.99, 0.99, 0.99]]])
    colours = picture_colours(CLIPPING, target, 100.0)
    assert mark_numbers(colours, np.zeros_like(signal), target, signal).tolist() == [[1, 2, 3, 0]]
    linear = Encoding("linear", peak=1000.0)
    light = np.array([[[1000.0, 10.0, 10.0], [1200.0, 1000.0, 999.0], [900.0, 900.0, 900.0]]])
    assert mark_numbers(colours, light, linear).tolist() == [[1, 3, 0]]


def test_monitor_marks_are_beyond_its_primaries_and_above_its_peak():
    """Primaries of BT.2020-2 lie outside P3-D65 (SMPTE EG 432-1); of P3's own only the red lies outside BT.2020."""
    p3 = convert(100.0 * np.eye(3), conversion_matrix("p3-d65", "bt2020"))
    light = np.concatenate([100.0 * np.eye(3)[:2], p3, grey(400.0, 400.2, 401.0)[0], 500.0 * np.eye(3)[1:2]])[
        np.newaxis
    ]
    marks = mark_numbers(monitor_colours("p3-d65", 400.0), light, HDR)[0].tolist()
    assert marks == [1, 1, 0, 0, 0, 0, 0, 2, 3]
    assert mark_numbers(monitor_colours("bt2020", 400.0), light, HDR)[0].tolist() == [0, 0, 1, 0, 0, 0, 0, 2, 2]


@pytest.mark.parametrize("deficiency", [None, "Protanomaly", "Deuteranomaly", "Tritanomaly"])
@pytest.mark.parametrize(
    "marks",
    [
        picture_colours(LUMINANCE, HDR, 100.0).marks,
        picture_colours(LUMINANCE, HDR, 100.0, 1000.0).marks,
        picture_colours(LUMINANCE, sdr_target(), 100.0).marks,
        GAMUT_MARKS,
        CLIPPING_MARKS,
        MONITOR_MARKS,
    ],
    ids=["master", "master on a monitor", "sdr", "gamut", "clipping", "monitor"],
)
def test_the_colours_tell_apart_for_every_eye(marks, deficiency):
    """Colour-vision deficiency at full severity by Machado et al. 2009, as colour-science computes it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.blindness import matrix_cvd_Machado2009

        seen = np.eye(3) if deficiency is None else matrix_cvd_Machado2009(deficiency, 1.0)
    light = np.array([mark.light for mark in marks if mark.light is not None])
    assert len(light) >= 2
    to_xyz = matrix_to_xyz(primaries_named("bt709"))
    lab = lab_from_xyz(np.clip(light @ seen.T, 0.0, 1.0) @ to_xyz.T, to_xyz.sum(axis=1))
    for one, other in itertools.combinations(lab, 2):
        assert delta_e_2000(one, other) >= LEAST_DIFFERENCE


def test_colours_outside_two_gamuts_mix_to_one_between_them():
    """A pixel of a smaller picture is a mean of light; its colour must look like no other mark, nor like grey."""
    to_xyz = matrix_to_xyz(primaries_named("bt709"))
    one, other = (np.array(mark.light) for mark in GAMUT_MARKS[1:])
    lab = lab_from_xyz(np.stack([one, 0.5 * (one + other), other]) @ to_xyz.T, to_xyz.sum(axis=1))
    chroma, hue = np.hypot(lab[:, 1], lab[:, 2]), np.arctan2(lab[:, 2], lab[:, 1])
    assert chroma[1] > 0.9 * min(chroma[0], chroma[2])
    assert min(hue[0], hue[2]) < hue[1] < max(hue[0], hue[2])


def test_what_is_not_marked_stays_grey_and_below_the_bright_marks():
    greys = grey_light(np.array([0.0, 1.0, 5.0, 1000.0, 4000.0]))
    assert (np.diff(greys) >= 0.0).all()
    assert greys[0] < 1e-6
    assert greys[-1] == pytest.approx(0.4)
