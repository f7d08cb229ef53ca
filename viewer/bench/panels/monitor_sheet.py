"""The question what the screen is, in plain words; asked on the first start, and whenever it is wanted."""

from dataclasses import asdict, replace
from typing import Any

from tonemap.colorimetry import primaries_named
from tonemap.encoding import TRANSFERS
from tonemap.errors import WrongCall
from tonemap.monitor import BITS, MONITOR_PRIMARIES, PQ, SDR_TRANSFERS, Monitor

from .. import theme
from ..bench import Bench
from ..preferences import caution, use_monitor
from ..scales import typed_number
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "What is this screen?"
INTRODUCTION = "Trimbench can't see in which mode a screen is, and never switches it. Say what you have set it to."
KINDS = {
    "screen": (
        "An ordinary SDR screen",
        "A computer's screen: good for choosing and marking, not for judging brightness.",
        Monitor(),
    ),
    "sdr": (
        "A reference monitor in SDR",
        "In BT.1886, its white set to 100 cd/m\u00b2.",
        Monitor(bits=10),
    ),
    "pq": (
        "A monitor in PQ",
        "Switched to PQ (ST 2084) by hand: HDR and SDR are then seen side by side, each at its own light.",
        Monitor(PQ, "bt2020", 1000.0, bits=10),
    ),
}
OWN_WHITE = "own"
SDR_WHITES = {OWN_WHITE: ("each target's own", ""), "203": ("203 cd/m\u00b2", "")}
HELP = {
    "primaries": "The colours that the signal's pure red, green and blue stand for, as set on the monitor.",
    "peak": "The most light it reaches, in cd/m\u00b2. What is above is clipped.",
    "white": "The light of its white, in cd/m\u00b2.",
    "black": "The light of its black, in cd/m\u00b2.",
    "bits": "Bits a channel that reach it.",
    "transfer": "How it makes light of code values. BT.1886 leaves the code values of renditions as they are.",
    "sdr_white": "How bright the white of SDR pictures is shown beside HDR.",
    "interface_white": "How bright the white of this interface is; its ground is about 1 % of it.",
}


class MonitorSheet:
    """What has been said so far."""

    def __init__(self) -> None:
        self._draft: dict[str, Any] | None = None
        self._fault: str | None = None

    def draw(self, bench: Bench, ui: Widgets) -> None:
        """Draw the sheet while it is open."""
        if not bench.shown.monitor:
            self._draft = None
            return
        if self._draft is None:
            self._draft, self._fault = asdict(bench.state.monitor), None
        with ui.popup(TITLE, 38.0 * ui.em) as is_open:
            if is_open:
                self._fill(bench, ui, self._draft)

    def _fill(self, bench: Bench, ui: Widgets, draft: dict[str, Any]) -> None:
        ui.text(INTRODUCTION, theme.grey(0.72), wraps=True)
        imgui.dummy((0.0, 0.2 * ui.em))
        for name, (title, words, usual) in KINDS.items():
            if ui.button(f"kind {name}", title, is_on=name == _kind(draft), width=15.0 * ui.em):
                draft.update(asdict(usual))
                self._fault = None
            imgui.same_line()
            ui.text(words, theme.grey(0.72), wraps=True)
        imgui.dummy((0.0, 0.2 * ui.em))
        self._details(ui, draft)
        monitor = self._monitor(draft)
        imgui.dummy((0.0, 0.2 * ui.em))
        ui.text(self._fault or (monitor.sentence if monitor else ""), wraps=True)
        warning = caution(monitor, bench.state.monitor) if monitor else None
        if warning is not None:
            ui.text(warning, is_bold=True, wraps=True)
            ui.place("monitor caution")
        imgui.dummy((0.0, 0.2 * ui.em))
        if ui.button("cancel monitor", "Cancel", width=6.0 * ui.em) or ui.is_left():
            self._close(bench)
        imgui.same_line()
        words = "Use it" if warning is None else "I have read this: use it"
        if monitor is not None and ui.button("use monitor", words, width=(6.0 if warning is None else 12.0) * ui.em):
            self._close(bench)
            use_monitor(bench, monitor)
        imgui.same_line()
        check = "Then fill the window with a pattern that reads right on such a screen only (U)"
        if monitor is not None and warning is None and ui.button("check monitor", "Use it, check it", check):
            self._close(bench)
            use_monitor(bench, monitor)
            bench.line_up.open()

    def _details(self, ui: Widgets, draft: dict[str, Any]) -> None:
        is_pq = draft["signal"] == PQ
        primaries = {name: (primaries_named(name).title, "") for name in MONITOR_PRIMARIES}
        self._list(ui, draft, "primaries", "Primaries", primaries)
        self._number(ui, draft, "peak", "Peak" if is_pq else "White", HELP["peak" if is_pq else "white"])
        self._number(ui, draft, "black", "Black", HELP["black"])
        self._list(ui, draft, "bits", "Bits", {str(bits): (f"{bits} bits", "") for bits in BITS})
        if not is_pq:
            self._list(ui, draft, "transfer", "Transfer", {name: (TRANSFERS[name], "") for name in SDR_TRANSFERS})
            return
        self._list(ui, draft, "sdr_white", "SDR white", SDR_WHITES)
        self._number(ui, draft, "interface_white", "Interface", HELP["interface_white"])

    def _list(
        self, ui: Widgets, draft: dict[str, Any], part: str, title: str, options: dict[str, tuple[str, str]]
    ) -> None:
        ui.label(f"monitor {part}", title, HELP[part], 7.0 * ui.em)
        imgui.same_line()
        value = draft[part]
        current = OWN_WHITE if value is None else value if isinstance(value, str) else f"{value:g}"
        chosen = ui.combo(f"monitor {part}", options, current, 14.0 * ui.em)
        if chosen is not None:
            self._fault = None
            draft[part] = None if chosen == OWN_WHITE else type(0.0 if value is None else value)(chosen)

    def _number(self, ui: Widgets, draft: dict[str, Any], part: str, title: str, help_text: str) -> None:
        ui.label(f"monitor {part}", title, help_text, 7.0 * ui.em)
        imgui.same_line()
        typed = ui.typed(f"monitor {part}", f"{draft[part]:g}", 6.0 * ui.em)
        imgui.same_line()
        ui.text("cd/m\u00b2", theme.grey(theme.TEXT_DIM))
        if typed is None:
            return
        try:
            draft[part], self._fault = float(typed_number(typed, "cd/m2")), None
        except ValueError:
            self._fault = f"'{typed}' is not a number; type the {title.lower()} in cd/m\u00b2"

    def _monitor(self, draft: dict[str, Any]) -> Monitor | None:
        """Return what has been said so far as a monitor; None where it can't be one, with the sentence kept."""
        if self._fault is not None:
            return None
        try:
            return Monitor(**draft)
        except WrongCall as fault:
            self._fault = str(fault)
            return None

    def _close(self, bench: Bench) -> None:
        bench.shown = replace(bench.shown, monitor=False)
        self._draft = None
        imgui.close_current_popup()


def _kind(draft: dict[str, Any]) -> str:
    if draft["signal"] == PQ:
        return "pq"
    return "screen" if draft["bits"] == min(BITS) else "sdr"
