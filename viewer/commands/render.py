"""trimbench render: the SDR version of a still, a sequence, a movie or a whole trim sheet, by either engine."""

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from tonemap.anchors import anchors_of
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.host import Host
from tonemap.rendition import Chain, Rendition, chain_on
from tonemap.settings import settings_of
from tonemap.signal_range import FULL

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    options.add_master(parser, options.MASTER_OR_SHEET)
    parser.add_argument(
        "-o",
        "--output",
        metavar="OUT",
        type=Path,
        required=True,
        help="a still: .tif, .png, .dpx or .exr; a sequence: a folder, or a pattern as NAME.%%04d.dpx; a movie: .mov, "
        ".mkv, .mp4, .mxf",
    )
    parser.add_argument("--overwrite", action="store_true", help="replace the output when it exists")
    parser.add_argument(
        "--hdr",
        metavar="ENCODING",
        help="the HDR version instead, with the input adjustments alone: 'master' for its own encoding, or one as "
        "pq,p3-d65,narrow; its light levels are measured first, and written to NAME.hdr.json and, with HEVC and PNG, "
        "into the file",
    )
    options.add_renditions(parser, several=False)
    options.add_engine(parser)
    group = parser.add_argument_group("sequences, movies and trim sheets (MASTER may be a trim sheet)")
    group.add_argument("--sequence", action="store_true", help="MASTER is one of numbered pictures, and all are meant")
    options.add_matrix(group)
    group.add_argument("--frames", metavar="A-B", help="only these frames, by the master's own numbers")
    group.add_argument(
        "--codec",
        metavar="NAME",
        help="of a movie: prores-hq, prores-4444, dnxhr-hqx, ffv1, hevc, h264; default by its ending",
    )
    group.add_argument("--rate", metavar="FPS", help="frames a second of a movie, where the master does not say them")
    group.add_argument("--dither", action="store_true", help="add noise of a code before rounding, the same every time")
    group.add_argument(
        "--caption",
        action="store_true",
        help="burn in shot, rendition, timecode, frame and HDR or SDR, for copies for approval",
    )
    group.add_argument(
        "--scheduler", metavar="ADDRESS", help="of a Dask cluster (tcp://HOST:PORT) whose workers render the chunks"
    )
    group.add_argument(
        "--compare-engines",
        metavar="N",
        type=int,
        default=0,
        help="render every Nth frame with the reference too, and say how far the engine is from it",
    )
    parser.add_argument("--json", action="store_true", help="print what was done, with the anchors, as JSON")
    parser.add_argument(
        "--progress", action="store_true", help="say on standard error how many frames are behind, a line each time"
    )


def run(parsed: argparse.Namespace) -> int:
    """Read, render, write, and say what was done."""
    from . import render_programme

    if render_programme.is_meant(parsed):
        return render_programme.run(parsed)
    return _run_still(parsed)


def rendition_of(parsed: argparse.Namespace, host: Host) -> Rendition:
    """Return the one rendition that the user spelled out, or the default one."""
    renditions = options.renditions_of(parsed, host) or [
        Rendition(host.get(options.DEFAULT_TONE).title, options.DEFAULT_TONE, options.DEFAULT_GAMUT)
    ]
    if len(renditions) > 1:
        raise WrongCall("render takes one rendition, and several --tone were given; call it once for each")
    return renditions[0]


