"""The figures of a measurement as a person reads them in ten seconds."""

from collections.abc import Iterable, Iterator
from typing import Any

from tonemap.colorimetry import PRIMARIES

from .output import printable

NITS = "cd/m\u00b2"
LEFT = 16
NAME = 20


def table(report: dict[str, Any]) -> str:
    """Return the report as text."""
    parts = [_master(report), *(part(report) for part in (_light, _colour, _tags, _profiles, _flash, _renditions))]
    blocks = [list(lines) for lines in (*parts, _patches(report), _files(report))]
    return "\n\n".join("\n".join(lines) for lines in blocks if lines)


def _row(name: str, *texts: str) -> str:
    return f"{name:{LEFT}}" + "   ".join(texts)


def _master(report: dict[str, Any]) -> Iterator[str]:
    master, measured = report["master"], report["measured"]
    rate = (
        f", {float(_fraction(master['rate'])):.6g} frames a second"
        if master["rate"] and master["kind"] != "still"
        else ""
    )
    timecode = f", from {master['timecode']}" if master["timecode"] else ""
    size = f"{master['columns']} x {master['rows']}"
    yield f"{printable(master['file'])}: {master['kind']}, {master['format']}, {size}{rate}{timecode}"
    yield f"{master['encoding']}; {master['coding']}"
    yield from master["notices"]
    if master["kind"] != "still":
        step = f", every {measured['step']}th" if measured["step"] > 1 else ""
        faults = measured["fault frames"]
        unread = f"; could not be read: {faults}" if faults else ""
        yield f"frames {measured['first']}-{measured['last']}{step}: {measured['frames']} measured{unread}"
    yield from (f"CAUTION: {sentence}" for sentence in measured["odd samples"]["sentences"])


def _fraction(text: str) -> float:
    above, _, below = text.partition("/")
    return int(above) / int(below or 1)


def _light(report: dict[str, Any]) -> Iterator[str]:
    levels, area = report["levels"], report["measured"]["area"]
    if levels is None:
        return
    place = f"{area['columns']} x {area['rows']} at column {area['left']}, row {area['top']}"
    words = {"found": f", bars left out: {place}", "said by the user": f": {place}", "the whole frame": ""}
    yield f"Light of the active area{words[report['measured']['area is']]}"
    active, frames = levels["active"], levels["frames"]
    at = f"column {levels['max_cll_column']}, row {levels['max_cll_row']}"
    of_frame = f"frame {levels['max_cll_frame']}, " if frames > 1 else ""
    yield _row("  MaxCLL", f"{levels['max_cll']:6} {NITS}", f"({levels['max_cll_nits']:.2f}; {of_frame}{at})")
    of_frame = f"; frame {levels['max_fall_frame']}" if frames > 1 else ""
    with_bars = f"; with bars {levels['max_fall_full_nits']:.2f}" if area != _whole(report) else ""
    yield _row("  MaxFALL", f"{levels['max_fall']:6} {NITS}", f"({levels['max_fall_nits']:.2f}{of_frame}{with_bars})")
    span = f"{active['luminance_minimum']:.3g} to {active['luminance_maximum']:.4g}"
    yield _row("  luminance", f"{active['luminance_average']:6.4g} {NITS} on average", span)
    yield _row("  picture level", f"{active['average_picture_level']:6.1f} % of PQ on average")
    items = active["percentiles"]
    yield _row("  max(R, G, B)", _cells_of([f"{item['percent']:g} %" for item in items]) + "  of the pixels, up to")
    yield _row("", _cells_of([f"{item['nits']:.4g}" for item in items]) + f"  {NITS}")
    stops = ["\u2013" if item["stops"] is None else f"{item['stops']:+.1f}" for item in items]
    yield _row("", _cells_of(stops) + "  stops about reference white, 203")
    yield _row("  above", _cells_of([f"{item['nits']:g}" for item in active["above"]]) + f"{'':10}{NITS}")
    yield _row("", _cells_of([_percent(item["share"]) for item in active["above"]]) + f"{'':10}of the pixels")


def _cells_of(texts: list[str]) -> str:
    return "".join(f"{text:>8}" for text in texts)


def _whole(report: dict[str, Any]) -> dict[str, int]:
    return {"top": 0, "left": 0, "rows": report["master"]["rows"], "columns": report["master"]["columns"]}


def _percent(share: float) -> str:
    return "0 %" if share == 0.0 else "< 0.01 %" if share < 1e-4 else f"{100.0 * share:.3g} %"


