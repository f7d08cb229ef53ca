"""Where things are: the areas of the window, the grid of tiles, and the mapping between picture and screen.

Plain arithmetic, no GL and no imgui. Screen coordinates run right and down from the window's upper left corner.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

LARGEST_ZOOM = 64.0
STEPS_PER_DOUBLING = 4
"""Zoom steps between 1:1 and 2:1; the steps go through every power of two exactly."""

NEARLY = 0.03
"""The share of a picture's width that is given up for tiles beside each other rather than above."""

COMPANY = 1.0 / 6.0
"""The share of it that is given up so that no tile is alone in its row."""

BARE_GAP = 200
"""Pictures without words stand this part of the area's width apart."""

# In units of the type: heights of a tile's lines, and the least sizes at which they make sense.
CAPTION, READING = 2.7, 1.4
LEAST_FOR_READING, LEAST_FOR_CAPTION = 9.0, 15.0


@dataclass(frozen=True)
class Rect:
    """A rectangle on the screen, in whole pixels."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """The first column that is not inside."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """The first row that is not inside."""
        return self.top + self.height

    def contains(self, x: float, y: float) -> bool:
        """Say whether a point is inside."""
        return self.left <= x < self.right and self.top <= y < self.bottom

    def scaled(self, factor: float) -> "Rect":
        """Return the rectangle in other units, for example in the framebuffer's pixels."""
        left, top = round(self.left * factor), round(self.top * factor)
        return Rect(left, top, round(self.width * factor), round(self.height * factor))


@dataclass(frozen=True)
class Areas:
    """The window divided: two bars on top, a line of status below, tiles, and the panel when it is shown."""

    bar: Rect
    showing: Rect
    tiles: Rect
    panel: Rect | None
    status: Rect


@dataclass(frozen=True)
class Tile:
    """One tile: two lines of caption above the picture, the probe's line below it when there is room."""

    frame: Rect
    caption: Rect
    picture: Rect
    reading: Rect | None


@dataclass(frozen=True)
class View:
    """What part of the picture every tile shows.

    Attributes
    ----------
    zoom : screen pixels a picture pixel; None for the whole picture, also when the window changes
    centre : the picture's coordinates, in pixels, at the middle of a tile
    """

    zoom: float | None = None
    centre: tuple[float, float] = (0.0, 0.0)


WHOLE = View()


@dataclass(frozen=True)
class Placement:
    """A view on a tile of a given size: picture coordinates times zoom plus origin are pixels of the tile.

    The origin is a whole pixel, so that at 1:1 and at every whole zoom a picture pixel covers whole screen pixels.
    """

    zoom: float
    left: int
    top: int

    def to_picture(self, x: float, y: float) -> tuple[float, float]:
        """Return the picture coordinates of a point of the tile."""
        return (x - self.left) / self.zoom, (y - self.top) / self.zoom

    def to_tile(self, x: float, y: float) -> tuple[float, float]:
        """Return the point of the tile where picture coordinates are shown."""
        return x * self.zoom + self.left, y * self.zoom + self.top


def window_areas(width: int, height: int, em: float, is_panel_shown: bool) -> Areas:
    """Divide a window; `em` is the size of the type in the same units as the window."""
    bar_height, status_height = min(round(2.4 * em), height), min(round(1.75 * em), height)
    line_height = min(round(2.1 * em), max(height - bar_height - status_height, 0))
    middle = max(height - bar_height - line_height - status_height, 0)
    top = bar_height + line_height
    panel_width = min(round(23.5 * em), width) if is_panel_shown else 0
    panel = Rect(width - panel_width, top, panel_width, middle) if panel_width else None
    return Areas(
        bar=Rect(0, 0, width, bar_height),
        showing=Rect(0, bar_height, width, line_height),
        tiles=Rect(0, top, width - panel_width, middle),
        panel=panel,
        status=Rect(0, max(height - status_height, top), width, status_height),
    )


