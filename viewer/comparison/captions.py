"""The words of a comparison: what is said about each tile, the header and the footer. No drawing."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tonemap.anchors import GREY_NITS, WHITE_NITS, anchors_of, neutral_result
from tonemap.arrays import Array
from tonemap.colorimetry import primaries_named
from tonemap.encoding import TRANSFERS, light_to_signal
from tonemap.operator import Choice, Operator, Parameter
from tonemap.rendition import Chain
from tonemap.settings import INPUT_PARAMETERS, OUTPUT_PARAMETERS, changed_settings, settings_of
from tonemap.transfer import pq_eotf, pq_eotf_inverse

from .pictures import Window, is_shown_as_is
from .type_setting import Item, one_line

CURVE_POINTS = 400
ANCHOR_TITLES = {"grey": "18 % grey", "white": "reference white", "peak": "master\u2019s peak"}
UNIT_WORDS = {"cd/m2": "cd/m\u00b2"}


@dataclass(frozen=True)
class Landing:
    """Where an anchor lands: levels in nits, signal 0..1."""

    name: str
    master: float
    nits: float
    signal: float


@dataclass(frozen=True)
class Curve:
    """Output against input on neutral light, both in nits."""

    master: Array
    target: Array


@dataclass(frozen=True)
class Caption:
    """All that a tile says about itself."""

    name: str
    operators: tuple[Item, ...]
    parameters: tuple[Item, ...]
    notes: tuple[str, ...]
    landings: tuple[Landing, ...]
    curve: Curve
    peak: float


def rendition_caption(chain: Chain, highest: float) -> Caption:
    """Describe a rendition; its curve reaches from 0 to `highest` nits of the master."""
    target = chain.rendition.target
    levels = _curve_levels(highest)
    _, light = neutral_result(levels, chain)
    notes = []
    if not is_shown_as_is(target):
        made_for = f"{primaries_named(target.primaries).title}, {TRANSFERS[target.transfer]}"
        notes.append(f"Made for {made_for}; shown here in BT.709 / gamma 2.4, what lies outside is clipped.")
    return Caption(
        name=one_line(chain.rendition.name),
        operators=(Item("tone", one_line(chain.tone.title)), Item("gamut", one_line(chain.gamut.title))),
        parameters=tuple(key_parameters(chain)),
        notes=tuple(notes),
        landings=tuple(Landing(*vars(anchor).values()) for anchor in anchors_of(chain)),
        curve=Curve(levels, light),
        peak=target.peak,
    )


def window_caption(window: Window, clipped: float, outside: float, master_peak: float, highest: float) -> Caption:
    """Describe the master seen through a window: what is shown, and what is not."""
    anchors = {"grey": GREY_NITS, "white": WHITE_NITS, "peak": master_peak}
    landings = []
    for name, level in anchors.items():
        shown = window.shown(np.array([level]))
        signal = float(np.clip(light_to_signal(shown, window.display), 0.0, 1.0)[0])
        landings.append(Landing(name, level, float(shown[0]), signal))
    levels = _curve_levels(highest)
    stops = round(window.stops_down, 1)
    top = f"{number(window.top)} cd/m\u00b2"
    if stops == 0.0:
        name = f"Master, up to {top}"
        note = f"At its true brightness on a display of {number(window.display.peak)} cd/m\u00b2."
    else:
        name = f"Master, {abs(stops):.1f} stops {'down' if stops > 0.0 else 'up'}"
        note = f"Light up to {top}, {'darkened' if stops > 0.0 else 'brightened'} to fit."
    lost = (Item(f"clipped (a channel above {top})", share(clipped)), Item("outside BT.709", share(outside)))
    return Caption(name, (), lost, (note,), tuple(landings), Curve(levels, window.shown(levels)), window.display.peak)


def key_parameters(chain: Chain) -> list[Item]:
    """Return what sets a rendition apart: every changed setting, what defines its operators, and the target's peak.

    What defines an operator: a tone operator's first two parameters and every choice, a gamut operator's first.
    """
    rendition = chain.rendition
    changed = changed_settings(rendition, chain.host)
    choices = [p for p in chain.tone.parameters if isinstance(p, Choice)]
    tone = [p for p in chain.tone.parameters if p in chain.tone.parameters[:2] or p in choices]
    defining = [f"tone.{p.name}" for p in tone] + [f"gamut.{p.name}" for p in chain.gamut.parameters[:1]]
    items = []
    for path, value in settings_of(rendition, chain.host).items():
        if path in changed or path in defining:
            stage, _, name = path.partition(".")
            label = name if stage == "tone" else f"{stage} {name}"
            if stage != "target" or name != "peak":
                items.append(Item(label.replace("_", " "), _value_text(chain, path, value)))
    return [*items, Item("target peak", f"{number(rendition.target.peak)} cd/m\u00b2")]


def share(part: float) -> str:
    """Return a share of the picture as a percentage, never as 0 when it is not 0."""
    percent = 100.0 * part
    if percent == 0.0:
        return "0 %"
    if percent < 0.01:
        return "< 0.01 %"
    if percent < 0.1:
        return f"{percent:.2f} %"
    return "100 %" if part == 1.0 else f"{min(percent, 99.9):.1f} %"


def number(value: float) -> str:
    """Return a number with as many digits as one reads: four at most before the point, two behind it."""
    if value == 0.0 or abs(value) >= 1000.0:
        return f"{value:.0f}"
    return (
        f"{value:.{1 if abs(value) >= 100.0 else 2}f}".rstrip("0").rstrip(".") if abs(value) >= 0.01 else f"{value:.2g}"
    )


def _curve_levels(highest: float) -> Array:
    return pq_eotf(np.linspace(0.0, float(pq_eotf_inverse(np.array(highest))), CURVE_POINTS))


def _value_text(chain: Chain, path: str, value: Any) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, tuple):
        return number(value[0]) if len(set(value)) == 1 else ", ".join(number(item) for item in value)
    if isinstance(value, str):
        return one_line(value.replace("_", " ").replace("rgb", "RGB"))
    if value is None:
        return "none"
    unit = _unit(chain, path)
    text = f"{value:+.2f}" if unit == "stops" and value != 0.0 else number(float(value))
    text = text.replace("-", "\u2212")
    return f"{text} {UNIT_WORDS.get(unit, unit)}".strip()


def _unit(chain: Chain, path: str) -> str:
    stage, _, name = path.partition(".")
    operators: dict[str, Operator] = {"tone": chain.tone, "gamut": chain.gamut}
    if stage in operators:
        parameters = operators[stage].parameters
    else:
        parameters = {"input": INPUT_PARAMETERS, "output": OUTPUT_PARAMETERS}.get(stage, ())
    units = {p.name: p.unit for p in parameters if isinstance(p, Parameter)}
    if stage == "target":
        return {"black": "cd/m2", "unit": "cd/m2", "bits": "bits"}.get(name, "")
    return units.get(name, "")
