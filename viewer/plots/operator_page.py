"""The picture on an operator's page: what each parameter does to the curve of greys, or to colours at the edge."""

from typing import Any

import numpy as np

from tonemap.anchors import neutral_result
from tonemap.arrays import Array
from tonemap.colorimetry import PRIMARIES, conversion_matrix, convert, luminance, matrix_to_xyz
from tonemap.encoding import Encoding
from tonemap.host import Host
from tonemap.measure.hue import uv_of_xyz
from tonemap.operator import TONE, Choice, Operator, Parameter, ParameterValue, Switch
from tonemap.rendition import Rendition, chain_of
from tonemap.scopes import Scale

from ..comparison.layout import Box
from ..comparison.type_setting import FIRST, QUIET, SECOND
from .axis import nits, ticks
from .chromaticity import TRIANGLES, uv
from .look import Look
from .page import Page, panel_heading
from .plane import Plane

Panels = list[tuple[str, list[tuple[str, dict[str, ParameterValue]]]]]
"""Of every panel the heading and what is tried: a label with settings."""

ACROSS = 3
SIDE = 19.6  # em, the height of a panel, and its width where it shows colours
LEFT, GAP = 2.6, 3.6
LEAST_DIFFERENCE = 1e-4  # of signal
LEVELS = Scale("pq", 0.1, 1000.0)
EDGE_NITS = 20.0
TONE_READING = "Greys of a master of 1000 cd/m\u00b2 on a target of 100: signal over the master's level, spaced as PQ."
GAMUT_READING = (
    f"Colours of BT.2020 at {EDGE_NITS:g} cd/m\u00b2 on BT.709: where they land in CIE 1976 u'v'; how far from grey "
    "on the way to the green primary, after over before, 1 being the boundary of BT.709."
)
DASHES: tuple[Any, ...] = ("-", (0, (5.0, 2.0)), (0, (1.5, 1.5)))


def operator_figure(operator: Operator, host: Host, look: Look, *, width: int = 1600) -> Any:
    """Draw one panel a parameter: its default, minimum and maximum, or its options, all else at the defaults."""
    is_tone = operator.kind == TONE
    page = Page(width, look, operator.title, TONE_READING if is_tone else GAMUT_READING)
    em = page.em
    shown = _panels(operator)
    hidden: list[str] = []
    if is_tone:
        shown, hidden = _that_matter(operator, host, shown)
    if not is_tone or not shown:
        shown.insert(0, ("at its defaults", [("", {})]))
    if not is_tone and len(shown) == 1:
        shown *= 2  # where colours land, and how far they move
    across = min(len(shown), ACROSS)
    wide = (page.inner / em - LEFT - (across - 1) * GAP) / across if is_tone else SIDE
    bottom = page.top
    for index, (heading, trials) in enumerate(shown):
        row, column = divmod(index, ACROSS)
        x = page.margin + (LEFT + column * (wide + GAP)) * em
        y = page.top + 1.6 * em + row * (SIDE + 5.6) * em
        box = page.plate(Box(x, y, wide * em, SIDE * em))
        page.word(panel_heading(heading, box.x, box.y - 0.7 * em, 0.95 * em))
        draw = _curves if is_tone else _moves if index == 0 else _distances
        draw(page, box, operator, host, trials)
        _key(page, box, [label for label, _ in trials])
        bottom = box.y + box.height + 3.0 * em
    notes = [f"Greys do not change with {', '.join(hidden)}."] if hidden else []
    return page.finish(bottom, *notes)


def _panels(operator: Operator) -> Panels:
    """Return heading and settings, with labels, of every parameter."""
    panels: Panels = []
    for parameter in operator.parameters:
        if isinstance(parameter, Parameter):
            values: list[Any] = [parameter.default, parameter.minimum, parameter.maximum]
            shown = [f"{value:g}" for value in values]
            heading = f"{parameter.name}, {parameter.unit}" if parameter.unit else parameter.name
        elif isinstance(parameter, Choice):
            values = sorted(parameter.options, key=lambda option: option != parameter.default)
            shown, heading = values, parameter.name
        else:
            values = [parameter.default, not parameter.default]
            shown, heading = ["on" if value else "off" for value in values], parameter.name
        known = dict(zip(shown, values, strict=True))  # the default may be an end
        panels.append((heading, [(label, {parameter.name: value}) for label, value in known.items()]))
    return panels


