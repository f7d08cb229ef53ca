"""trimbench measure --readings: what a monitor's readings say of it."""

import argparse
import json
from dataclasses import asdict
from typing import Any

from tonemap.errors import WrongCall, suggestion


def run_readings(parsed: argparse.Namespace) -> int:
    """Read, judge and print; exit status 1 when a tolerance is not met."""
    from tonemap.encoding import Encoding
    from tonemap.measure.monitor import monitor_figures
    from tonemap.measure.monitor_grade import GRADES, judge
    from tonemap.measure.readings import read_readings
    from tonemap.media.wishes import HDR_PEAK, HDR_TRANSFERS, SDR_PEAK

    readings = read_readings(parsed.readings, parsed.rgb_scale, parsed.white)
    if parsed.transfer is None or parsed.primaries is None:
        raise WrongCall(
            f"{parsed.readings}: readings don't say what the monitor was set to; say it with --transfer and --primaries"
        )
    if parsed.grade is not None and parsed.grade not in GRADES:
        raise WrongCall(f"grade '{parsed.grade}' is not known; {suggestion(parsed.grade, list(GRADES))}")
    peak = parsed.peak or (HDR_PEAK if parsed.transfer in HDR_TRANSFERS else SDR_PEAK)
    encoding = Encoding(parsed.transfer, parsed.primaries, peak=peak, black=parsed.black or 0.0)
    figures = monitor_figures(readings, encoding)
    grade = GRADES[parsed.grade] if parsed.grade else None
    verdicts = [asdict(verdict) for verdict in judge(figures, grade)] if grade else []
    report = {
        "readings": str(parsed.readings),
        **asdict(figures),
        "grade": {"title": grade.title, "source": grade.source, "verdicts": verdicts} if grade else None,
    }
    if parsed.plots is not None:
        from ..plots import PAPER, SCREEN, Subject, monitor_plots, write_plots

        subject = Subject(parsed.readings.name, encoding.title)
        plots = monitor_plots(figures, subject, look=PAPER if parsed.paper else SCREEN)
        report["plots"] = [str(path) for path in write_plots(parsed.plots, plots, overwrite=parsed.overwrite)]
    print(json.dumps(report, indent=2, ensure_ascii=False, allow_nan=False) if parsed.json else monitor_table(report))
    return int(any(verdict["is_met"] is False for verdict in verdicts))


def monitor_table(report: dict[str, Any]) -> str:
    """Return the figures as a person reads them."""
    unit = "cd/m\u00b2"
    black = "not read" if report["black_nits"] is None else f"{report['black_nits']:.4g} {unit}"
    contrast = f", contrast {report['contrast']:.0f} : 1" if report["contrast"] else ""
    gamma = f", gamma {report['gamma']:.2f}" if report["gamma"] else ""
    x, y = report["white_xy"]
    lines = [
        f"{report['readings']}: {len(report['patches'])} patches against {report['encoding_title']}",
        "",
        f"white      {report['white_nits']:.2f} {unit}, x {x:.4f} y {y:.4f}, off by {report['white_error_uv']:.4f} in "
        f"u'v' ({report['white_error_luv']:.2f} \u0394u*v*)",
        f"black      {black}{contrast}{gamma}",
        f"\u0394E 2000    mean {report['delta_e_2000_mean']:.2f}, worst {report['delta_e_2000_max']:.2f} "
        f"at '{report['delta_e_2000_worst']}'",
        f"\u0394E ITP     mean {report['delta_e_itp_mean']:.2f}, worst {report['delta_e_itp_max']:.2f} "
        f"at '{report['delta_e_itp_worst']}'",
        f"peak       {report['peak_nits']:.1f} of {report['nominal_peak']:g} {unit}{_held(report)}",
        *(
            f"           {window['nits']:8.1f} {unit} on {window['percent']:g} % of the screen"
            for window in report["windows"]
        ),
    ]
    if report["greys"]:
        worst = max(report["greys"], key=lambda grey: abs(grey["pq_error"]))
        came, asked = worst["nits"], worst["expected_nits"]
        lines.append(f"tone curve worst at {100.0 * worst['signal']:.1f} %: {came:.4g} instead of {asked:.4g} {unit}")
    if report["grade"]:
        lines += ["", f"{report['grade']['title']} ({report['grade']['source']})"]
        lines += [_verdict(verdict) for verdict in report["grade"]["verdicts"]]
    if paths := report.get("plots"):
        lines += ["", f"plot written: {', '.join(paths)}"]
    return "\n".join(lines)


def _held(report: dict[str, Any]) -> str:
    if not report["windows"]:
        return ""
    if report["largest_window"] is None:
        return ", held by no window that was read"
    return f", held up to {report['largest_window']:g} % of the screen"


def _verdict(verdict: dict[str, Any]) -> str:
    word = {True: "met", False: "NOT MET", None: "not read"}[verdict["is_met"]]
    value = verdict["measured"]
    measured = "" if value is None else f"{value:{'.0f' if value >= 1000.0 else '.4g'}} {verdict['unit']}"
    low, high = verdict["low"], verdict["high"]
    limits = f"at most {high:g}" if low is None else f"at least {low:g}" if high is None else f"{low:g} to {high:g}"
    return f"  {verdict['name']:22}{word:10}{measured:>18}   {limits} ({verdict['evidence']})"
