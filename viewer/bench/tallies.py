"""What the open scopes count of each picture, with GL: quickly a sample, then every pixel while nothing changes."""

import math
import time
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from tonemap.measure.patches import Patch
from tonemap.monitor import Monitor
from tonemap.rendition import Chain

from ..compose import program_key
from ..gl.counts import Counts
from ..gl.texture import Texture
from .canvas import Canvas, Drawing, ViewKey
from .layout import Placement
from .painter import Painter
from .programs import Programs
from .pyramid import LightPyramid
from .scope_counts import Counter, Grid, Subject
from .scopes import Form
from .showing import Key

QUICK = 0.008
"""Seconds of a frame for the samples of what has changed."""

FEWEST = 1 << 12
"""Samples at least, and where it is not known yet how long they take. Fewer take hardly less time, so that each would
seem slower than it is, and still fewer would be counted the next time."""

SLICE, LARGE_SLICE = 1 << 17, 1 << 21
"""Samples at a time on the way to every pixel, and where there is time for all of them at once."""

NOWHERE = ViewKey(0, Placement(1.0, 0, 0), 1, 1)


@dataclass(frozen=True)
class Work:
    """What is counted of a picture.

    Attributes
    ----------
    chain : of a rendition; None for the master
    light, serial : of the master; another number for other light
    region : in pixels of the picture
    patch : what of the region is counted; None for all of it
    """

    chain: Chain | None
    light: LightPyramid
    serial: int
    region: Grid
    patch: Patch | None = None


@dataclass(frozen=True, eq=False)
class Mask:
    """What a patch covers of the region around it.

    Attributes
    ----------
    covered : of the region's pixels
    texture : the same on the card; None where it covers all of them
    """

    patch: Patch
    region: Grid
    covered: np.ndarray
    texture: Texture | None


@dataclass
class Tally:
    """The counts of a picture: those that are shown, at a stride, and those that are coming, of every pixel.

    Attributes
    ----------
    row : up to which row of the picture the coming ones are counted
    samples : how many pixels are counted; of a patch, those that lie in it
    version : another one when what is shown has changed
    """

    work: Work | None = None
    forms: frozenset[Form] = frozenset()
    stride: int = 1
    row: int = 0
    samples: int = 0
    version: int = 0
    shown: dict[Form, Counts] = field(default_factory=dict)
    coming: dict[Form, Counts] = field(default_factory=dict)

    @property
    def is_exact(self) -> bool:
        """Whether every pixel is counted."""
        return self.work is None or self.stride == 1

    def delete(self) -> None:
        """Free the card's memory."""
        for counts in (*self.shown.values(), *self.coming.values()):
            counts.delete()
        self.shown, self.coming, self.work = {}, {}, None


