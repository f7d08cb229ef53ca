"""The question about a file that does not say how its code values become light."""

from dataclasses import replace
from typing import Any

from tonemap.colorimetry import PRIMARIES
from tonemap.encoding import TRANSFERS
from tonemap.media.wishes import HDR_PEAK, HDR_TRANSFERS, SDR_PEAK, EncodingWishes
from tonemap.signal_range import RANGES

from .. import theme
from ..bench import Bench
from ..opening import Question
from ..scales import typed_number
from ..toolkit import imgui
from ..widgets import Widgets

TITLE = "How is this master encoded?"
BY_FILE = "what the file says: "
HELP = {
    "transfer": "The function that makes light of code values.",
    "primaries": "The colours of pure red, green and blue, and of white.",
    "range": "Whether black and white are at the ends of the code values (full) or inside them (narrow).",
    "peak": "Peak luminance of the display that the master was graded on.",
    "unit": "How much light the value 1.0 is; for linear light only.",
}
RANGE_WORDS = {"narrow": "narrow: 64 to 940 of 10 bits", "full": "full: 0 to 1023 of 10 bits"}


class QuestionSheet:
    """What has been answered so far."""

    def __init__(self) -> None:
        self._asked: Question | None = None
        self._wishes = EncodingWishes()
        self._fault: str | None = None

    def draw(self, bench: Bench, ui: Widgets) -> None:
        """Draw the sheet while there is a question."""
        question = bench.question
        if question is None:
            self._asked = None
            return
        if question is not self._asked:
            self._asked, self._wishes, self._fault = question, question.wishes, None
        with ui.popup(TITLE, 34.0 * ui.em) as is_open:
            if is_open:
                self._fill(bench, ui, question)

    def _fill(self, bench: Bench, ui: Widgets, question: Question) -> None:
        ui.text(question.path.name, is_bold=True)
        ui.text(self._fault or question.sentence.removeprefix(f"{question.path}: ").capitalize() + ".",
                theme.grey(0.72), wraps=True)  # fmt: skip
        imgui.dummy((0.0, 0.3 * ui.em))
        by_file = question.by_file
        self._list(ui, "transfer", TRANSFERS, "transfer", by_file)
        self._list(ui, "primaries", {name: item.title for name, item in PRIMARIES.items()}, "primaries", by_file)
        self._list(ui, "range", {name: RANGE_WORDS[name] for name in RANGES}, "signal_range", by_file)
        transfer = self._wishes.transfer or by_file.get("transfer")
        usual = {None: ""} | dict.fromkeys(HDR_TRANSFERS, f"; usually {HDR_PEAK:g}")
        self._number(ui, "peak", "cd/m²", by_file, usual.get(transfer, f"; usually {SDR_PEAK:g}"))
        if transfer == "linear":
            self._number(ui, "unit", "cd/m² is the value 1.0", by_file)
        imgui.dummy((0.0, 0.3 * ui.em))
        if ui.button("cancel question", "Cancel", width=6.0 * ui.em) or ui.is_left():
            bench.question = None
            imgui.close_current_popup()
        imgui.same_line()
        if ui.button("answer", "Open", width=6.0 * ui.em):
            imgui.close_current_popup()
            bench.open(question.path, self._wishes)

    def _list(self, ui: Widgets, name: str, titles: dict[str, str], part: str, by_file: dict[str, Any]) -> None:
        options = {key: (title, "") for key, title in titles.items()}
        if part in by_file:
            options = {"": (f"{BY_FILE}{titles.get(by_file[part], by_file[part])}", ""), **options}
        ui.label(f"question {name}", name.capitalize(), HELP[name], 7.0 * ui.em)
        imgui.same_line()
        current = getattr(self._wishes, part) or ""
        chosen = ui.combo(f"question {name}", options, current, imgui.get_content_region_avail().x)
        if chosen is not None:
            self._say(part, chosen or None)

    def _number(self, ui: Widgets, name: str, unit: str, by_file: dict[str, Any], usual: str = "") -> None:
        ui.label(f"question {name}", name.capitalize(), HELP[name], 7.0 * ui.em)
        imgui.same_line()
        current: Any = getattr(self._wishes, name)
        typed = ui.typed(f"question {name}", "" if current is None else f"{current:g}", 5.0 * ui.em)
        imgui.same_line()
        else_taken = f", or {BY_FILE}{by_file[name]:g}" if name in by_file else usual
        ui.text(f"{unit}{else_taken if current is None else ''}", theme.grey(theme.TEXT_DIM))
        if typed is not None:
            try:
                self._say(name, float(typed_number(typed, "cd/m2")) if typed.strip() else None)
            except ValueError:
                self._fault = f"'{typed}' is not a number; type the {name} in cd/m²."

    def _say(self, part: str, value: Any) -> None:
        self._fault = None
        self._wishes = replace(self._wishes, **{part: value})