def _colour(report: dict[str, Any]) -> Iterator[str]:
    if not report["gamut"]:
        return
    yield "Colour outside"
    for name, found in report["gamut"].items():
        total = found["total"]
        texts = [f"{_percent(total['share']):>8}"]
        if total["outside"]:
            worst = total["hues"][0]
            texts.append(f"farthest {worst['distance_uv']:.4f} in u'v', a {worst['hue']} of {worst['nits']:.3g} {NITS}")
        yield _row(f"  {PRIMARIES[name].title if name in PRIMARIES else name}", *texts)
        if total["outside"] and report["levels"]["frames"] > 1:
            yield _row("", f"{'':8}   at most {_percent(found['worst_share'])}, frame {found['worst_frame']}")
        if len(total["hues"]) > 1:
            yield _row("", f"{'':8}   hues: {', '.join(item['hue'] for item in total['hues'][:4])}")


def _tags(report: dict[str, Any]) -> Iterator[str]:
    tags = report["tags"]
    if tags is None or not (tags["mastering display"] or tags["content light"]):
        return
    yield "Tags"
    if display := tags["mastering display"]:
        maximum, minimum = display["maximum"], display["minimum"]
        range_text = "no luminance" if maximum is None or minimum is None else f"{minimum:g} to {maximum:g} {NITS}"
        yield _row("  mastered on", f"{tags['mastering primaries'] or 'primaries of its own'}, {range_text}")
    if content := tags["content light"]:
        yield _row(
            "  states", f"MaxCLL {content['max_cll'] or 'unknown'}", f"MaxFALL {content['max_fall'] or 'unknown'}"
        )
    contradictions = tags["contradictions"]
    yield from (_row("  WRONG", sentence) for sentence in contradictions)
    if not contradictions:
        yield _row("  agree", "nothing that was measured contradicts them")


def _profiles(report: dict[str, Any]) -> Iterator[str]:
    of_renditions = [(f", {rendition['name']}", rendition["profile"]) for rendition in report["renditions"]]
    for name, check in [("", report["profile"]), *of_renditions]:
        if check is not None:
            yield f"Delivery profile {check['title']}{name}: {'PASS' if check['passes'] else 'FAIL'}"
            yield from (f"  {item['sentence']}" for item in check["checks"])


def _flash(report: dict[str, Any]) -> Iterator[str]:
    flash = report["flash"]
    if flash is None:
        return
    yield "Flash caution"
    for span in flash["spans"][:8]:
        frames = f"frames {span['first_frame']}-{span['last_frame']}"
        yield _row(
            f"  {span['kind']}",
            f"{frames}, {span['flashes']:g} flashes a second, {100.0 * span['area']:.0f} % of the screen",
        )
    more = len(flash["spans"]) - 8 + flash["further_spans"]
    if more > 0:
        yield _row("", f"and {more} more")
    if flash["spans"]:
        yield f"  {flash['counted']}"
    yield f"  {flash['sentence']}"


def _renditions(report: dict[str, Any]) -> Iterator[str]:
    renditions = report["renditions"]
    if not renditions:
        return
    first = renditions[0]["difference"]
    yield f"Renditions by the engine {renditions[0]['engine']}"
    yield f"R 103 {renditions[0]['legality']['title']}"
    heads = ("legal", "outside", "\u0394E ITP", "worst", "high", "mid", "low", "flashes")
    yield f"{'':{NAME}}" + _columns(heads)
    for item in renditions:
        yield f"{_short(item['name'])}{_columns(_cells(item))}"
        yield from _excursions(item)
    yield f"\u0394E ITP: from {first['against is']}{_below(renditions[0])}, mean; worst: 99 % of the worst frame"
    yield "high, mid, low: texture kept in highlights, midtones and shadows; 1 keeps all, 0 is flat"


def _below(rendition: dict[str, Any]) -> str:
    limit = rendition["difference"]["below"]
    return "" if limit is None else f" where the master is below {limit:g} {NITS}"


def _short(name: str) -> str:
    return f"{name if len(name) < NAME else name[: NAME - 2] + chr(0x2026):{NAME}}"


def _columns(texts: Iterable[str]) -> str:
    return "".join(f"{text:>{width}}" for text, width in zip(texts, (6, 10, 8, 8, 6, 6, 6, 12), strict=True))


def _excursions(item: dict[str, Any]) -> Iterator[str]:
    """Name how far the worst frame goes, where anything lies outside."""
    worst = item["legality"]["worst"]
    if worst is None or not worst["outside"]:
        return
    found = [
        f"{channel['channel']} {end['percent']:.1f} % at column {end['column']}, row {end['row']}"
        for channel in worst["channels"]
        for end in (channel["lowest"], channel["highest"])
        if end
    ]
    yield f"  frame {item['legality']['worst frame']}, {worst['outside']} pixels outside: {'; '.join(found)}"