def _grey_signal(operator: Operator, host: Host, settings: dict[str, ParameterValue]) -> Array:
    rendition = Rendition(operator.title, operator.name, "gamut_clip", settings)
    return neutral_result(LEVELS.values(257), chain_of(rendition, Encoding("linear"), host))[0]


def _that_matter(operator: Operator, host: Host, panels: Panels) -> tuple[Panels, list[str]]:
    """Return the panels on which greys change, and the headings of the others; a switch may have to be thrown first."""
    switches = [parameter for parameter in operator.parameters if isinstance(parameter, Switch)]
    shown: Panels = []
    hidden, thrown_ones = [], set()
    for heading, trials in panels:
        if _differ(operator, host, trials):
            shown.append((heading, trials))
            continue
        for switch in switches:
            thrown = [(label, {**settings, switch.name: not switch.default}) for label, settings in trials]
            if all(switch.name not in settings for _, settings in trials) and _differ(operator, host, thrown):
                shown.append((f"{heading}, {switch.name} {'off' if switch.default else 'on'}", thrown))
                thrown_ones.add(switch.name)
                break
        else:
            hidden.append(heading)
    return shown, [heading for heading in hidden if heading not in thrown_ones]


def _differ(operator: Operator, host: Host, trials: list[tuple[str, dict[str, ParameterValue]]]) -> bool:
    first, *others = (_grey_signal(operator, host, settings) for _, settings in trials)
    return any(np.abs(other - first).max() > LEAST_DIFFERENCE for other in others)


def _curves(page: Page, box: Box, operator: Operator, host: Host, trials: Any) -> None:
    em = page.em
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = box.y + box.height * (1.0 - share)
        page.grid_line([box.x, box.x + box.width], [y, y])
        page.label(f"{share:.0%}", box.x - 0.5 * em, y, align="right", is_figure=True)
    for level in ticks(LEVELS, box.width, 2.6 * em):
        x = box.x + box.width * float(LEVELS.place(level))
        page.grid_line([x, x], [box.y, box.y + box.height])
        page.label(nits(level), x, box.y + box.height + 0.9 * em, align="center")
    levels = LEVELS.values(257)
    for (_, settings), style, colour in _styled(page, trials):
        signal = _grey_signal(operator, host, settings)
        xs, ys = box.x + box.width * LEVELS.place(levels), box.y + box.height * (1.0 - signal)
        page.line(xs, ys, colour, 0.15, linestyle=style, zorder=4)
    page.frame(box)


def _moves(page: Page, box: Box, operator: Operator, host: Host, trials: Any) -> None:
    plane, em = Plane(0.02, 0.61, 0.545, box), page.em
    for row, (name, style) in enumerate((name, style) for name, style in TRIANGLES.items() if name != "p3-d65"):
        primaries = PRIMARIES[name]
        corners = (primaries.red, primaries.green, primaries.blue, primaries.red)
        xs, ys = zip(*(plane.at(*uv(corner)) for corner in corners), strict=True)
        page.line(xs, ys, page.look.shade(QUIET), 0.07, linestyle=style, zorder=3)
        left, down = box.x + 0.62 * box.width, box.y + 0.83 * box.height + 1.6 * em * row
        page.line([left, left + 1.9 * em], [down, down], page.look.shade(QUIET), 0.07, linestyle=style, zorder=3)
        page.label(primaries.title, left + 2.3 * em, down, shade=SECOND)
    for line in _landed(operator, host, trials[0][1], _edge_lines()):
        xyz = convert(line, matrix_to_xyz(PRIMARIES["bt2020"]))
        places = np.stack(plane.at(*np.moveaxis(uv_of_xyz(xyz), -1, 0)))
        page.line(places[0], places[1], page.look.accent, 0.11, zorder=4)
        page.dot(float(places[0, -1]), float(places[1, -1]), page.look.accent, 0.45)
    page.frame(box)


