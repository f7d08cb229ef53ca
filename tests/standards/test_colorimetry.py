"""Primaries, matrices and adaptation against the documents that print them, colour-science and OpenColorIO."""

from itertools import product

import numpy as np
import pytest

from tonemap.colorimetry import (
    ADAPTATIONS,
    D65,
    PRIMARIES,
    adaptation_matrix,
    conversion_matrix,
    convert,
    luminance,
    matrix_to_xyz,
    primaries_named,
    xyz_of_chromaticity,
)
from tonemap.errors import WrongCall
from tonemap.transfer import HLG_WEIGHTS

COLOUR_NAMES = {
    "bt709": "ITU-R BT.709",
    "bt2020": "ITU-R BT.2020",
    "p3-d65": "P3-D65",
    "p3-dci": "DCI-P3",
    "ap0": "ACES2065-1",
    "ap1": "ACEScg",
}


PAIRS = list(product(sorted(PRIMARIES), repeat=2))


@pytest.fixture(scope="module")
def spaces(colour):
    """colour-science's spaces under our names, with derived matrices: some stored ones are rounded."""
    copies = {name: colour.RGB_COLOURSPACES[theirs].copy() for name, theirs in COLOUR_NAMES.items()}
    for space in copies.values():
        space.use_derived_transformation_matrices(True)
    return copies


def test_every_set_of_primaries_has_a_counterpart():
    assert set(PRIMARIES) == set(COLOUR_NAMES)


@pytest.mark.parametrize("name", sorted(PRIMARIES))
def test_primaries_and_matrix_to_xyz_match_colour_science(spaces, name):
    """Chromaticities exactly; matrix worst measured 4.4e-16 (AP0)."""
    ours, theirs = PRIMARIES[name], spaces[name]
    assert theirs.primaries.tolist() == [list(ours.red), list(ours.green), list(ours.blue)]
    assert theirs.whitepoint.tolist() == list(ours.white)
    np.testing.assert_allclose(matrix_to_xyz(ours), theirs.matrix_RGB_to_XYZ, rtol=0, atol=2e-15)


# As printed to ten digits: AP0 in SMPTE ST 2065-1:2012, AP1 in Academy S-2014-004; the others are computed by
# SMPTE RP 177:1993 in float64, for their documents print at most four digits.
@pytest.mark.parametrize(
    ("name", "matrix"),
    [
        (
            "bt709",
            [
                [0.4123907993, 0.3575843394, 0.1804807884],
                [0.2126390059, 0.7151686788, 0.0721923154],
                [0.0193308187, 0.1191947798, 0.9505321522],
            ],
        ),
        (
            "bt2020",
            [
                [0.6369580483, 0.1446169036, 0.1688809752],
                [0.2627002120, 0.6779980715, 0.0593017165],
                [0.0, 0.0280726930, 1.0609850577],
            ],
        ),
        (
            "p3-d65",
            [
                [0.4865709486, 0.2656676932, 0.1982172852],
                [0.2289745641, 0.6917385218, 0.0792869141],
                [0.0, 0.0451133819, 1.0439443689],
            ],
        ),
        (
            "ap0",
            [
                [0.9525523959, 0.0, 0.0000936786],
                [0.3439664498, 0.7281660966, -0.0721325464],
                [0.0, 0.0, 1.0088251844],
            ],
        ),
        (
            "ap1",
            [
                [0.6624541811, 0.1340042065, 0.1561876870],
                [0.2722287168, 0.6740817658, 0.0536895174],
                [-0.0055746495, 0.0040607335, 1.0103391003],
            ],
        ),
    ],
)
def test_matrix_to_xyz_matches_published_values(name, matrix):
    """Worst measured: 1e-10 (the printed AP0 matrix), 5e-11 elsewhere: the last printed digit."""
    np.testing.assert_allclose(matrix_to_xyz(PRIMARIES[name]), matrix, rtol=0, atol=1.01e-10)


@pytest.mark.parametrize("name", sorted(PRIMARIES))
def test_rgb_white_is_the_white_chromaticity_at_unit_luminance(name):
    """SMPTE RP 177:1993, the condition that scales the primaries. Worst measured: 2.2e-16."""
    primaries = PRIMARIES[name]
    np.testing.assert_allclose(
        matrix_to_xyz(primaries) @ np.ones(3), xyz_of_chromaticity(primaries.white), rtol=0, atol=1e-15
    )


