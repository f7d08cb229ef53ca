"""The cut detector on sequences whose cuts are known: cuts, a dissolve, fades, a flash, a pan, a lamp that is lit."""

from collections.abc import Iterator

import numpy as np
import pytest

from tonemap import cut_detector
from tonemap.cut_detector import Proposal, look_of, proposals
from tonemap.encoding import Encoding
from tonemap.media.master import Frame
from tonemap.picture import Picture

PQ = Encoding("pq", "bt2020", "full", 10)
ROWS, COLUMNS = 54, 96


def scene(seed: int, count: int, pan: float = 0.0, noise: float = 0.01) -> list[np.ndarray]:
    """Return frames of PQ signal: a layout of soft patches, a thing that moves through it, grain, and a pan."""
    random = np.random.default_rng(seed)
    coarse = random.standard_normal((10, 16, 3))
    rows, columns = np.linspace(0, 9, 2 * ROWS), np.linspace(0, 15, 2 * COLUMNS)
    large = np.stack(
        [
            np.array([np.interp(columns, range(16), row) for row in
                      np.array([np.interp(rows, range(10), column) for column in coarse[..., channel].T]).T])
            for channel in range(3)
        ],
        axis=-1,
    )  # fmt: skip
    large = np.clip(random.uniform(0.3, 0.45) + 0.1 * large, 0.05, 0.95)
    frames = []
    for index in range(count):
        shift = min(round(pan * index), COLUMNS)
        frame = large[:ROWS, shift : shift + COLUMNS].copy()
        frame[20:30, 5 + index % 60 : 20 + index % 60] = 0.6
        frames.append(frame + random.normal(0.0, noise, frame.shape))
    return frames


def mixed(one: list[np.ndarray], other: list[np.ndarray], length: int) -> list[np.ndarray]:
    """Return two scenes with a dissolve of so many frames of the signal between them."""
    shares = (np.arange(length) + 1) / (length + 1)
    middle = [(1 - share) * a + share * b for share, a, b in zip(shares, one[-length:], other[:length], strict=True)]
    return [*one[:-length], *middle, *other[length:]]


def found(frames: list[np.ndarray], encoding: Encoding = PQ, first: int = 0) -> list[Proposal]:
    def looks() -> Iterator[cut_detector.Look]:
        for index, frame in enumerate(frames):
            codes = (np.clip(frame, 0.0, 1.0) * 1023).round().astype(np.uint16)
            yield look_of(Frame(index, "", encoding, Picture(codes, encoding)))

    return proposals(list(looks()), first)


def test_cuts_are_found_to_the_frame():
    frames = [*scene(1, 30), *scene(2, 20, pan=0.5), *scene(3, 9), *scene(4, 30, pan=-0.0)]
    assert [(one.frame, one.kind, one.first, one.last) for one in found(frames)] == [
        (30, "cut", 30, 30), (50, "cut", 50, 50), (59, "cut", 59, 59),
    ]  # fmt: skip


def test_frames_are_counted_from_where_the_search_began():
    assert [one.frame for one in found([*scene(1, 12), *scene(2, 12)], first=1000)] == [1012]


@pytest.mark.parametrize("length", [12, 24, 48])
def test_a_dissolve_is_one_proposal_at_its_middle(length):
    frames = mixed(scene(5, 90), scene(6, 90), length)
    (one,) = found(frames)
    assert one.kind == "dissolve"
    assert one.frame == pytest.approx(90 - length + length / 2, abs=2)
    assert one.first == pytest.approx(90 - length, abs=0.15 * length + 1)
    assert one.last == pytest.approx(89, abs=0.15 * length + 1)


def test_a_fade_through_black_is_one_proposal_where_the_new_shot_appears():
    down = [frame * share for frame, share in zip(scene(5, 60)[-12:], np.linspace(0.9, 0.0, 12), strict=True)]
    up = [frame * share for frame, share in zip(scene(6, 12), np.linspace(0.0, 0.9, 12), strict=True)]
    frames = [*scene(5, 48), *down, *[np.zeros((ROWS, COLUMNS, 3))] * 12, *up, *scene(6, 50)]
    (one,) = found(frames)
    assert one.kind == "fade"
    assert one.frame == pytest.approx(72, abs=3)


@pytest.mark.parametrize("length", [1, 2, 4])
def test_a_flash_is_no_cut(length):
    frames = scene(7, 60)
    for index in range(30, 30 + length):
        frames[index] = frames[index] + 0.25
    assert found(frames) == []


def test_a_flash_right_before_a_cut_does_not_hide_it():
    frames = [*scene(7, 30), *scene(8, 30)]
    frames[26] = frames[26] + 0.25
    assert [one.frame for one in found(frames)] == [30]


def test_a_pan_a_moving_thing_and_grain_are_no_cuts():
    assert found(scene(9, 120, pan=0.8, noise=0.03)) == []


def test_a_lamp_that_is_slowly_lit_is_no_dissolve():
    frames = [frame + 0.25 * np.clip((index - 40) / 24, 0.0, 1.0) for index, frame in enumerate(scene(10, 120))]
    assert found(frames) == []


def test_one_frame_and_one_picture_are_one_shot():
    assert found(scene(1, 1)) == []
    assert found([scene(1, 1)[0]] * 30) == []


@pytest.mark.parametrize("transfer", ["pq", "hlg", "bt1886"])
def test_the_encoding_does_not_matter(transfer):
    encoding = Encoding(transfer, "bt2020", "full", 10)
    assert [one.frame for one in found([*scene(1, 20), *scene(2, 20)], encoding)] == [20]
