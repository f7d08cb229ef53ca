"""R'G'B' to the planes of a codec: against colour-science, and back by the reader of planes."""

import colour
import numpy as np
import pytest

from tonemap.media.coded_planes import planes_of_signal
from tonemap.media.planes import SITINGS, Coding

WEIGHTS = {"bt709": "ITU-R BT.709", "bt2020": "ITU-R BT.2020", "bt601": "ITU-R BT.601"}


@pytest.mark.parametrize("matrix", WEIGHTS)
@pytest.mark.parametrize("bits", [8, 10])
@pytest.mark.parametrize("signal_range", ["narrow", "full"])
def test_codes_of_whole_chroma_are_those_of_colour_science(matrix, bits, signal_range):
    signal = np.random.default_rng(1).random((30, 40, 3))
    planes = planes_of_signal(signal, Coding(bits, signal_range, matrix)).components
    expected = colour.RGB_to_YCbCr(
        signal,
        K=colour.WEIGHTS_YCBCR[WEIGHTS[matrix]],
        in_bits=bits,
        out_bits=bits,
        out_legal=signal_range == "narrow",
        out_int=True,
    )
    for plane, codes in zip(planes, np.moveaxis(expected, -1, 0), strict=True):
        steps = np.abs(plane.astype(int) - codes)
        assert steps.max() <= 1
        assert (steps > 0).mean() < 0.001  # of float32 at a half


@pytest.mark.parametrize("siting", SITINGS)
@pytest.mark.parametrize("size", [(32, 48), (31, 47)])
def test_a_slope_survives_the_way_there_and_back_with_its_siting(siting, size):
    """Linear filters leave a slope where it was, if the sample's place is understood alike both ways."""
    rows, columns = size
    across, down = np.meshgrid(np.linspace(0.0, 1.0, columns), np.linspace(0.0, 1.0, rows))
    signal = np.stack([0.2 + 0.5 * across, 0.3 + 0.2 * down, 0.7 - 0.3 * across], axis=-1)
    coding = Coding(16, "full", "bt709", (2, 2), siting)
    planes = planes_of_signal(signal, coding)
    assert planes.components[1].shape == (-(-rows // 2), -(-columns // 2))
    back = np.moveaxis(planes.signal(), 0, -1)
    np.testing.assert_allclose(back[3:-3, 3:-3], signal[3:-3, 3:-3], atol=4e-5)


def test_a_grey_has_no_chroma_and_an_edge_is_filtered_as_stated():
    """(1 2 1)/4 on samples that lie on those of luma: a step of Cb behind column 3 leaves three quarters at 4."""
    grey = planes_of_signal(np.full((4, 8, 3), 0.5), Coding(10, "narrow", "bt709", (2, 1)))
    assert {int(code) for plane in grey.components[1:] for code in plane.ravel()} == {512}
    signal = np.zeros((2, 8, 3))
    signal[:, 4:, 2] = 1.0
    blue = planes_of_signal(signal, Coding(10, "narrow", "bt709", (2, 1))).components[1]
    full = 0.5 * 896.0
    assert blue[0].tolist() == [512, 512, round(512 + 0.75 * full), round(512 + full)]
