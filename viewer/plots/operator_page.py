"""The picture on an operator's page: what each parameter does to the curve of greys, or to colours at the edge."""

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np

from tonemap.anchors import neutral_result
from tonemap.arrays import Array
from tonemap.colorimetry import PRIMARIES, conversion_matrix, convert, luminance, matrix_to_xyz
from tonemap.encoding import Encoding
from tonemap.host import Host
from tonemap.measure.hue import uv_of_xyz
from tonemap.operator import GAMUT, TONE, Choice, Operator, Parameter, ParameterValue, Switch
from tonemap.reference import apply_operator
from tonemap.rendition import Rendition, chain_of
from tonemap.scopes import Scale

from ..comparison.layout import Box
from ..comparison.type_setting import FIRST, QUIET, SECOND
from .axis import nits, ticks
from .chromaticity import TRIANGLES, uv
from .look import Look
from .page import Page, panel_heading
from .plane import Plane

Settings = dict[str, ParameterValue]
Trial = tuple[str, Settings]
"""What is tried: a label with settings."""
Panel = tuple[str, list[Trial]]
"""Its heading, and what is tried on it."""
Drawn = tuple[Callable[..., None], str, list[Trial]]
"""A panel with what draws it before."""
Share = Callable[[Operator, Host, Settings], Array]
AT_DEFAULTS: Panel = ("at its defaults", [("", {})])

EM = 18.0  # pixels
MOST_ACROSS = 3
SIDE = 19.6  # em, of a panel
GAP = 3.6
BESIDE = 6.6  # em, of a row: its margins and the figures at the left
LEAST_DIFFERENCE = 1e-4  # of signal
LEVELS = Scale("pq", 0.1, 1000.0)
EDGE_NITS = 20.0
PALENESS = 0.5
GREYS = "Greys of a master of 1000 cd/m\u00b2 on a target of 100: signal over the master's level, spaced as PQ."
TONE_READING = (
    f"{GREYS} Of red: of BT.2020, mixed half with grey, how much of its distance from grey is left, over its luminance."
)
GAMUT_READING = (
    f"Colours of BT.2020 at {EDGE_NITS:g} cd/m\u00b2 on BT.709: where they land in CIE 1976 u'v'; how far from grey "
    "on the way to the green primary, after over before, 1 being the boundary of BT.709."
)
DASHES: tuple[Any, ...] = ("-", (0, (5.0, 2.0)), (0, (1.5, 1.5)))


def operator_figure(operator: Operator, host: Host, look: Look) -> Any:
    """Draw one panel a parameter: its default, minimum and maximum, or its options, all else at the defaults."""
    hidden: list[str] = []
    if operator.kind == TONE:
        panels, hidden = _tone_panels(operator, host)
    else:
        panels = _gamut_panels(operator)
    across = _across(len(panels))
    ems = BESIDE + across * SIDE + (across - 1) * GAP
    about = (
        GAMUT_READING if operator.kind == GAMUT else TONE_READING if _kept in (panel[0] for panel in panels) else GREYS
    )
    page = Page(round(ems * EM), look, operator.title, about, ems)
    em = page.em
    bottom = page.top
    for index, (draw, heading, trials) in enumerate(panels):
        row, column = divmod(index, across)
        x = page.margin + 2.6 * em + column * (SIDE + GAP) * em
        y = page.top + 1.6 * em + row * (SIDE + 5.6) * em
        box = page.plate(Box(x, y, SIDE * em, SIDE * em))
        page.word(panel_heading(heading, box.x, box.y - 0.7 * em, 0.95 * em))
        draw(page, box, operator, host, trials)
        _key(page, box, [label for label, _ in trials])
        bottom = box.y + box.height + 3.0 * em
    notes = [f"Neither changes with {', '.join(hidden)}."] if hidden else []
    return page.finish(bottom, *notes)


