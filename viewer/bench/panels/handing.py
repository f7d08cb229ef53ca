"""The sheet from which everything is handed on: stills, LUT, CDL, render; and the list of what is under way."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from tonemap.bake import SIZES
from tonemap.encoding import ENCODING_WORDS
from tonemap.errors import TrimbenchError
from tonemap.media.movie_output import CODECS

from .. import theme
from ..bench import Bench
from ..hand_on import (
    CDL,
    LAYOUT,
    LUT,
    PROGRAMME,
    RENDER,
    SHOT,
    STILL,
    Wishes,
    job_of,
    layout_job,
    proposed_name,
    refuse_master_files,
    unknown_rate,
)
from ..jobs import DONE, ENDED, FAILED, RUNNING, STOPPED, WAITING, Job
from ..layout import Rect
from ..scales import typed_number
from ..showing import Key
from ..toolkit import imgui
from ..widgets import Widgets, packed

TITLE = "Hand on"
KINDS = {
    STILL: ("Still", "One picture at full resolution, by the reference engine: .png, .tif, .dpx or .exr"),
    LAYOUT: ("Layout", "The pictures as the window shows them, in the monitor's own encoding: .png, .tif or .dpx"),
    LUT: ("LUT", "A rendition as a LUT, with its distance from the exact trim: .clf or .cube"),
    CDL: ("CDL", "The output adjustments as colour decisions: .cdl, .cc or .ccc"),
    RENDER: ("Render", "The SDR version: a folder or NAME.%06d.dpx for pictures, MOV, MKV, MP4 or MXF for a movie"),
}
MASTER = "master"
SMALLEST = "0"
AS_MASTER = "as the master"


class HandingSheet:
    """What is typed and chosen, and what was wrong with it."""

    def __init__(self) -> None:
        self._layout: tuple[Path, bool] | None = None
        self._is_uncovered = False
        self._what, self._wishes = STILL, Wishes()
        self._key: Key = None
        self._path: Path | None = None
        self._fault: str | None = None
        self._is_there = False

    def draw(self, bench: Bench, ui: Widgets) -> None:
        """Draw the sheet while it is open."""
        if not bench.shown.handing:
            self._path, self._is_uncovered = None, True
            return
        self._is_uncovered = False
        if bench.state.master is None:
            bench.shown = replace(bench.shown, handing=False)
            bench.said = "there is no master to hand anything on of"
            return
        if self._path is None:
            self._key = bench.state.selected
            self._choose(bench, self._what)
        with ui.popup(TITLE, 46.0 * ui.em, 34.0 * ui.em) as is_open:
            if is_open:
                self._fill(bench, ui)

    @property
    def is_layout_due(self) -> bool:
        """Whether a layout is wanted, and this sheet did not lie over it in the last frame."""
        return self._layout is not None and self._is_uncovered

    def write_layout(self, bench: Bench, codes: np.ndarray, bits: int, frames: Sequence[Rect]) -> None:
        """Write the layout that is wanted.

        Parameters
        ----------
        codes : what the window shows, (rows, columns, 3)
        frames : of the tiles, in the window's pixels
        """
        if self._layout is None:
            return
        (path, is_replaced), self._layout = self._layout, None
        left, top = (min(getattr(frame, side) for frame in frames) for side in ("left", "top"))
        right, bottom = (max(getattr(frame, side) for frame in frames) for side in ("right", "bottom"))
        part = np.ascontiguousarray(codes[max(top, 0) : bottom, max(left, 0) : right])
        encoding = replace(bench.state.monitor.encoding, bits=bits, signal_range="full")
        bench.jobs.add(layout_job(part, encoding, path, is_replaced))
        bench.shown = replace(bench.shown, handing=True)

    def _choose(self, bench: Bench, what: str) -> None:
        self._what = what
        self._path, self._fault, self._is_there = proposed_name(bench, what, self._key), None, False

    def _fill(self, bench: Bench, ui: Widgets) -> None:
        for what, (title, help_text) in KINDS.items():
            if ui.button(f"hand on {what}", title, help_text, is_on=what == self._what):
                self._choose(bench, what)
            imgui.same_line()
        imgui.new_line()
        self._rows(bench, ui)
        _label(ui, "File")
        typed = ui.typed("hand on path", str(self._path), imgui.get_content_region_avail().x)
        ui.help(KINDS[self._what][1])
        if typed is not None:
            self._path, self._fault, self._is_there = Path(typed).expanduser(), None, False
        words = self._fault or KINDS[self._what][1]
        ui.text(words, theme.grey(theme.TEXT if self._fault else theme.TEXT_DIM), wraps=True)
        if ui.button("write", "Replace" if self._is_there else "Write", width=7.0 * ui.em):
            self._write(bench)
        imgui.same_line()
        if ui.button("close handing", "Close", width=7.0 * ui.em) or ui.is_left():
            self._close(bench)
        ui.section("Under way")
        imgui.begin_child("jobs", (0.0, 0.0), 0, 0)
        if not bench.jobs.jobs:
            ui.text("Nothing has been handed on yet.", theme.grey(theme.TEXT_DIM))
        for index, job in enumerate(reversed(list(bench.jobs.jobs))):
            _job(bench, ui, job, len(bench.jobs.jobs) - 1 - index)
        imgui.end_child()

    def _rows(self, bench: Bench, ui: Widgets) -> None:
        """Draw what is chosen for this kind."""
        wishes = self._wishes
        if self._what in (STILL, LUT) or (self._what == CDL and not self._has_all(bench)):
            self._picture_row(bench, ui)
        if self._what == LUT:
            _label(ui, "Nodes a side")
            sizes = {str(size): (str(size), "") for size in SIZES}
            sizes[SMALLEST] = ("smallest within a tolerance", "of 99 % of the frame, in Delta E ITP")
            size = ui.combo("lut size", sizes, str(wishes.size or SMALLEST), 14.0 * ui.em)
            if size is not None:
                self._wishes = replace(wishes, size=int(size) or None)
            if wishes.size is None:
                imgui.same_line()
                typed = ui.typed("lut tolerance", f"{wishes.tolerance:g}", 4.0 * ui.em)
                self._tolerance(typed)
            _label(ui, "Fed with")
            typed = ui.typed("lut input", wishes.input or AS_MASTER, 20.0 * ui.em)
            ui.help(f"What the LUT's input is: {ENCODING_WORDS}")
            if typed is not None:
                self._wishes = replace(self._wishes, input=typed.strip() if typed.strip() != AS_MASTER else "")
            self._switch(ui, "split", "output adjustments as a CDL beside it")
        if self._what == CDL and bench.state.sheet.shots:
            self._switch(ui, "all_shots", "every shot, one correction each")
        if self._what == RENDER:
            self._render_rows(bench, ui)

    def _render_rows(self, bench: Bench, ui: Widgets) -> None:
        shot = bench.state.shot
        if shot is not None:
            _label(ui, "What")
            spans = {PROGRAMME: ("the programme, each shot with its trim", ""), SHOT: (f"shot {shot.name} alone", "")}
            span = ui.combo("span", spans, self._wishes.span, 20.0 * ui.em)
            if span is not None:
                self._wishes = replace(self._wishes, span=span)
        _label(ui, "Movie codec")
        codecs = {"": ("by the name's ending", ""), **{name: (codec.title, "") for name, codec in CODECS.items()}}
        codec = ui.combo("codec", codecs, self._wishes.codec, 20.0 * ui.em)
        if codec is not None:
            self._wishes = replace(self._wishes, codec=codec)
        if (rate := unknown_rate(bench)) is not None:
            _label(ui, "Movie rate")
            typed = ui.typed("render rate", self._wishes.rate or rate, 7.0 * ui.em)
            ui.help("The master does not say it.")
            imgui.same_line()
            ui.text("frames a second", theme.grey(theme.TEXT_DIM))
            if typed is not None:
                self._wishes = replace(self._wishes, rate=typed.strip())
        self._switch(ui, "dither", "dither: noise of a code before rounding")
        self._switch(ui, "caption", "captions burnt in, for copies for approval")
        self._switch(ui, "hdr", "the HDR version: the input adjustments alone, in the master's encoding")

    def _picture_row(self, bench: Bench, ui: Widgets) -> None:
        _label(ui, "Picture" if self._what == STILL else "Rendition")
        options = {str(slot.key): (slot.rendition.name, "") for slot in bench.state.slots}
        if self._what == STILL:
            options = {MASTER: ("Master", ""), **options}
        current = MASTER if self._key is None else str(self._key)
        if current not in options:
            current = next(iter(options))
            self._key = None if current == MASTER else int(current)
        chosen = ui.combo("hand on picture", options, current, 20.0 * ui.em)
        if chosen is not None:
            self._key = None if chosen == MASTER else int(chosen)
            self._choose(bench, self._what)

    def _has_all(self, bench: Bench) -> bool:
        return self._wishes.all_shots and bool(bench.state.sheet.shots)

    def _tolerance(self, typed: str | None) -> None:
        if typed is None:
            return
        try:
            self._wishes = replace(self._wishes, tolerance=float(typed_number(typed)))
        except ValueError:
            self._fault = f"'{typed}' is no number; a tolerance is Delta E ITP, for example 2"

    def _switch(self, ui: Widgets, name: str, text: str) -> None:
        _label(ui, "")
        is_switched, is_on = imgui.checkbox(f"{text}##{name}", getattr(self._wishes, name))
        ui.place(f"wish {name}")
        if is_switched:
            self._wishes = replace(self._wishes, **{name: is_on})

    def _write(self, bench: Bench) -> None:
        path = self._path or proposed_name(bench, self._what, self._key)
        try:
            refuse_master_files(bench, path)
        except TrimbenchError as fault:
            self._fault, self._is_there = str(fault), False
            return
        if path.is_file() and not self._is_there:
            self._is_there, self._fault = True, f"{path.name} is there already; Replace takes its place for good"
            return
        is_replaced = self._is_there
        self._is_there, self._fault = False, None
        if self._what == LAYOUT:
            self._layout = path, is_replaced
            self._close(bench)
            return
        try:
            bench.jobs.add(job_of(bench, self._what, self._key, path, self._wishes, overwrite=is_replaced))
        except TrimbenchError as fault:
            self._fault = str(fault)

    def _close(self, bench: Bench) -> None:
        bench.shown = replace(bench.shown, handing=False)
        imgui.close_current_popup()


def _label(ui: Widgets, text: str) -> None:
    imgui.align_text_to_frame_padding()
    ui.text(text or " ", theme.grey(theme.TEXT))
    imgui.same_line(7.5 * ui.em)


def _job(bench: Bench, ui: Widgets, job: Job, number: int) -> None:
    """Draw one job: what it is, how far it is, what came of it, and what can be done with it."""
    side, gap = 3.4 * ui.em, imgui.get_style().item_spacing.x
    right = imgui.get_cursor_pos_x() + imgui.get_content_region_avail().x
    imgui.align_text_to_frame_padding()
    ui.text(ui.fitting([job.title], 0.6 * (right - 3.0 * side), is_bold=True), is_bold=True)
    imgui.same_line()
    of_all = f"{job.behind} of {job.count} frames" if job.count and job.state in (RUNNING, STOPPED) else ""
    ui.text(f"{job.state}  {of_all}", theme.grey(theme.TEXT if job.state == FAILED else theme.TEXT_DIM))
    buttons = (
        ("stop", "Stop", "", job.state in (WAITING, RUNNING) and job.can_go_on, bench.jobs.stop),
        ("go on", "Go on", "", job.state in (STOPPED, FAILED) and job.can_go_on, bench.jobs.go_on),
        ("copy", "Copy", "Copy the command and what came of it as text", job.state in ENDED, _copy),
        ("forget", "Clear", "Take it off this list", job.state in ENDED, bench.jobs.forget),
    )
    wanted = [(name, text, help_text, action) for name, text, help_text, is_wanted, action in buttons if is_wanted]
    for place, (name, text, help_text, action) in enumerate(wanted):
        imgui.same_line(right - (len(wanted) - place) * (side + gap) + gap)
        if ui.button(f"{name} {number}", text, help_text, width=side):
            action(job)
    if job.state == RUNNING and job.count:
        low, width = imgui.get_cursor_screen_pos(), imgui.get_content_region_avail().x
        height = max(round(0.2 * ui.em), 2)
        draw, end = imgui.get_window_draw_list(), low.x + width * job.behind / job.count
        draw.add_rect_filled((low.x, low.y), (low.x + width, low.y + height), packed(theme.grey(0.30)))
        draw.add_rect_filled((low.x, low.y), (end, low.y + height), packed(theme.grey(theme.TEXT)))
        imgui.dummy((width, 2.0 * height))
    for sentence in job.sentences if job.state in ENDED else ():
        ui.text(sentence, theme.grey(theme.TEXT if job.state != DONE else 0.72), wraps=True)
    imgui.dummy((0.0, 0.3 * ui.em))


def _copy(job: Job) -> None:
    imgui.set_clipboard_text(job.text)