def _run_still(parsed: argparse.Namespace) -> int:
    from tonemap.measure.odd_samples import OddSamples
    from tonemap.media.oiio import read_picture
    from tonemap.media.oiio_output import write_codes, write_signal
    from tonemap.media.whole_file import refuse_masters
    from tonemap.media.wishes import sdr_caution
    from tonemap.render.findings import watched_still
    from tonemap.render.quantising import NOTHING_TO_DITHER, dithered

    for word in ("matrix", "codec", "rate", "caption", "scheduler", "compare_engines"):
        if getattr(parsed, word):
            option = f"--{word.replace('_', '-')}"
            raise WrongCall(f"{option} is for sequences, movies and trim sheets, and this is a still; leave it out")
    refuse_masters([parsed.output], [parsed.master])
    host = options.host_of(parsed)
    rendition = rendition_of(parsed, host)
    source = read_picture(parsed.master, options.wishes_of(parsed))
    target = rendition.target
    if parsed.hdr is not None:
        from tonemap.render.hdr import hdr_rendition, hdr_target

        target = hdr_target(parsed.hdr, [source.picture.encoding])
        rendition = hdr_rendition(rendition, target)
    chain = chain_on(rendition, source.picture, host)
    engine = options.engine_of(parsed.engine)
    odd = OddSamples()
    odd.add(source.picture, 0)
    caution = sdr_caution(source.picture.encoding, source.origins)
    source = replace(source, notices=(*source.notices, *caution, *odd.sentences(several=False)))
    levels = _levels(parsed, rendition_of(parsed, host), host) if parsed.hdr is not None else None
    report = _report(parsed, source, rendition, chain, target, engine.title)
    if parsed.output.suffix.lower() == ".exr":
        if parsed.dither:
            raise WrongCall(NOTHING_TO_DITHER.format(parsed.output))
        write_signal(parsed.output, engine.signal(source.picture, chain), target, overwrite=parsed.overwrite)
    else:
        signal = engine.signal(source.picture, chain) if parsed.dither else None
        codes = engine.codes(source.picture, chain) if signal is None else dithered(signal, target, 0)
        metadata = levels.metadata if levels is not None else None
        write_codes(parsed.output, codes, target, overwrite=parsed.overwrite, metadata=metadata)
    report["engine"] = engine.title  # behind the work: it says where another engine has taken its place
    report["master"]["notices"] += levels() if levels is not None else []
    watched = watched_still(source.picture, chain)
    finding = watched.finding(lambda: read_picture(parsed.output).picture, target)
    if finding.distance is not None:
        report["distance"] = {"sentence": str(finding.distance), **vars(finding.distance)}
    else:
        report["master"]["notices"].append(f"the distance from the exact trim is not known: {finding.fault}")
    print(json.dumps(report, indent=2, ensure_ascii=False) if parsed.json else _sentences(report))
    return 0


def _levels(parsed: argparse.Namespace, rendition: Rendition, host: Host) -> Any:
    """Return the light levels of a still's HDR version, measured; called, they are written to its sidecar."""
    from tonemap.media.master import open_master
    from tonemap.media.oiio_output import HDR_FORMATS
    from tonemap.render.programme import MasterProgramme

    from .render_hdr import HdrLevels

    programme = MasterProgramme(open_master(parsed.master, options.wishes_of(parsed)), rendition, host, hdr=parsed.hdr)
    levels = HdrLevels(parsed.output.with_suffix(""), programme, parsed.overwrite)
    levels.is_in_file = parsed.output.suffix.lower() in HDR_FORMATS
    return levels


def encoding_in(path: Path, target: Encoding) -> Encoding:
    """Return how a picture's file holds the target: EXR has the signal in floating point."""
    is_float = path.suffix.lower() == ".exr"
    return replace(target, bits=None, signal_range=FULL) if is_float else target


def _settings(rendition: Rendition, chain: Chain, is_hdr: bool) -> dict[str, Any]:
    """Return the operators and all settings; of the HDR version, the input adjustments, which it has alone."""
    settings = settings_of(rendition, chain.host)
    if is_hdr:
        return {"settings": {path: value for path, value in settings.items() if path.startswith("input.")}}
    return {"tone": rendition.tone, "gamut": rendition.gamut, "settings": settings}


def _report(
    parsed: argparse.Namespace, source: Any, rendition: Rendition, chain: Chain, target: Encoding, engine_title: str
) -> dict[str, Any]:
    return {
        "output": str(parsed.output),
        "master": {
            "file": str(parsed.master),
            "encoding": chain.master.title,
            "known from": dict(source.origins),
            "notices": list(source.notices),
        },
        "engine": engine_title,
        "rendition": {
            "name": rendition.name,
            **_settings(rendition, chain, is_hdr=parsed.hdr is not None),
            "target": encoding_in(parsed.output, target).title,
        },
        "anchors": [vars(anchor) for anchor in anchors_of(chain)],
    }


def _sentences(report: dict[str, Any]) -> str:
    rendition, master = report["rendition"], report["master"]
    how = f"{rendition['tone']}, {rendition['gamut']}" if "tone" in rendition else "HDR, its input adjustments alone"
    anchors = ", ".join(
        f"{anchor['master']:g} \u2192 {anchor['nits']:.1f} cd/m\u00b2 ({anchor['signal']:.1%})"
        for anchor in report["anchors"]
    )
    lines = [
        f"{report['output']}: {rendition['name']} ({how}), {rendition['target']}",
        f"master: {master['encoding']}",
        *master["notices"],
        f"anchors: {anchors}",
        f"engine: {report['engine']}",
    ]
    if "distance" in report:
        lines.append(f"distance from the exact trim, read again on some rows: {report['distance']['sentence']}")
    return "\n".join(lines)
