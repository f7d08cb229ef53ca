"""Line-up patterns at any size, range and depth: areas, steps, words, and what is said of a wrong call."""

from dataclasses import replace

import colour
import numpy as np
import pytest

from tonemap.encoding import Encoding, sdr_target
from tonemap.errors import WrongCall
from tonemap.line_up import windows
from tonemap.line_up.patterns import PATTERNS, brightness_of, draw_pattern
from tonemap.line_up.ramps import slow_ramp, whole_ramp
from viewer.line_up import set_type

PQ = Encoding("pq", "bt2020", "narrow", 10)
ENCODINGS = {
    "pq": PQ,
    "pq full 16": replace(PQ, signal_range="full", bits=16),
    "p3": replace(PQ, primaries="p3-d65", bits=12),
    "sdr": sdr_target(),
    "sdr full 8": replace(sdr_target(black=0.05), signal_range="full", bits=8),
}
SIZES = ((640, 360), (1280, 720), (1366, 768), (2048, 1080), (1080, 1350))


@pytest.mark.parametrize("size", SIZES, ids=lambda each: f"{each[0]}x{each[1]}")
@pytest.mark.parametrize("name", PATTERNS)
def test_every_pattern_fits_every_size(name, size):
    for encoding in ENCODINGS.values():
        codes = draw_pattern(name, encoding, *size, set_type)
        assert codes.shape == (size[1], size[0], 3)
        assert codes.dtype == np.uint16
        assert int(codes.max()) < 2**encoding.bits
        border = np.concatenate([codes[0], codes[-1], codes[:, 0], codes[:, -1]])
        assert len(np.unique(border, axis=0)) == 1, "nothing touches the edge"


@pytest.mark.parametrize("share", windows.SHARES)
@pytest.mark.parametrize("size", [(1280, 720), (3840, 2160), (4096, 2160)], ids=str)
def test_a_window_has_its_share_of_the_area_and_no_light_else(share, size):
    box = windows.window(share, *size)
    assert box.width * box.height == pytest.approx(share * size[0] * size[1], rel=6e-3)
    assert (box.left + box.right, box.top + box.bottom) == size
    if size[0] == 1280:
        codes = draw_pattern(f"window-{round(100 * share)}", PQ, *size, set_type)
        assert (codes == 723).all(axis=2).sum() == pytest.approx(box.width * box.height, rel=1e-2)  # 1000 cd/m2
        outside = codes.copy()
        outside[box.pixels] = 64
        assert outside[:-64].max() == 64
        assert outside.max() < 310


def very_bright(encoding):
    return [name for name in PATTERNS if brightness_of(name, encoding).is_very_bright]


def test_a_mean_of_200_nits_and_more_than_1000_on_a_hundredth_of_the_area_are_very_bright():
    large = ["window-25", "window-50", "window-100"]
    assert very_bright(PQ) == ["steps", *large]
    assert [name for name in PATTERNS if brightness_of(name, PQ).is_bright_on_the_whole] == large
    assert not very_bright(sdr_target())
    of_4000 = very_bright(replace(PQ, peak=4000.0))
    assert of_4000 == ["steps", "ramps", *(name for name in PATTERNS if name.startswith("window-"))]


@pytest.mark.parametrize("size", [(640, 360), (1280, 720), (3840, 2160)], ids=str)
@pytest.mark.parametrize("name", PATTERNS)
def test_the_brightness_is_that_of_the_codes_at_every_size(name, size):
    """By the EOTF of colour-science; words and edges apart."""
    encoding = replace(PQ, peak=4000.0)
    signal = draw_pattern(name, replace(encoding, bits=16, signal_range="full"), *size, set_type) / 65535.0
    light = colour.models.eotf_ST2084(signal[::3]) @ colour.models.RGB_COLOURSPACE_BT2020.matrix_RGB_to_XYZ[1]
    found = brightness_of(name, encoding)
    assert found.peak == pytest.approx(light.max(), rel=2e-3)
    assert found.share == pytest.approx((light > 1001.0).mean(), abs=6e-3)
    assert found.mean == pytest.approx(light.mean(), rel=0.25)


def test_slow_ramps_have_the_steps_of_their_depth():
    deep = replace(PQ, bits=16)
    counts = [len(np.unique(slow_ramp(depth, 3840, deep))) for depth in (8, 10, 12)]
    assert counts == [17, 65, 257]
    assert len(np.unique(slow_ramp(12, 3840, PQ))) == 65
    assert set(slow_ramp(8, 3840, PQ).tolist()) == {4 * code for code in range(82, 99)}  # 8-bit codes are a quarter


def test_a_whole_ramp_goes_from_black_to_the_peak_and_never_falls():
    ramp = whole_ramp(1000, PQ).astype(int)
    assert (ramp[0], ramp[-1]) == (64, 723)
    assert set(np.diff(ramp)) == {0, 1}


@pytest.mark.parametrize(
    ("name", "size", "sentence"),
    [
        ("step", (1280, 720), "pattern 'step' is not known; did you mean 'steps'?"),
        (
            "steps",
            (320, 200),
            "a pattern of 320 x 200 is not possible; choose from 640 x 360 to 8192 x 8192 pixels",
        ),
    ],
)
def test_a_wrong_call_is_said(name, size, sentence):
    with pytest.raises(WrongCall) as fault:
        draw_pattern(name, PQ, *size, set_type)
    assert str(fault.value) == sentence


def test_words_stand_on_one_line_whatever_their_letters():
    for size in (16.0, 23.5, 48.0):
        for text in ("nx", "xg", "xQ", "HxÄ"):
            coverage = set_type(text, size, True)
            foot = set_type("x", size, True)
            rows = np.flatnonzero(foot.max(axis=1) > 0.5)
            letter = coverage[:, : foot.shape[1]] if text[0] == "x" else coverage[:, -foot.shape[1] :]
            assert rows[-1] == round(size) - 1
            if text in ("xg", "nx"):
                assert np.flatnonzero(letter[:, : foot.shape[1] // 2].max(axis=1) > 0.5)[-1] == rows[-1]