class Tallies:
    """The tallies of the pictures that scopes show; needs a current context."""

    def __init__(self, programs: Programs, painter: Painter) -> None:
        self.counter = Counter(programs.has_compute)
        self._painter = painter
        self._band = Canvas()
        self._known: dict[Key, Tally] = {}
        self._pace: dict[object, float | None] = {}
        self._mask: Mask | None = None
        self._is_counted_now = False

    def of(self, key: Key) -> Tally | None:
        """Return the tally of a picture."""
        return self._known.get(key)

    def count(self, wanted: Mapping[Key, tuple[Work, Iterable[Form]]]) -> None:
        """Count quickly what is wanted and not there; what is not wanted any more is freed."""
        for key in [key for key in self._known if key not in wanted]:
            self._known.pop(key).delete()
        stale = []
        for key, (work, forms) in wanted.items():
            tally, asked = self._known.setdefault(key, Tally()), frozenset(forms)
            if tally.work != work or not asked <= tally.forms:
                stale.append((tally, work, asked))
        self._is_counted_now = bool(stale)
        for tally, work, asked in stale:
            stride = self._stride(work, asked, QUICK / len(stale))
            self._begin(tally, work, asked, stride)
            self._count_timed(tally)

    def refine(self, seconds: float) -> bool:
        """Work for some time towards counts of every pixel, unless a sample was counted now; returns whether done."""
        from OpenGL import GL

        if self._is_counted_now:
            return False
        end = time.monotonic() + seconds
        for tally in self._known.values():
            while not tally.is_exact:
                self._count_slice(tally)
                GL.glFinish()
                if time.monotonic() > end:
                    return self.is_exact
        return True

    @property
    def is_exact(self) -> bool:
        """Whether every pixel is counted for every scope."""
        return all(tally.is_exact for tally in self._known.values())

    def delete(self) -> None:
        """Free what is on the card."""
        for tally in self._known.values():
            tally.delete()
        self._known = {}
        self._band.delete()
        self.counter.delete()
        self._forget_mask()

    def _stride(self, work: Work, forms: frozenset[Form], seconds: float) -> int:
        pixels = work.region.width * work.region.height
        pace = self._pace.get(_sort_of(work, forms))
        most = max(seconds / pace if pace else 0.0, FEWEST)
        return max(math.ceil(math.sqrt(pixels / most)), 1)

    def _begin(self, tally: Tally, work: Work, forms: frozenset[Form], stride: int) -> None:
        for form in [form for form in tally.shown if form not in forms]:
            tally.shown.pop(form).delete()
        for counts in tally.coming.values():
            counts.delete()
        tally.work, tally.forms, tally.stride, tally.row, tally.coming = work, forms, stride, 0, {}
        tally.samples = self._samples(work, stride)
        tally.version += 1
        for form in forms:
            if form in tally.shown:
                tally.shown[form].clear()
            else:
                tally.shown[form] = self.counter.make_counts(form)

    def _count_timed(self, tally: Tally) -> None:
        """Count a sample, and note how long a pixel takes; not of the first time, in which the driver compiles."""
        from OpenGL import GL

        assert tally.work is not None
        region = tally.work.region
        grid = Grid(region.left, region.top, region.width, region.height, tally.stride)
        GL.glFinish()
        start = time.perf_counter()
        step = max(LARGE_SLICE // grid.columns, 1)
        for low in range(0, grid.rows, step):
            self._count_rows(tally, grid, (low, min(low + step, grid.rows)), tally.shown)
        GL.glFinish()
        taken = (time.perf_counter() - start) / (grid.columns * grid.rows)
        sort = _sort_of(tally.work, tally.forms)
        self._pace[sort] = taken if sort in self._pace else None

    def _count_slice(self, tally: Tally) -> None:
        """Count some rows of every pixel; the last ones put the counts in place of the sample's."""
        assert tally.work is not None
        grid = tally.work.region
        if tally.row == 0:
            tally.coming = {form: self.counter.make_counts(form) for form in tally.forms}
        high = min(tally.row + max(SLICE // grid.columns, 1), grid.rows)
        self._count_rows(tally, grid, (tally.row, high), tally.coming)
        tally.row = high
        if high == grid.rows:
            for counts in tally.shown.values():
                counts.delete()
            tally.shown, tally.coming, tally.stride, tally.row = tally.coming, {}, 1, 0
            tally.samples = self._samples(tally.work, 1)
            tally.version += 1

    def _count_rows(self, tally: Tally, grid: Grid, rows: tuple[int, int], into: dict[Form, Counts]) -> None:
        work = tally.work
        assert work is not None
        mask = self._mask_of(work)  # uploaded before others are bound
        texture = None if mask is None else mask.texture
        size, middle = (grid.columns, rows[1] - rows[0]), grid.stride // 2
        first = grid.left + middle, grid.top + rows[0] * grid.stride + middle
        light = work.light.light_at(first, grid.stride, *size)
        subject = Subject(light, mask=texture)
        if work.chain is not None:
            self._painter.paint(Drawing(NOWHERE, Monitor(), work.chain), light[0], self._band, size, *light[1:])
            assert self._band.framebuffer is not None
            subject = Subject(light, self._band.framebuffer.texture, work.chain.rendition.target, texture)
        for form, counts in into.items():
            self.counter.add(form, subject, grid, rows, counts)

    def _samples(self, work: Work, stride: int) -> int:
        """Return how many pixels are counted at a stride: of a patch, those that lie in it."""
        mask, region = self._mask_of(work), work.region
        grid = Grid(region.left, region.top, region.width, region.height, stride)
        if mask is None:
            return grid.columns * grid.rows
        rows, columns = (
            np.minimum(np.arange(count) * stride + stride // 2, size - 1)
            for count, size in ((grid.rows, region.height), (grid.columns, region.width))
        )
        return int(np.count_nonzero(mask.covered[np.ix_(rows, columns)]))

    def _mask_of(self, work: Work) -> Mask | None:
        """Return what a patch covers of its region; None without a patch."""
        from OpenGL import GL

        if work.patch is None:
            return None
        if self._mask is None or (self._mask.patch, self._mask.region) != (work.patch, work.region):
            self._forget_mask()
            region, texture = work.region, None
            whole = work.patch.mask(work.light.rows, work.light.columns)
            covered = whole[region.top : region.top + region.height, region.left : region.left + region.width]
            if not covered.all():
                texture = Texture(GL.GL_R32F, region.width, region.height)
                texture.upload(np.repeat(covered[..., np.newaxis], 3, axis=-1).astype(np.float32))
            self._mask = Mask(work.patch, region, covered, texture)
        return self._mask

    def _forget_mask(self) -> None:
        if self._mask is not None and self._mask.texture is not None:
            self._mask.texture.delete()
        self._mask = None


def region_of(patch: Patch | None, columns: int, rows: int) -> Grid | None:
    """Return the rectangle around a patch, in pixels of a picture; without one all of it, None for one of no pixels."""
    if patch is None:
        return Grid(0, 0, columns, rows)
    mask = patch.mask(rows, columns)
    if not mask.any():
        return None
    y, x = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return Grid(int(x[0]), int(y[0]), int(x[-1] - x[0] + 1), int(y[-1] - y[0] + 1))


def _sort_of(work: Work, forms: frozenset[Form]) -> object:
    """Return what the time that a pixel takes depends on."""
    return program_key(work.chain) if work.chain else None, frozenset(form.kind for form in forms)