def test_luma_weights_that_the_recommendations_print_are_the_rounded_luminance_rows():
    """BT.709-6, item 3.2 and BT.2020-2, Table 4, as printed to four digits."""
    np.testing.assert_allclose(matrix_to_xyz(PRIMARIES["bt709"])[1], [0.2126, 0.7152, 0.0722], rtol=0, atol=5e-5)
    np.testing.assert_allclose(matrix_to_xyz(PRIMARIES["bt2020"])[1], HLG_WEIGHTS, rtol=0, atol=5e-5)


# BT.2407-0, equation (1), and BT.2087-0, as printed to four digits.
@pytest.mark.parametrize(
    ("source", "destination", "printed"),
    [
        ("bt2020", "bt709", [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]),
        ("bt709", "bt2020", [[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]]),
    ],
)
def test_conversion_matches_the_matrix_that_the_itu_prints(source, destination, printed):
    np.testing.assert_allclose(conversion_matrix(source, destination), printed, rtol=0, atol=5.0e-5)


@pytest.mark.parametrize(
    ("source", "destination", "computed"),
    [
        (
            "bt2020",
            "bt709",
            [
                [1.660491002108, -0.587641138789, -0.072849863320],
                [-0.124550474522, 1.132899897126, -0.008349422604],
                [-0.018150763355, -0.100578898008, 1.118729661363],
            ],
        ),
        (
            "bt2020",
            "p3-d65",
            [
                [1.343578252584, -0.282179670526, -0.061398582058],
                [-0.065297452789, 1.075787915849, -0.010490463059],
                [0.002821787262, -0.019598494524, 1.016776707263],
            ],
        ),
        (
            "p3-d65",
            "bt709",
            [
                [1.224940176281, -0.224940176281, 0.0],
                [-0.042056954710, 1.042056954710, 0.0],
                [-0.019637554590, -0.078636045551, 1.098273600141],
            ],
        ),
    ],
)
def test_conversion_matches_the_primaries_to_twelve_digits(source, destination, computed):
    """Computed from the printed primaries by SMPTE RP 177:1993, float64."""
    np.testing.assert_allclose(conversion_matrix(source, destination), computed, rtol=0, atol=5.1e-13)


@pytest.mark.parametrize(("method", "theirs"), [("bradford", "Bradford"), ("cat02", "CAT02")])
@pytest.mark.parametrize(("source", "destination"), PAIRS)
def test_conversion_matches_colour_science(colour, spaces, source, destination, method, theirs):
    """Every pair, both adaptations. Worst measured: 8.9e-16."""
    expected = colour.matrix_RGB_to_RGB(spaces[source], spaces[destination], theirs)
    np.testing.assert_allclose(conversion_matrix(source, destination, method), expected, rtol=0, atol=5e-15)


@pytest.mark.parametrize(("method", "theirs"), [("bradford", "Bradford"), ("cat02", "CAT02")])
def test_adaptation_coefficients_match_colour_science(colour, method, theirs):
    assert ADAPTATIONS[method].tolist() == colour.CHROMATIC_ADAPTATION_TRANSFORMS[theirs].tolist()


@pytest.mark.parametrize(
    ("builtin", "source", "destination"),
    [
        ("UTILITY - ACES-AP0_to_CIE-XYZ-D65_BFD", "ap0", None),
        ("UTILITY - ACES-AP1_to_CIE-XYZ-D65_BFD", "ap1", None),
        ("UTILITY - ACES-AP1_to_LINEAR-REC709_BFD", "ap1", "bt709"),
        ("ACEScg_to_ACES2065-1", "ap1", "ap0"),
        ("DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.709", None, "bt709"),
        ("DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.2020", None, "bt2020"),
        ("DISPLAY - CIE-XYZ-D65_to_G2.6-P3-D65", None, "p3-d65"),
        ("DISPLAY - CIE-XYZ-D65_to_G2.6-P3-DCI-BFD", None, "p3-dci"),
    ],
)
def test_conversion_matches_opencolorio(ocio_matrix, builtin, source, destination):
    """None stands for XYZ at D65; compared by way of BT.2020. Worst measured: 2.9e-15 (P3-DCI)."""
    bt2020 = matrix_to_xyz(PRIMARIES["bt2020"])
    before = bt2020 if source is None else conversion_matrix("bt2020", source)
    after = np.linalg.inv(bt2020) if destination is None else conversion_matrix(destination, "bt2020")
    np.testing.assert_allclose(after @ ocio_matrix(builtin) @ before, np.eye(3), rtol=0, atol=1e-14)


