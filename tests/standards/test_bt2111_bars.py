"""Printed code values of Recommendation ITU-R BT.2111-3 through matrix, curve and rounding together (10-bit narrow)."""

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix, convert
from tonemap.signal_range import quantise
from tonemap.transfer import hlg_oetf, hlg_oetf_inverse, pq_eotf, pq_eotf_inverse

# BT.709 colours of the bottom row at 75 % HLG and 58 % PQ: lit channels, printed R, G, B codes of HLG and of PQ.
PATCHES = [
    ((1, 1, 0), (713, 719, 316), (568, 571, 381)),
    ((0, 1, 1), (538, 709, 718), (484, 566, 571)),
    ((0, 1, 0), (512, 706, 296), (474, 564, 368)),
    ((1, 0, 1), (651, 286, 705), (536, 361, 564)),
    ((1, 0, 0), (639, 269, 164), (530, 350, 256)),
    ((0, 0, 1), (227, 147, 702), (317, 236, 562)),
]
BT2087 = np.array([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]])  # as BT.2087-0 prints
IDS = ["yellow", "cyan", "green", "magenta", "red", "blue"]


@pytest.mark.parametrize(("lit", "hlg", "pq"), PATCHES, ids=IDS)
def test_hlg_patches_of_bt2111_have_their_printed_codes(lit, hlg, pq):
    """Scene light, no OOTF, by the printed matrix: it puts green's G at 706.498, the exact one at 706.506."""
    scene = hlg_oetf_inverse(np.array(0.75)) * np.array(lit, np.float64)
    assert tuple(quantise(hlg_oetf(convert(scene, BT2087)), 10, "narrow").tolist()) == hlg
    exact = 876.0 * hlg_oetf(convert(scene, conversion_matrix("bt709", "bt2020"))) + 64.0
    np.testing.assert_allclose(exact, hlg, rtol=0, atol=0.507)


@pytest.mark.parametrize(("lit", "hlg", "pq"), PATCHES, ids=IDS)
def test_pq_patches_of_bt2111_have_their_printed_codes(lit, hlg, pq):
    """Display light of 58.000 % PQ, 201.67 cd/m2."""
    light = pq_eotf(np.array(0.58)) * np.array(lit, np.float64)
    signal = pq_eotf_inverse(convert(light, conversion_matrix("bt709", "bt2020")))
    assert tuple(quantise(signal, 10, "narrow").tolist()) == pq


def test_grey_levels_of_bt2111_have_their_printed_codes():
    """The stair, bars and side panels. Without the stripes at 48 and 80: "2 %" is their label, not what is rounded."""
    stair = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])
    assert quantise(stair, 10, "narrow").tolist() == [64, 152, 239, 327, 414, 502, 590, 677, 765, 852, 940]
    assert quantise(np.array([0.75, 0.58, 0.4]), 10, "narrow").tolist() == [721, 572, 414]
    assert quantise(np.array([0.04]), 10, "narrow").tolist() == [99]
    assert quantise(np.array([0.58, 0.4, 0.02, 0.04, 1.0]), 10, "full").tolist() == [593, 409, 20, 41, 1023]