def _across(count: int) -> int:
    """Return how many panels stand in a row, so that the fewest places stay empty."""
    rows = -(-count // MOST_ACROSS)
    return -(-count // rows)


def _tone_panels(operator: Operator, host: Host) -> tuple[list[Drawn], list[str]]:
    """Return what greys show, else what red shows, and the headings of what neither does."""
    greys, others = _that_matter(operator, host, _panels(operator))
    reds = [(heading, trials) for heading, trials in others if _differ(_red_kept, operator, host, trials)]
    hidden = [heading for heading, trials in others if (heading, trials) not in reds]
    greys = greys or [AT_DEFAULTS]
    if not reds and len(greys) == 1:
        reds = [AT_DEFAULTS]
    drawn = [(_curves, *panel) for panel in greys] + [(_kept, f"{heading}, red", trials) for heading, trials in reds]
    return drawn, hidden


def _gamut_panels(operator: Operator) -> list[Drawn]:
    """Return where colours land, and how far from grey."""
    distances = _panels(operator) or [AT_DEFAULTS]
    return [(_moves, *AT_DEFAULTS), *((_distances, f"{heading}, green", trials) for heading, trials in distances)]


def _panels(operator: Operator) -> list[Panel]:
    """Return heading and settings, with labels, of every parameter."""
    panels: list[Panel] = []
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


def _grey_signal(operator: Operator, host: Host, settings: Settings) -> Array:
    rendition = Rendition(operator.title, operator.name, "gamut_clip", settings)
    return neutral_result(LEVELS.values(257), chain_of(rendition, Encoding("linear"), host))[0]


def _red_kept(operator: Operator, host: Host, settings: Settings) -> Array:
    """Return how much of the distance of a pale red from grey an operator leaves, over `LEVELS`."""
    red = np.array([1.0, 0.0, 0.0])
    light = LEVELS.values(257)[:, np.newaxis] * (PALENESS * red / luminance(red) + 1.0 - PALENESS)
    chain = chain_of(Rendition("kept", operator.name, "gamut_clip", settings), Encoding("linear"), host)
    after = apply_operator(operator, light, chain.tone_values)
    return (1.0 - after.min(axis=-1) / luminance(after)) / PALENESS


def _that_matter(operator: Operator, host: Host, panels: list[Panel]) -> tuple[list[Panel], list[Panel]]:
    """Return the panels on which greys change, and the others; a switch may have to be thrown first."""
    switches = [parameter for parameter in operator.parameters if isinstance(parameter, Switch)]
    shown: list[Panel] = []
    others, thrown_ones = [], set()
    for heading, trials in panels:
        if _differ(_grey_signal, operator, host, trials):
            shown.append((heading, trials))
            continue
        for switch in switches:
            thrown = [(label, {**settings, switch.name: not switch.default}) for label, settings in trials]
            if all(switch.name not in settings for _, settings in trials) and _differ(
                _grey_signal, operator, host, thrown
            ):
                shown.append((f"{heading}, {switch.name} {'off' if switch.default else 'on'}", thrown))
                thrown_ones.add(switch.name)
                break
        else:
            others.append((heading, trials))
    return shown, [panel for panel in others if panel[0] not in thrown_ones]


def _differ(share: Share, operator: Operator, host: Host, trials: list[Trial]) -> bool:
    first, *others = (share(operator, host, settings) for _, settings in trials)
    return any(np.abs(other - first).max() > LEAST_DIFFERENCE for other in others)


def _curves(page: Page, box: Box, operator: Operator, host: Host, trials: list[Trial]) -> None:
    _over_levels(page, box, trials, partial(_grey_signal, operator, host))


def _kept(page: Page, box: Box, operator: Operator, host: Host, trials: list[Trial]) -> None:
    _over_levels(page, box, trials, partial(_red_kept, operator, host))


def _over_levels(page: Page, box: Box, trials: list[Trial], share: Callable[[Settings], Array]) -> None:
    """Draw a share, 0..1, over the master's level, once a trial."""
    em = page.em
    for at in (0.0, 0.25, 0.5, 0.75, 1.0):
        y = box.y + box.height * (1.0 - at)
        page.grid_line([box.x, box.x + box.width], [y, y])
        page.label(f"{at:.0%}", box.x - 0.5 * em, y, align="right", is_figure=True)
    for level in ticks(LEVELS, box.width, 2.6 * em):
        x = box.x + box.width * float(LEVELS.place(level))
        page.grid_line([x, x], [box.y, box.y + box.height])
        page.label(nits(level), x, box.y + box.height + 0.9 * em, align="center")
    levels = LEVELS.values(257)
    for (_, settings), style, colour in _styled(page, trials):
        xs, ys = box.x + box.width * LEVELS.place(levels), box.y + box.height * (1.0 - share(settings))
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


def _landed(operator: Operator, host: Host, settings: Settings, light: Array) -> Array:
    """Return light (..., 3), BT.2020, as a gamut operator leaves it on a BT.709 target, in BT.2020 again."""
    chain = chain_of(Rendition("landed", "linear_scale", operator.name, {}, settings), Encoding("linear"), host)
    return convert(apply_operator(operator, light, chain.gamut_values), chain.volume.from_target)


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
