"""The figures of a measurement as a person reads them in ten seconds."""

from collections.abc import Iterator
from typing import Any

NITS = "cd/m\u00b2"
LEFT = 14


def table(report: dict[str, Any]) -> str:
    """Return the report as text."""
    parts = [_master(report), *(part(report) for part in (_light, _colour, _tags, _profiles, _flash, _renditions))]
    blocks = [list(lines) for lines in (*parts, _patches(report), _plots(report))]
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
    yield f"{master['file']}: {master['kind']}, {master['format']}, {size}{rate}{timecode}"
    yield f"{master['encoding']}; {master['coding']}"
    yield from master["notices"]
    if master["kind"] != "still":
        step = f", every {measured['step']}th" if measured["step"] > 1 else ""
        faults = measured["fault frames"]
        unread = f"; could not be read: {faults}" if faults else ""
        yield f"frames {measured['first']}-{measured['last']}{step}: {measured['frames']} measured{unread}"


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
    yield _row(
        "  luminance",
        f"{active['luminance_average']:6.4g} {NITS} on average",
        f"{active['luminance_minimum']:.3g} to {active['luminance_maximum']:.4g}",
        f"average picture level {active['average_picture_level']:.1f} % PQ",
    )
    yield _row("  of R, G, B", *(f"{item['percent']:g} %: {_level(item)}" for item in active["percentiles"]))
    yield _row("  above", *(f"{item['nits']:g} {NITS}: {_percent(item['share'])}" for item in active["above"]))


def _level(item: dict[str, Any]) -> str:
    stops = "" if item["stops"] is None else f" ({item['stops']:+.1f})"
    return f"{item['nits']:.4g}{stops}"


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
            if report["levels"]["frames"] > 1:
                texts.append(f"at most {_percent(found['worst_share'])} (frame {found['worst_frame']})")
            worst = total["hues"][0]
            hues = ", ".join(item["hue"] for item in total["hues"][:4])
            texts.append(f"farthest {worst['distance_uv']:.4f} in u'v', a {worst['hue']} of {worst['nits']:.3g} {NITS}")
            texts.append(f"hues: {hues}")
        yield _row(f"  {name}", *texts)


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
            f"  {span['kind']}", f"{frames}, {span['flashes']:g} flashes a second, {span['area']:.0%} of the screen"
        )
    more = len(flash["spans"]) - 8 + flash["further_spans"]
    if more > 0:
        yield _row("", f"and {more} more")
    yield f"  {flash['sentence']}"


def _renditions(report: dict[str, Any]) -> Iterator[str]:
    renditions = report["renditions"]
    if not renditions:
        return
    width = max(12, *(len(item["name"]) for item in renditions)) + 2
    below = renditions[0]["difference"]["below"]
    yield f"Renditions by the engine {renditions[0]['engine']}; R 103 {renditions[0]['legality']['title']}"
    heads = ("legal", "outside", "\u0394E ITP", "worst", "highlights", "midtones", "shadows", "flashes")
    yield " " * width + "".join(f"{head:>12}" for head in heads)
    for item in renditions:
        yield f"{item['name']:{width}}" + "".join(f"{cell:>12}" for cell in _cells(item))
    yield f"\u0394E ITP where the master is below {below:g} {NITS}, mean, and 99 % of the worst frame"
    yield "texture kept in highlights, midtones and shadows: 1 keeps all, 0 is flat"


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
    return "\u2013" if value is None else f"{value:.2f}"


def _patches(report: dict[str, Any]) -> Iterator[str]:
    patches = report["patches"]
    if patches["frame"] is None:
        return
    yield f"Patches on frame {patches['frame']}" + (f"; {patches['skin']}" if patches["skin"] else "")
    for row in patches["rows"]:
        proposed = ", proposed" if row["proposed"] else ""
        yield f"  {row['name']} ({row['title']}{proposed})"
        yield "    " + f"{'master':22}" + _patch_figures(row["master"])
        for item in row["renditions"]:
            roll = item["roll_off"]
            kept = f"slope {_number(roll['slope_median'])} / {_number(roll['slope_p95'])}"
            shoulder = "none" if roll["shoulder_stops"] is None else f"{roll['shoulder_stops']:.1f} stops above"
            hue = "" if roll["hue_shift"] is None else f"   hue {roll['hue_shift']:+.1f}\u00b0"
            chroma = "" if roll["chroma_kept"] is None else f"   chroma x {roll['chroma_kept']:.2f}"
            yield (
                "    "
                + f"{item['name'][:20]:22}"
                + _patch_figures(item)
                + f"   {kept}   shoulder {shoulder}{hue}{chroma}"
            )
    yield from _references(patches["rows"])


def _references(rows: list[dict[str, Any]]) -> Iterator[str]:
    """Show the published levels of each kind of patch, once."""
    shown = {row["kind"]: row["references"] for row in rows}
    for levels in (levels for references in shown.values() for levels in references if levels["nits"]):
        low, high = levels["nits"]
        span = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        yield f"  {levels['kind'] + ' reference':24}{span} {NITS}, {levels['title']} ({levels['source']})"


def _patch_figures(figures: dict[str, Any]) -> str:
    nits, percent = figures["nits"], figures["signal_percent"]
    clipped = figures["clipped_one"] + figures["clipped_two"] + figures["clipped_three"]
    text = f"{nits['p50']:7.4g} {NITS} ({nits['p5']:.3g} to {nits['p95']:.3g}), {percent['p50']:.1f} % of the signal"
    return text + (f", {_percent(clipped)} clipped" if clipped else "")


def _plots(report: dict[str, Any]) -> Iterator[str]:
    if paths := report.get("plots"):
        yield f"{len(paths)} plots written, from {paths[0]} to {paths[-1]}"
