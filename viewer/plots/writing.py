"""Plots as files: PNG for screens and mail, SVG for print. A file appears whole or not at all."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import tonemap
from tonemap.errors import TrimbenchError, WrongCall, suggestion
from tonemap.media.whole_file import refuse_existing, whole_file

from ..comparison.drawing import plain_settings
from .sets import Plots

KINDS = ("png", "svg")
PRINT_DPI = 300
"""Pixels on an inch of paper: a plot of 2400 is 8 inches wide, which A4 holds, and its smallest letters are 6.8 pt."""

COMPRESSION = 2
"""Level of PNG: half the time of the usual 6, for 13 % more bytes."""


def write_plots(
    folder: str | Path, plots: Plots, *, kinds: Sequence[str] = KINDS, overwrite: bool = False
) -> list[Path]:
    """Write plots into a folder, which is made where it is missing; returns the paths of the files.

    Parameters
    ----------
    plots : by the name of the file, without its ending: what makes the figure
    kinds : of files, in `KINDS`. Letters in SVG are outlines, so that no font is needed to read them
    overwrite : whether existing files may be replaced

    Raises
    ------
    WrongCall
        For an unknown kind.
    TrimbenchError
        When one of the files exists and may not be replaced, before anything is written, and for what the system
        refuses.
    """
    folder = Path(folder)
    for kind in kinds:
        if kind not in KINDS:
            raise WrongCall(f"plots of kind '{kind}' can't be written; {suggestion(kind, list(KINDS))}")
    for name in plots:
        for kind in kinds:
            refuse_existing(folder / f"{name}.{kind}", overwrite)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise TrimbenchError(f"{folder}: {fault.strerror or fault}; give another folder for the plots") from None
    written = []
    for name, make in plots.items():
        figure = make()
        for kind in kinds:
            path = folder / f"{name}.{kind}"
            with whole_file(path, overwrite) as part:
                save_figure(figure, part, kind)
            written.append(path)
    return written


def save_figure(figure: Any, path: Path, kind: str) -> None:
    """Write a figure, of a size for print; the same figure gives the same bytes."""
    import matplotlib

    made_by = f"Trimbench {tonemap.__version__}"
    metadata = {"Software": made_by} if kind == "png" else {"Creator": made_by, "Date": None}
    with plain_settings():
        matplotlib.rcParams["svg.hashsalt"] = "trimbench"
        png = {"compress_level": COMPRESSION, "dpi": (PRINT_DPI, PRINT_DPI)}
        options = {"pil_kwargs": png} if kind == "png" else {}
        figure.savefig(path, format=kind, dpi=72.0, metadata=metadata, **options)
    if kind == "svg":  # matplotlib writes a point for each of our pixels
        text = path.read_text(encoding="utf-8")
        path.write_text(_SIZES.sub(_for_print, text, count=2), encoding="utf-8", newline="\n")


_SIZES = re.compile(r'(?<= )(width|height)="([\d.]+)pt"')


def _for_print(size: re.Match[str]) -> str:
    return f'{size[1]}="{float(size[2]) * 72.0 / PRINT_DPI:g}pt"'