def grid(count: int, area: Rect, em: float, aspect: float) -> tuple[Tile, ...]:
    """Lay out tiles of one size so that a picture of the given aspect (width / height) is as large as can be.

    All pictures have the same size in pixels, so that one view serves every tile; a last row with fewer of them is
    centred. With an `em` of 0 there is no room for words, and a single picture may fill the area.
    """
    gap = max(round(0.5 * em), 1) if em else area.width // BARE_GAP * (count > 1)

    def size(columns: int) -> tuple[int, int]:
        rows = math.ceil(count / columns)
        return (area.width - gap * (columns + 1)) // columns, (area.height - gap * (rows + 1)) // rows

    def picture_width(columns: int) -> float:
        width, height = size(columns)
        reading = READING if height >= LEAST_FOR_READING * em else 0.0
        return min(width, (height - (CAPTION + reading) * em) * aspect)

    def nearly(choices: Sequence[int], share: float) -> list[int]:
        largest = max(map(picture_width, choices))
        return [n for n in choices if picture_width(n) >= largest - share * abs(largest)]

    choices = sorted({math.ceil(count / rows) for rows in range(1, count + 1)})  # rows as even as can be
    in_company = [n for n in nearly(choices, COMPANY) if n == 1 or count % n != 1]
    columns = max(nearly(in_company or choices, NEARLY))
    width, height = (max(side, 1) for side in size(columns))
    reading = READING if height >= LEAST_FOR_READING * em else 0.0
    around = round(CAPTION * em) + round(reading * em)
    # The tile hugs the picture, but leaves the caption some room.
    width = min(width, max(round((height - around) * aspect), round(LEAST_FOR_CAPTION * em), 1))
    height = max(min(height, round(width / aspect) + around), 1)
    rows = math.ceil(count / columns)
    in_last = count - (rows - 1) * columns

    def left(row: int) -> int:
        there = in_last if row == rows - 1 else columns
        return area.left + (area.width - there * width - (there - 1) * gap) // 2

    top = area.top + (area.height - rows * height - (rows - 1) * gap) // 2
    places = (divmod(index, columns) for index in range(count))
    return tuple(
        _tile(Rect(left(row) + column * (width + gap), top + row * (height + gap), width, height), em, reading)
        for row, column in places
    )


def _tile(frame: Rect, em: float, reading_height: float) -> Tile:
    caption = min(round(CAPTION * em), frame.height - 1)
    reading = round(reading_height * em)
    picture = Rect(frame.left, frame.top + caption, frame.width, max(frame.height - caption - reading, 1))
    return Tile(
        frame=frame,
        caption=Rect(frame.left, frame.top, frame.width, caption),
        picture=picture,
        reading=Rect(frame.left, picture.bottom, frame.width, reading) if reading else None,
    )


def whole_zoom(columns: int, rows: int, width: int, height: int) -> float:
    """Return the zoom at which the whole picture fits a tile; never above 1:1 pixels of the largest zoom."""
    return min(width / columns, height / rows, LARGEST_ZOOM)


def zoom_limits(columns: int, rows: int, width: int, height: int) -> tuple[float, float]:
    """Return the smallest and the largest zoom: the whole picture or 1:1, and `LARGEST_ZOOM`."""
    return min(whole_zoom(columns, rows, width, height), 1.0), LARGEST_ZOOM


def place(view: View, columns: int, rows: int, width: int, height: int) -> Placement:
    """Put a view on a tile of width x height pixels."""
    zoom = view.zoom or whole_zoom(columns, rows, width, height)
    x, y = (columns / 2, rows / 2) if view.zoom is None else _held(view.centre, zoom, columns, rows, width, height)
    return Placement(zoom, round(width / 2 - x * zoom), round(height / 2 - y * zoom))


def zoomed(
    view: View, factor: float, at: tuple[float, float], columns: int, rows: int, width: int, height: int
) -> View:
    """Zoom by a factor about a point of the tile, which keeps its picture coordinates unless an edge holds them."""
    before = place(view, columns, rows, width, height)
    low, high = zoom_limits(columns, rows, width, height)
    zoom = min(max(before.zoom * factor, low), high)
    x, y = before.to_picture(*at)
    centre = x + (width / 2 - at[0]) / zoom, y + (height / 2 - at[1]) / zoom
    return View(zoom, _held(centre, zoom, columns, rows, width, height))


def stepped_factor(zoom: float, steps: float) -> float:
    """Return the factor that goes from a zoom to the next of the fixed steps in that direction."""
    level = math.log2(zoom) * STEPS_PER_DOUBLING
    target = math.floor(level + steps + 1e-6) if steps > 0 else math.ceil(level + steps - 1e-6)
    return 2.0 ** (target / STEPS_PER_DOUBLING) / zoom


def panned(view: View, dx: float, dy: float, columns: int, rows: int, width: int, height: int) -> View:
    """Move the picture by screen pixels; a view of the whole picture stays one."""
    if view.zoom is None:
        return view
    before = place(view, columns, rows, width, height)
    x, y = before.to_picture(width / 2 - dx, height / 2 - dy)
    return View(view.zoom, _held((x, y), view.zoom, columns, rows, width, height))


def _held(
    centre: tuple[float, float], zoom: float, columns: int, rows: int, width: int, height: int
) -> tuple[float, float]:
    """Keep the picture's edges out of the tile; a picture smaller than the tile is centred."""

    def held(middle: float, size: int, room: float) -> float:
        return size / 2 if size <= room else min(max(middle, room / 2), size - room / 2)

    return held(centre[0], columns, width / zoom), held(centre[1], rows, height / zoom)


def span(low: int, high: int, origin: int, zoom: float, size: int) -> tuple[int, int]:
    """Return the first pixel of the picture under some pixels of the tile, and the first one after them."""
    first = min(max(math.floor((low - origin) / zoom - 1e-4), 0), size)
    return first, min(max(math.ceil((high - origin) / zoom + 1e-4), first), size)
