"""Cut detector: proposes where shots begin, from the pictures alone. A proposal: a person confirms it.

After Yeo and Liu (Rapid scene analysis on compressed video, IEEE Transactions on Circuits and Systems for Video
Technology 5, 1995): a cut stands out from its neighbours in a sliding window, and a flash returns to what was before.
What is compared is our own: PQ-coded light, in which a step weighs what it weighs to an eye, as a histogram and as a
layout of blocks. A dissolve is found where the layout walks in a straight line from one picture to another, and rests
at both ends.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from .arrays import Array
from .encoding import decode
from .media.master import Frame, Master
from .media.planes import Planes
from .picture import Picture
from .transfer import pq_eotf_inverse

ROWS, COLUMNS, BINS = 9, 16, 64
SAMPLES = 12
"""Samples of a block along one side; more of them cost time and change little."""

HIGH = 0.05
"""Difference of a cut, and of the ends of a dissolve; a mean step of 0.05 of PQ signal is 51 codes of 1023."""

STANDS_OUT = 3.0
"""Times by which a cut passes the median difference around it."""

WINDOW = 6
"""Frames to each side in which a cut stands out."""

FLASH = 4
"""Most frames that a flash lasts, and fewest between two cuts."""

SPANS = (16, 24, 36, 54, 81, 122, 183)
"""Frames in which a dissolve is looked for; it and the rest at both its ends lie inside of one."""

REST = 0.2
"""Share of such a span, at both ends, in which nothing may have begun."""

AT_REST = 0.15
"""Share of the way up to which it has not begun."""

STRAIGHT = 0.3
"""Share of the way by which the layout may lie off the straight line between the ends of a dissolve."""

FASTER = 2.0
"""Times by which the picture changes more in the middle of the way than in as many frames at rest."""

KEPT = 0.7
"""Share of the blocks that tell a dissolve."""

SAME_LAYOUT = 0.8
"""Correlation of the ends from which on it is one scene in another light."""

BLACK = 0.08
"""PQ signal up to which a picture is black: 0.1 cd/m2."""


@dataclass(frozen=True)
class Proposal:
    """A place where a shot may begin.

    Attributes
    ----------
    frame : the first of the new shot; of a dissolve, its middle
    kind : 'cut', 'dissolve' or 'fade' (from black)
    first, last : the frames of the transition; for a cut both are `frame`
    difference : of the pictures before and after it, mean step of PQ signal
    """

    frame: int
    kind: str
    first: int
    last: int
    difference: float


@dataclass(frozen=True)
class Look:
    """What is kept of a frame, about 1 kB.

    Attributes
    ----------
    layout : mean PQ signal of blocks, (ROWS, COLUMNS, 3), float16
    histogram : cumulated shares of max(R, G, B) of the PQ signal, (BINS,), float16
    """

    layout: Array
    histogram: Array


def difference(one: Look, other: Look) -> float:
    """Return the mean step from one picture to another: of histogram and layout, this without the step of its mean."""
    levels = np.abs(one.histogram.astype(np.float32) - other.histogram).mean()
    change = one.layout.astype(np.float32) - other.layout
    return float(levels + np.abs(change - change.mean(axis=(0, 1))).mean())


def looks_of(master: Master, first: int = 0, last: int | None = None) -> Iterator[Look]:
    """Yield the looks of a master's frames; a frame that can't be read has that of the frame before it, or is black."""
    before = Look(np.zeros((ROWS, COLUMNS, 3), np.float16), np.ones(BINS, np.float16))
    for frame in master.frames(first, last):
        before = before if frame.content is None else look_of(frame)
        yield before


def look_of(frame: Frame) -> Look:
    """Return the look of a frame, from samples on a grid."""
    picture = _sparse(frame)
    signal = pq_eotf_inverse(decode(picture.samples, picture.encoding)).astype(np.float32)
    rows, columns, _ = signal.shape
    heads = [
        np.arange(count) * size // count for count, size in ((min(ROWS, rows), rows), (min(COLUMNS, columns), columns))
    ]
    sums = np.add.reduceat(np.add.reduceat(signal, heads[0], axis=0), heads[1], axis=1)
    counts = np.outer(*(np.diff([*head, size]) for head, size in zip(heads, (rows, columns), strict=True)))
    counted = np.bincount(np.minimum((signal.max(axis=-1) * BINS).astype(int), BINS - 1).ravel(), minlength=BINS)
    return Look(
        (sums / counts[..., np.newaxis]).astype(np.float16), (np.cumsum(counted) / (rows * columns)).astype(np.float16)
    )


def _sparse(frame: Frame) -> Picture:
    """Return a picture of every nth sample, so that a large frame costs no more than a small one."""
    planes = frame.planes
    if planes is not None:
        step = max(1, min(planes.rows // (ROWS * SAMPLES), planes.columns // (COLUMNS * SAMPLES)))
        one, two, three = (np.ascontiguousarray(plane[::step, ::step]) for plane in planes.components)
        ratio = [
            -(-whole // part)
            for whole, part in zip(planes.components[0].shape, planes.components[1].shape, strict=True)
        ]
        rows, columns = (
            min(whole, part * times) for whole, part, times in zip(one.shape, two.shape, ratio, strict=True)
        )
        rows, columns = rows // ratio[0] * ratio[0], columns // ratio[1] * ratio[1]
        chroma = slice(rows // ratio[0]), slice(columns // ratio[1])
        return Planes((one[:rows, :columns], two[chroma], three[chroma]), planes.coding).picture(frame.encoding)
    samples: Any = frame.picture.samples
    step = max(1, min(samples.shape[0] // (ROWS * SAMPLES), samples.shape[1] // (COLUMNS * SAMPLES)))
    return Picture(np.ascontiguousarray(samples[::step, ::step]), frame.encoding)


def proposals(looks: Sequence[Look], first: int = 0) -> list[Proposal]:
    """Return where shots may begin, in the order of the frames; `first` is the number of the first look."""
    steps = np.array([0.0, *(difference(one, other) for one, other in pairwise(looks))])
    breaks = [index for index in range(1, len(looks)) if _stands_out(steps, index)]
    cuts = _apart([index for index in breaks if not _returns(looks, steps, index)], steps)
    found = [Proposal(first + index, "cut", first + index, first + index, float(steps[index])) for index in cuts]
    ends = [0, *breaks, len(looks)]
    for start, end in pairwise(ends):
        found += _dissolves(looks, start, end, first)
    return sorted(found, key=lambda proposal: proposal.frame)


def _stands_out(steps: Array, index: int) -> bool:
    around = np.concatenate([steps[max(1, index - WINDOW) : index], steps[index + 1 : index + 1 + WINDOW]])
    usual = float(np.median(around)) if around.size else 0.0
    return bool(steps[index] >= max(HIGH, STANDS_OUT * usual))


def _returns(looks: Sequence[Look], steps: Array, index: int) -> bool:
    """Say whether a step is the beginning or the end of a flash: what was before it comes back soon after."""
    small = steps[index] / STANDS_OUT
    for count in range(1, FLASH + 1):
        if index + count < len(looks) and difference(looks[index - 1], looks[index + count]) < small:
            return True
        if index - 1 - count >= 0 and difference(looks[index], looks[index - 1 - count]) < small:
            return True
    return False


def _apart(cuts: list[int], steps: Array) -> list[int]:
    """Keep the larger one of two cuts that are nearer to each other than a flash is long."""
    kept: list[int] = []
    for index in cuts:
        if kept and index - kept[-1] < FLASH:
            kept[-1] = max(kept[-1], index, key=lambda place: steps[place])
        else:
            kept.append(index)
    return kept


def _dissolves(looks: Sequence[Look], start: int, end: int, first: int) -> list[Proposal]:
    """Find dissolves among the frames start..end - 1, which have no cut; the shortest span that shows one tells it."""
    layouts = np.array([look.layout for look in looks[start:end]], np.float32).reshape(end - start, -1, 3)
    found: list[Proposal] = []
    for span in SPANS:
        for head in range(0, len(layouts) - span, max(1, span // 12)):
            ends = looks[start + head], looks[start + head + span]
            step = difference(*ends)
            if step < HIGH:
                continue
            way = _way(layouts[head : head + span + 1])
            if way is None:
                continue
            begin, middle, last = (int(np.argmax(way >= share)) + start + head for share in (0.05, 0.5, 0.95))
            if any(other.first - first <= last and begin <= other.last - first for other in found):
                continue
            if _is_black(ends[1], ends[0]):
                continue
            is_fade = _is_black(*ends)
            kind, frame = ("fade", begin) if is_fade else ("dissolve", middle)
            found.append(Proposal(first + frame, kind, first + begin, first + last, step))
    return found


def _way(layouts: Array) -> Array | None:
    """Return how far each layout (n, blocks, 3) is on the way from the first to the last, 0..1; None for no dissolve.

    The way of a dissolve is straight, it rests at both ends, where the picture moves less than on the way, and its ends
    differ in more than light. Blocks in which something else happens
    than in most, as when a thing moves through the picture, are left out.
    """
    change, off = layouts[-1] - layouts[0], layouts - layouts[0]
    kept = np.ones(change.shape[0], bool)
    for share in (KEPT, 1.0):
        length = float((change[kept] ** 2).sum())
        way = np.einsum("nbc,bc->n", off[:, kept], change[kept]) / max(length, 1e-9)
        beside = ((off - way[:, np.newaxis, np.newaxis] * change) ** 2).sum(axis=2)
        if share < 1.0:
            kept = beside.max(axis=0) <= np.quantile(beside.max(axis=0), share)
    rest = int(REST * len(way))
    if np.abs(way[: rest + 1]).max() > AT_REST or np.abs(way[-rest - 1 :] - 1.0).max() > AT_REST:
        return None
    if np.sqrt(beside[:, kept].sum(axis=1).max()) > STRAIGHT * np.sqrt(length):
        return None
    middle = int(np.argmax(way >= 0.5)) - rest // 2
    at_start, inside, at_end = (
        float(np.median(np.abs(layouts[place + rest] - layouts[place]).mean(axis=1)))
        for place in (0, min(max(middle, 0), len(way) - 1 - rest), len(way) - 1 - rest)
    )
    if inside < FASTER * max(at_start, at_end):
        return None
    one, other = ((end[kept] - end[kept].mean()).ravel() for end in (layouts[0], layouts[-1]))
    shared = float(one @ other) / max(float(np.linalg.norm(one) * np.linalg.norm(other)), 1e-9)
    return None if shared > SAME_LAYOUT else way


def _is_black(look: Look, other: Look) -> bool:
    """Say whether a picture is black, or nearly so beside the other end of its fade."""
    return bool(look.layout.max() <= max(BLACK, AT_REST * 2.0 * float(other.layout.max())))
