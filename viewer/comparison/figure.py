"""The comparison as a figure and as a file."""

import datetime
import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

import tonemap
from tonemap.arrays import Codes
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.media.oiio_output import write_codes
from tonemap.media.whole_file import refuse_existing
from tonemap.picture import Picture
from tonemap.rendition import Chain
from tonemap.signal_range import FULL

from .captions import number, rendition_caption, window_caption
from .drawing import PqPlot, Sheet, plain_settings
from .layout import Measures, compose
from .pictures import MasterFigures, SignalEngine, Window, display_of, figures_of, light_of, rendition_tile, window_tile
from .surround import Footer, Header
from .type_setting import one_line

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MOST_RENDITIONS = 8
ENDINGS = (".png", ".tif", ".tiff")
NARROWEST, WIDEST = 800, 8192  # pixels
FILE_ENCODING = Encoding("bt1886", "bt709", FULL, 8, peak=100.0)


def comparison_figure(
    master: Picture,
    title: str,
    chains: list[Chain],
    engine: SignalEngine,
    *,
    window: float | None = None,
    width: int = 2400,
    file_name: str | None = None,
) -> "Figure":
    """Draw a master beside its renditions, each with its words and its curve.

    Parameters
    ----------
    title : what stands largest, such as the name of the shot
    chains : one to eight renditions
    window : top of the first window on the master in nits; None for the first target's peak, which is true brightness
    width : of the figure in pixels; its height follows, at 72 dots an inch
    file_name : of the master, for the footer; None for the title

    Raises
    ------
    WrongCall
        For a number of renditions, a width or a window that there can't be.
    """
    if not 1 <= len(chains) <= MOST_RENDITIONS:
        raise WrongCall(f"{len(chains)} renditions don't fit a comparison; choose 1 to {MOST_RENDITIONS}")
    if not NARROWEST <= width <= WIDEST:
        raise WrongCall(f"width = {width} is outside {NARROWEST}..{WIDEST} pixels; choose a width in that range")
    if window is not None and not 1.0 <= window <= 10000.0:
        raise WrongCall(f"window = {window:g} is outside 1..10000 cd/m2; choose a level in that range")
    display = display_of(chains[0].rendition.target)
    windows = [Window(window or display.peak, display), Window(master.encoding.peak, display)]
    light = light_of(master)
    figures = figures_of(light, windows)
    highest = min(10000.0, max(master.encoding.peak, figures.brightest, windows[0].top))
    captions = [
        *(
            window_caption(each, clipped, figures.outside, master.encoding.peak, highest)
            for each, clipped in zip(windows, figures.clipped, strict=True)
        ),
        *(rendition_caption(chain, highest) for chain in chains),
    ]

    def header_for(size: Measures) -> Header:
        return Header(one_line(title), _about(master, figures, len(chains)), figures, highest, size)

    layout = compose(captions, (master.rows, master.columns), width, lambda size: header_for(size).bottom)
    size, cells, bottom = layout.size, layout.cells, layout.bottom
    header = header_for(size)
    tiles = [window_tile(light, each, cells[0].picture.shape) for each in windows]
    del light  # before the renditions need as much
    tiles += [rendition_tile(master, chain, engine, cells[0].picture.shape) for chain in chains]
    footer = Footer(_origin(master, file_name or title, engine), size)  # the engine has worked, and says which it was
    height = math.ceil(bottom + 2.0 * size.em + footer.height + 0.6 * size.margin)

    with plain_settings():
        sheet = Sheet(width, height)
        header.draw(sheet)
        for cell, tile in zip(cells, tiles, strict=True):
            sheet.picture(tile, cell.picture)
            sheet.cell_words(cell, size.em)
            PqPlot(sheet, cell.curve, size.em, highest, cell.caption.peak).draw(
                cell.caption.curve, figures.histogram, cell.caption.landings
            )
        footer.draw(sheet, bottom + 2.0 * size.em)
    return sheet.figure


def write_comparison(
    path: str | Path,
    master: Picture,
    title: str,
    chains: list[Chain],
    engine: SignalEngine,
    *,
    window: float | None = None,
    width: int = 2400,
    file_name: str | None = None,
    overwrite: bool = False,
) -> None:
    """Write the comparison as PNG or TIFF, 8 bits; the file appears whole or not at all.

    Parameters are those of `comparison_figure`.

    Raises
    ------
    WrongCall
        As `comparison_figure` does, and for an ending that is neither .png nor .tif nor .tiff.
    TrimbenchError
        When the file exists and may not be replaced, and when it can't be written.
    """
    path = Path(path)
    if path.suffix.lower() not in ENDINGS:
        raise WrongCall(f"{path}: a comparison is written as {', '.join(ENDINGS)}; change the name")
    refuse_existing(path, overwrite)  # before the work, and again by the writer
    figure = comparison_figure(master, title, chains, engine, window=window, width=width, file_name=file_name)
    write_codes(path, figure_codes(figure), FILE_ENCODING, overwrite)


def figure_codes(figure: "Figure") -> Codes:
    """Return a figure's pixels as code values (rows, columns, 3)."""
    with plain_settings():
        figure.canvas.draw()
        return np.asarray(figure.canvas.buffer_rgba())[..., :3].astype(np.uint16)


def _about(master: Picture, figures: MasterFigures, count: int) -> list[str]:
    brightest = number(float(f"{figures.brightest:.3g}"))
    return [
        master.encoding.title,
        f"{master.columns} \u00d7 {master.rows} pixels, the brightest at {brightest} cd/m\u00b2",
        "1 SDR rendition" if count == 1 else f"{count} SDR renditions",
    ]


def _origin(master: Picture, file_name: str, engine: SignalEngine) -> list[str]:
    return [
        f"Master: {one_line(file_name)}, {master.encoding.title}",
        f"Computed at full resolution by {engine.title}; scaled in light.",
        f"Trimbench {tonemap.__version__}, {datetime.date.today().isoformat()}",
    ]