def _cells(item: dict[str, Any]) -> list[str]:
    legality, difference, structure = item["legality"], item["difference"], item["structure"]
    words = {True: "yes", False: "NO", None: "\u2013"}
    worst = legality["worst"]
    return [
        words[legality["is legal"]],
        "\u2013" if worst is None else _percent(worst["share"]),
        _number(difference["mean"]),
        _number(difference["worst"]["p99"] if difference["worst"] else None),
        *(_number(structure[zone]) for zone in ("highlights", "midtones", "shadows")),
        "\u2013" if item["flash"] is None else "CAUTION" if item["flash"]["is_flagged"] else "none found",
    ]


def _number(value: float | None) -> str:
    return "\u2013" if value is None else f"{value:z.2f}"  # z: no -0.00


def _patches(report: dict[str, Any]) -> Iterator[str]:
    patches, renditions = report["patches"], report["renditions"]
    if patches["frame"] is None:
        return
    yield f"Patches on frame {patches['frame']}" + (f"; {patches['skin']}" if patches["skin"] else "")
    for row in patches["rows"]:
        proposed = ", proposed" if row["proposed"] else ""
        master = row["master"]
        hue = "no hue" if master["hue"] is None else f"hue {master['hue']:.0f}\u00b0"
        yield f"  {row['name']} ({row['title']}{proposed}), {hue}, chroma {master['chroma']:.4f} in ICtCp"
        heads = (NITS, "5 to 95 %", "signal", "slope", "at 95 %", "shoulder", "hue", "chroma")
        yield f"    {'':{NAME}}" + _patch_columns(heads if row["renditions"] else heads[:3])
        yield f"    {'master':{NAME}}" + _patch_columns(_patch_figures(master))
        yield f"    {'':{NAME}}  {_clipped(master)}"
        for item in row["renditions"]:
            roll = item["roll_off"]
            more = (
                _number(roll["slope_median"]),
                _number(roll["slope_p95"]),
                "none" if roll["shoulder_stops"] is None else f"{roll['shoulder_stops']:+.1f}",
                "\u2013" if roll["hue_shift"] is None else f"{roll['hue_shift']:+.1f}\u00b0",
                "\u2013" if roll["chroma_kept"] is None else f"x {roll['chroma_kept']:.2f}",
            )
            itp, de2000 = (_number(item["difference"][name]) for name in ("delta_e_itp", "delta_e_2000"))
            yield f"    {_short(item['name'])}" + _patch_columns((*_patch_figures(item), *more))
            yield f"    {'':{NAME}}  {_clipped(item)}; \u0394E ITP {itp}, \u0394E 2000 {de2000}"
    if any(row["renditions"] for row in patches["rows"]):
        yield "  slope: PQ out over PQ in, at the median and at 95 %; 1 keeps all contrast, 0 is flat"
        yield "  shoulder: stops above the median; hue and chroma: shift and share kept, at the median"
        against = f"{renditions[0]['difference']['against is']}{_below(renditions[0])}"
        yield f"  \u0394E: of the patch's mean colours, from {against}"
    yield from _references(patches["rows"])


def _patch_columns(texts: Iterable[str]) -> str:
    return "".join(f"{text:>{width}}" for text, width in zip(texts, (7, 14, 8, 7, 8, 9, 7, 7), strict=False))


def _patch_figures(figures: dict[str, Any]) -> tuple[str, ...]:
    nits = figures["nits"]
    span = f"{nits['p5']:.3g} to {nits['p95']:.3g}"
    return f"{nits['p50']:.4g}", span, f"{figures['signal_percent']['p50']:.1f} %"


def _clipped(figures: dict[str, Any]) -> str:
    """Say which share of the pixels is clipped in one, in two and in three channels, under one percent sign."""
    shares = (_percent(figures[f"clipped_{count}"]) for count in ("one", "two", "three"))
    return f"clipped in 1, 2, 3 channels: {', '.join(share.removesuffix(' %') for share in shares)} %"


def _references(rows: list[dict[str, Any]]) -> Iterator[str]:
    """Show the published levels of each kind of patch, once."""
    shown = {row["kind"]: row["references"] for row in rows}
    for levels in (levels for references in shown.values() for levels in references if levels["nits"]):
        low, high = levels["nits"]
        span = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        source = levels["source"].removeprefix("Report ITU-R ")
        yield f"  {levels['kind']} reference: {span} {NITS}, {levels['title']} ({source})"


def _files(report: dict[str, Any]) -> Iterator[str]:
    if paths := report.get("plots"):
        yield f"{len(paths)} plots written, from {paths[0]} to {paths[-1]}"
    if path := report.get("sidecar"):
        yield f"sidecar written: {path}"
