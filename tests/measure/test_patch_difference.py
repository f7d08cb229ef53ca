"""A patch's difference: CIEDE2000 on the published pairs, through patches of a picture."""

import numpy as np
import pytest

from tonemap.colorimetry import PRIMARIES, matrix_to_xyz
from tonemap.measure.patch_difference import patch_difference

TO_XYZ = matrix_to_xyz(PRIMARIES["bt2020"])
WHITE = 100.0

# Sharma, Wu, Dalal 2005, Table 1: pairs 1, 5, 17, 20 and 25.
PAIRS = [
    ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
    ((50.0, -1.1848, -84.8006), (50.0, 0.0, -82.7485), 1.0000),
    ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ((50.0, 2.5, 0.0), (58.0, 24.0, 15.0), 19.4535),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
]


def light_of_lab(lab):
    """Return BT.2020 light of CIELAB about D65 of 100 cd/m2; CIE 15:2018, clause 8.2.1, turned round."""
    up = (lab[0] + 16.0) / 116.0
    roots = np.array([up + lab[1] / 500.0, up, up - lab[2] / 200.0])
    ratio = np.where(roots > 24.0 / 116.0, roots**3, (roots - 16.0 / 116.0) * 108.0 / 841.0)
    return np.linalg.solve(TO_XYZ, ratio * (TO_XYZ @ np.full(3, WHITE)))


def picture_of(lab):
    """Return a picture of which the left half is the colour, with noise whose mean is nothing, and the rest white."""
    picture = np.full((8, 8, 3), WHITE)
    picture[:, :4] = light_of_lab(lab)
    picture[::2, :4] *= 1.01
    picture[1::2, :4] *= 0.99
    return picture


LEFT = np.repeat([[True] * 4 + [False] * 4], 8, axis=0)


@pytest.mark.parametrize(("one", "other", "published"), PAIRS)
def test_published_pairs_through_a_patch(one, other, published):
    light, compared = picture_of(one), picture_of(other)
    found = patch_difference(LEFT, light, compared, compared, None, WHITE)
    assert found.pixels == 32
    assert found.delta_e_2000 == pytest.approx(published, abs=1e-4)


def test_only_what_the_master_has_within_reach_counts():
    light = np.full((8, 8, 3), 50.0)
    master = light.copy()
    master[:2] = 800.0  # above the limit: it may differ as it likes
    found = patch_difference(LEFT, light, master, master, 100.0, WHITE)
    assert (found.pixels, found.delta_e_itp, found.delta_e_2000) == (24, 0.0, 0.0)
    everywhere = patch_difference(LEFT, light, master, master, None, WHITE)
    assert everywhere.delta_e_itp > 50.0


def test_nothing_to_compare_gives_no_figure():
    light = np.full((8, 8, 3), 800.0)
    assert patch_difference(LEFT, light, light, light, 100.0, WHITE).delta_e_2000 is None
    assert patch_difference(LEFT, light, None, light, None, WHITE).delta_e_itp is None