def _distances(page: Page, box: Box, operator: Operator, host: Host, trials: Any) -> None:
    light = _to_green()
    before = _distance(light)
    end = 1.05 * float(before[-1])
    for tick in (0.0, 0.5, 1.0, 1.5, 2.0):
        if tick <= end:
            x, y = box.x + box.width * tick / end, box.y + box.height * (1.0 - tick / end)
            page.grid_line([x, x], [box.y, box.y + box.height], strong=tick == 1.0)
            page.grid_line([box.x, box.x + box.width], [y, y], strong=tick == 1.0)
            page.label(f"{tick:.1f}", x, box.y + box.height + 0.9 * page.em, align="center", is_figure=True)
            page.label(f"{tick:.1f}", box.x - 0.5 * page.em, y, align="right", is_figure=True)
    for (_, settings), style, colour in _styled(page, trials):
        after = _distance(_landed(operator, host, settings, light))
        xs, ys = box.x + box.width * before / end, box.y + box.height * (1.0 - after / end)
        page.line(xs, ys, colour, 0.15, linestyle=style, zorder=4)
    page.frame(box)


def _landed(operator: Operator, host: Host, settings: dict[str, ParameterValue], light: Array) -> Array:
    """Return light (..., 3), BT.2020, as a gamut operator leaves it on a BT.709 target, in BT.2020 again."""
    chain = chain_of(Rendition("landed", "linear_scale", operator.name, {}, settings), Encoding("linear"), host)
    return convert(operator.apply(light, chain.gamut_values), chain.volume.from_target)


def _distance(light: Array) -> Array:
    """Return how far light (..., 3) is from grey, (...): 1 where the least channel of BT.709 is 0."""
    channels = convert(light, conversion_matrix("bt2020", "bt709"))
    return 1.0 - channels.min(axis=-1) / luminance(light)


def _to_green() -> Array:
    """Return light (places, 3) from grey to the green primary of BT.2020, of one luminance."""
    green = np.array([0.0, 1.0, 0.0])
    return EDGE_NITS + np.linspace(0.0, 1.0, 200)[:, np.newaxis] * (green * EDGE_NITS / luminance(green) - EDGE_NITS)


def _edge_lines() -> Array:
    """Return light (hues, places, 3) from grey to the edge of BT.2020, of one luminance."""
    turn = np.linspace(0.0, 3.0, 12, endpoint=False)
    edge = np.maximum(1.0 - np.abs((turn[:, np.newaxis] - np.arange(3.0) + 1.5) % 3.0 - 1.5), 0.0)
    edge *= (EDGE_NITS / luminance(edge))[:, np.newaxis]
    share = np.linspace(0.0, 1.0, 60)[:, np.newaxis]
    return EDGE_NITS * (1.0 - share) + share * edge[:, np.newaxis]


def _styled(page: Page, trials: Any) -> Any:
    look = page.look
    colours = [look.accent, look.traces["B"], look.traces["G"], look.shade(FIRST)]
    return ((trial, DASHES[index % 3], colours[index % 4]) for index, trial in reversed(list(enumerate(trials))))


def _key(page: Page, box: Box, labels: list[str]) -> None:
    """Set the names of the lines below a panel, each behind a piece of its line."""
    em, x = page.em, box.x
    y = box.y + box.height + 2.2 * em
    styles = {trial: (style, colour) for trial, style, colour in _styled(page, labels)}
    for label in labels:
        if label:
            style, colour = styles[label]
            page.line([x, x + 1.9 * em], [y, y], colour, 0.15, linestyle=style)
            page.label(label, x + 2.3 * em, y, shade=SECOND)
            x += 2.3 * em + page.label_width(label) + 1.1 * em
