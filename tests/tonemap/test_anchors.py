"""Anchors: where each method puts 18 % grey, reference white and the peak, and exposures that match them.

Check values are computed from the published formulas, in float64: cd/m2, and signal of BT.1886 at 100 and 0 cd/m2 in %.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from tonemap.adjustments import InputAdjustments
from tonemap.anchors import GREY_NITS, WHITE_NITS, anchors_of, match_anchor, neutral_result
from tonemap.encoding import Encoding, sdr_target
from tonemap.host import find_operators
from tonemap.operator import TONE
from tonemap.rendition import Rendition, chain_of

HOST = find_operators()
TO_WHITE = math.log2(100.0 / 203.0)  # stops that take 203 cd/m2 to 100
LEVELS = (26.0, 50.69702849, 100.0, 203.0, 1000.0)  # the second is a neutral HLG signal of 50 %, shown at 1000 cd/m2
MASTER = Encoding("linear", peak=1000.0)

# A rendition, the peak of the master as its operator sees it, and cd/m2 and % at each level.
METHODS = {
    "EETF": (
        Rendition("a", "bt2390"),
        1000.0,
        ((26.00, 57.0), (46.61, 72.8), (69.45, 85.9), (88.24, 94.9), (100.00, 100.0)),
    ),
    "scaled + EETF": (
        Rendition("b", "bt2390", input=InputAdjustments(exposure=TO_WHITE)),
        1000.0 * 100.0 / 203.0,
        ((12.81, 42.5), (24.97, 56.1), (48.85, 74.2), (78.00, 90.2), (100.00, 100.0)),
    ),
    "method A": (
        Rendition("c", "bt2446_a"),
        1000.0,
        ((7.22, 33.5), (12.80, 42.5), (22.66, 53.9), (40.60, 68.7), (100.00, 100.0)),
    ),
    "method C, cut at 100 %": (
        Rendition("d", "bt2446_c"),
        1000.0,
        ((21.79, 53.0), (42.48, 70.0), (73.38, 87.9), (90.65, 96.0), (100.00, 100.0)),
    ),
    "linear, clipped": (
        Rendition("e", "linear_scale"),
        1000.0,
        ((12.81, 42.5), (24.97, 56.1), (49.26, 74.5), (100.00, 100.0), (100.00, 100.0)),
    ),
    "extended Reinhard on 203": (
        Rendition("f", "reinhard_extended", input=InputAdjustments(exposure=TO_WHITE)),
        1000.0 * 100.0 / 203.0,
        ((11.41, 40.5), (20.19, 51.3), (33.67, 63.5), (52.06, 76.2), (100.00, 100.0)),
    ),
}


@pytest.mark.parametrize("gamut", ["gamut_clip", "gamut_hue", "gamut_boundary"])
@pytest.mark.parametrize("method", METHODS)
def test_greys_land_where_the_methods_put_them(method, gamut):
    rendition, peak, expected = METHODS[method]
    chain = chain_of(replace(rendition, gamut=gamut), replace(MASTER, peak=peak), HOST)
    signal, nits = neutral_result(np.array(LEVELS), chain)
    assert nits == pytest.approx([item[0] for item in expected], abs=5.1e-3)
    assert 100.0 * signal == pytest.approx([item[1] for item in expected], abs=5.1e-2)


@pytest.mark.parametrize("method", ["EETF", "method A", "method C, cut at 100 %", "linear, clipped"])
def test_anchors_are_grey_white_and_peak(method):
    rendition, _, expected = METHODS[method]
    anchors = anchors_of(chain_of(rendition, MASTER, HOST))
    assert [anchor.name for anchor in anchors] == ["grey", "white", "peak"]
    assert [anchor.master for anchor in anchors] == [GREY_NITS, WHITE_NITS, 1000.0] == [26.0, 203.0, 1000.0]
    for anchor, (nits, percent) in zip(anchors, (expected[0], expected[3], expected[4]), strict=True):
        assert anchor.nits == pytest.approx(nits, abs=5.1e-3)
        assert 100.0 * anchor.signal == pytest.approx(percent, abs=5.1e-2)


@pytest.mark.parametrize("transfer", ["pq", "hlg"])
def test_anchors_do_not_depend_on_how_the_master_is_encoded(transfer):
    """They are greys of the light, whatever codes the master has: the levels alone matter."""
    coded = Encoding(transfer, "bt2020", "narrow", 10, peak=1000.0)
    rendition = METHODS["EETF"][0]
    assert anchors_of(chain_of(rendition, coded, HOST)) == anchors_of(chain_of(rendition, MASTER, HOST))


def test_anchors_include_the_output_adjustments_and_the_targets_black():
    rendition = replace(METHODS["EETF"][0], target=sdr_target(203.0, 0.05))
    grey, white, peak = anchors_of(chain_of(rendition, MASTER, HOST))
    assert peak.nits == pytest.approx(203.0, rel=1e-8)
    assert 26.0 < grey.nits < 27.0  # both are lifted with the black
    assert 159.04 < white.nits < 159.5
    darker = replace(rendition, output=replace(rendition.output, slope=(0.5, 0.5, 0.5)))
    assert anchors_of(chain_of(darker, MASTER, HOST))[2].signal == pytest.approx(0.5, abs=1e-9)


TONE_OPERATORS = [name for name, item in HOST.operators.items() if item.operator.kind == TONE]


@pytest.mark.parametrize("aim", [11.7, 20.0, 60.0])
@pytest.mark.parametrize("name", TONE_OPERATORS)
def test_matching_reaches_its_aim(name, aim):
    rendition = Rendition("trial", name, "gamut_clip")
    matched = match_anchor(rendition, chain_of(rendition, MASTER, HOST), aim)
    grey = anchors_of(chain_of(matched, MASTER, HOST))[0]
    assert grey.nits == pytest.approx(aim, abs=1e-3)
    assert matched == replace(rendition, input=matched.input)
    assert matched.input == replace(rendition.input, exposure=matched.input.exposure)


def test_matching_white_reaches_its_aim():
    rendition = Rendition("trial", "bt2390")
    matched = match_anchor(rendition, chain_of(rendition, MASTER, HOST), 75.0, "white")
    assert anchors_of(chain_of(matched, MASTER, HOST))[1].nits == pytest.approx(75.0, abs=1e-3)


def test_matching_keeps_the_other_input_adjustments():
    start = Rendition("trial", "knee", input=InputAdjustments(exposure=2.0, contrast=1.2, pivot=40.0, saturation=0.9))
    matched = match_anchor(start, chain_of(start, MASTER, HOST), 15.0)
    assert matched.input == replace(start.input, exposure=matched.input.exposure)
    assert anchors_of(chain_of(matched, MASTER, HOST))[0].nits == pytest.approx(15.0, abs=1e-3)


@pytest.mark.parametrize(("aim", "end"), [(150.0, 8.0), (0.0, -8.0)])
def test_an_aim_out_of_reach_leaves_the_nearest_end(aim, end):
    rendition = Rendition("trial", "logarithmic")
    assert match_anchor(rendition, chain_of(rendition, MASTER, HOST), aim).input.exposure == end
