"""Structure kept: synthetic texture whose answer is known."""

import numpy as np
import pytest
from scipy import ndimage

from tonemap.errors import WrongCall
from tonemap.measure.patches import rendition_light
from tonemap.measure.structure import KERNEL, MasterStructure, laplacian_bands, ranked
from tonemap.picture import light_picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of
from tonemap.transfer import pq_eotf


def light_of(pq: np.ndarray) -> np.ndarray:
    return np.repeat(pq_eotf(pq)[..., np.newaxis], 3, axis=-1)


def texture(low: float, high: float, seed: int = 1, shape: tuple[int, int] = (96, 128)) -> np.ndarray:
    """Return noise of every scale in PQ, between two signals."""
    rng = np.random.default_rng(seed)
    noise = np.zeros(shape)
    for size in (1, 4, 16):
        noise += np.kron(rng.uniform(-1, 1, (shape[0] // size, shape[1] // size)), np.ones((size, size)))
    return low + (high - low) * (noise - noise.min()) / (noise.max() - noise.min())


HIGH = texture(0.60, 0.70)  # 244 to 620 cd/m2


def test_an_unchanged_picture_keeps_all_at_every_scale():
    kept = MasterStructure(light_of(HIGH)).kept(light_of(HIGH))
    assert [scale.scale_pixels for scale in kept.scales] == [1, 2, 4, 8]
    for figures in (kept.steps, kept.contrast, *kept.scales):
        assert (figures.highlights, figures.midtones, figures.shadows) == (1.0, None, None)


@pytest.mark.parametrize("factor", [0.0, 0.25, 0.5, 1.5, -0.5])
def test_texture_scaled_by_a_factor_gives_that_factor(factor):
    """Worst measured: 1e-12."""
    flatter = HIGH.mean() + factor * (HIGH - HIGH.mean())
    kept = MasterStructure(light_of(HIGH)).kept(light_of(flatter))
    for figures in (kept.steps, *kept.scales):
        assert figures.highlights == pytest.approx(factor, abs=1e-9)


def test_a_clip_keeps_nothing():
    kept = MasterStructure(light_of(HIGH)).kept(np.full((96, 128, 3), 100.0))
    assert kept.steps.highlights == pytest.approx(0.0, abs=1e-12)
    assert kept.contrast.highlights == pytest.approx(0.0, abs=1e-12)


def test_a_shift_in_pq_keeps_every_step():
    kept = MasterStructure(light_of(HIGH)).kept(light_of(HIGH - 0.2))
    assert kept.steps.highlights == pytest.approx(1.0, abs=1e-9)


def test_a_scale_in_pq_keeps_local_contrast_and_loses_steps():
    """Peli's contrast is relative to the surround, so a picture that is darker as a whole keeps it."""
    kept = MasterStructure(light_of(HIGH)).kept(light_of(0.7 * HIGH))
    assert kept.contrast.highlights == pytest.approx(1.0, abs=1e-9)
    assert kept.steps.highlights == pytest.approx(0.7, abs=1e-9)


def test_one_stop_less_light_is_nearly_a_shift_in_pq():
    kept = MasterStructure(light_of(HIGH)).kept(light_of(HIGH) / 2.0)
    assert kept.steps.highlights == pytest.approx(1.0, abs=0.03)


def test_zones_are_kept_apart():
    """Highlights on the left are flattened to a half, shadows on the right doubled; the seam takes a little."""
    dark = texture(0.10, 0.16, seed=2)  # below 2 cd/m2
    master = np.concatenate([HIGH, dark], axis=1)
    rendition = np.concatenate([0.65 + 0.5 * (HIGH - 0.65), 0.13 + 2.0 * (dark - 0.13)], axis=1)
    finest = MasterStructure(light_of(master)).kept(light_of(rendition)).scales[0]
    assert finest.highlights == pytest.approx(0.5, abs=0.05)
    assert finest.shadows == pytest.approx(2.0, abs=0.15)


def test_midtones_lie_between():
    middle = texture(0.36, 0.46, seed=3)  # 21 to 62 cd/m2
    kept = MasterStructure(light_of(middle)).kept(light_of(0.4 + 0.75 * (middle - 0.4)))
    assert kept.steps.midtones == pytest.approx(0.75, abs=1e-9)
    assert (kept.steps.highlights, kept.steps.shadows) == (None, None)


def test_a_blur_loses_the_fine_scale_and_keeps_the_coarse():
    kept = MasterStructure(light_of(HIGH)).kept(light_of(ndimage.gaussian_filter(HIGH, 1.5)))
    fine, *_, coarse = (scale.highlights for scale in kept.scales)
    assert fine < 0.15
    assert coarse > 0.85


def test_noise_is_not_taken_for_kept_texture():
    """Energy alone would call a clip with noise rich; what is counted is the master's own texture."""
    noise = 0.5 + np.random.default_rng(9).normal(0.0, 0.03, HIGH.shape)
    assert abs(MasterStructure(light_of(HIGH)).kept(light_of(noise)).steps.highlights) < 0.1


def test_flat_master_has_no_figure():
    flat = np.full((32, 32, 3), 300.0)
    assert MasterStructure(flat).kept(flat).steps.highlights is None


@pytest.mark.parametrize("shape", [(33, 47), (12, 12), (1, 1), (2, 5), (64, 3)])
def test_odd_and_tiny_pictures_are_measured(shape):
    pq = np.random.default_rng(4).uniform(0.6, 0.7, shape)
    kept = MasterStructure(light_of(pq)).kept(light_of(pq))
    assert kept.steps.highlights == (None if pq.size == 1 else pytest.approx(1.0))


def test_first_band_matches_a_pyramid_built_with_scipy():
    """Reduced by the kernel with mirrored edges, expanded by the same kernel on zeros in between; inside the frame."""
    rows = ndimage.correlate1d(HIGH, KERNEL, axis=0, mode="mirror")
    small = ndimage.correlate1d(rows, KERNEL, axis=1, mode="mirror")[::2, ::2]
    wide = np.zeros_like(HIGH)
    wide[::2, ::2] = 4.0 * small
    for axis in (0, 1):
        wide = ndimage.correlate1d(wide, KERNEL, axis=axis)
    bands, surrounds = laplacian_bands(HIGH)
    inside = np.s_[4:-4, 4:-4]
    np.testing.assert_allclose(surrounds[0][inside], wide[inside], atol=1e-12)
    np.testing.assert_allclose(bands[0] + surrounds[0], HIGH, atol=1e-15)


def test_renditions_are_ranked_by_what_they_keep():
    master = MasterStructure(light_of(HIGH))
    mean = HIGH.mean()
    kept = {f"{factor}": master.kept(light_of(mean + factor * (HIGH - mean))) for factor in (0.2, 0.9, 1.2, 0.5, 1.05)}
    assert [name for name, _ in ranked(kept)] == ["1.05", "0.9", "1.2", "0.5", "0.2"]
    assert ranked(kept, "shadows") == []


def test_a_clip_ranks_last_on_the_demo_scene(demo_frame):
    light = demo_frame.astype(np.float64)
    picture, master = light_picture(light), MasterStructure(light)
    kept = {}
    for tone in ("hard_clip", "bt2390", "bt2446_a"):
        chain = chain_of(Rendition(tone, tone), picture.encoding)
        kept[tone] = master.kept(rendition_light(ReferenceEngine().signal(picture, chain), chain.rendition.target))
    order = ranked(kept)
    assert [name for name, _ in order] == ["bt2446_a", "bt2390", "hard_clip"]
    assert order[-1][1] < 0.5 * order[0][1]


def test_wrong_size_and_unknown_zone_are_refused_in_one_sentence():
    master = MasterStructure(light_of(HIGH))
    with pytest.raises(WrongCall) as refused:
        master.kept(np.zeros((10, 20, 3)))
    assert str(refused.value) == (
        "a rendition of 20 x 10 pixels can't be compared with a master of 128 x 96; render it at the master's size"
    )
    with pytest.raises(WrongCall) as refused:
        ranked({}, "highlight")
    assert str(refused.value) == "zone 'highlight' is not known; did you mean 'highlights'?"