def test_bradford_and_cat02_differ_where_the_whites_differ_and_only_there():
    """P3-DCI to BT.2020 differs by 0.008 (measured): a swapped method can't pass unseen."""
    for name in ("p3-dci", "ap0", "ap1"):
        difference = conversion_matrix(name, "bt2020") - conversion_matrix(name, "bt2020", "cat02")
        assert np.abs(difference).max() > 1e-3, name
    assert np.array_equal(conversion_matrix("p3-d65", "bt2020"), conversion_matrix("p3-d65", "bt2020", "cat02"))


@pytest.mark.parametrize("method", ["bradford", "cat02"])
@pytest.mark.parametrize(("source", "destination"), PAIRS)
def test_white_stays_white_and_conversions_invert(source, destination, method):
    """Worst measured: 1.3e-15 on white and on the way back."""
    there, back = conversion_matrix(source, destination, method), conversion_matrix(destination, source, method)
    np.testing.assert_allclose(there @ np.ones(3), np.ones(3), rtol=0, atol=5e-15)
    np.testing.assert_allclose(back @ there, np.eye(3), rtol=0, atol=5e-15)


def test_adaptation_takes_one_white_to_the_other():
    for method in ADAPTATIONS:
        for white in (PRIMARIES["p3-dci"].white, PRIMARIES["ap0"].white):
            moved = adaptation_matrix(white, D65, method) @ xyz_of_chromaticity(white)
            np.testing.assert_allclose(moved, xyz_of_chromaticity(D65), rtol=0, atol=2e-15)


def test_bt709_light_lies_inside_bt2020_and_bt2020_does_not_lie_inside_bt709():
    """BT.2087-0: nothing clips on the way up. BT.2407-0: the BT.2020 primaries in BT.709 light, computed."""
    assert np.all(conversion_matrix("bt709", "bt2020") >= 0.0)
    moved = convert(np.eye(3), conversion_matrix("bt2020", "bt709"))
    expected = [[1.660491, -0.124550, -0.018151], [-0.587641, 1.132900, -0.100579], [-0.072850, -0.008349, 1.118730]]
    np.testing.assert_allclose(moved, expected, rtol=0, atol=5.1e-7)


def test_luminance_is_the_y_of_xyz(colour, spaces):
    """Exact colorimetry, not the printed luma weights, which are 2.9e-5 off in blue. Worst measured: 4e-16 relative."""
    light = np.random.default_rng(7).random((500, 3)) * 1000.0
    expected = (light @ spaces["bt2020"].matrix_RGB_to_XYZ.T)[:, 1]
    np.testing.assert_allclose(luminance(light), expected, rtol=2e-15)
    assert luminance(np.array([0.0, 0.0, 1.0])) == pytest.approx(0.0593017165, abs=5.1e-11)
    assert luminance(np.full((2, 4, 3), 203.0)) == pytest.approx(np.full((2, 4), 203.0), rel=1e-15)


def test_conversion_matrix_is_one_shared_array_that_nobody_can_change():
    matrix = conversion_matrix("bt709", "bt2020")
    assert matrix is conversion_matrix("bt709", "bt2020")
    with pytest.raises(ValueError, match="read-only"):
        matrix[0, 0] = 2.0


def test_unknown_primaries_are_refused_with_the_near_names():
    with pytest.raises(WrongCall) as near:
        primaries_named("bt2021")
    assert str(near.value) == "primaries 'bt2021' are not known; did you mean 'bt2020'?"
    with pytest.raises(WrongCall) as far:
        conversion_matrix("bt709", "wide")
    assert str(far.value) == ("primaries 'wide' are not known; choose one of ap0, ap1, bt2020, bt709, p3-d65, p3-dci")
