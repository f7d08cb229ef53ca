"""trimbench compare: one labelled picture for eyes and for mail, the master and its renditions side by side."""

import argparse
from pathlib import Path

from tonemap.rendition import chain_on
from tonemap.starters import starter_renditions

from . import options


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the verb's arguments."""
    options.add_master(parser)
    parser.add_argument("-o", "--output", metavar="OUT", type=Path, required=True, help=".png or .tif")
    parser.add_argument("--overwrite", action="store_true", help="replace the output when it exists")
    parser.add_argument("--title", metavar="TEXT", help="what stands largest; default: the master's file name")
    parser.add_argument("--width", metavar="N", type=int, default=2400, help="of the picture in pixels, default 2400")
    parser.add_argument(
        "--window",
        metavar="NITS",
        type=float,
        help="the master is shown up to this level and clipped above; default: the target's peak, its true brightness",
    )
    options.add_renditions(parser, several=True)
    options.add_engine(parser)


def run(parsed: argparse.Namespace) -> int:
    """Read, render, draw, write."""
    from tonemap.media.oiio import read_picture
    from tonemap.media.whole_file import refuse_masters
    from tonemap.media.wishes import sdr_caution

    from ..comparison import write_comparison

    refuse_masters([parsed.output], [parsed.master])
    host = options.host_of(parsed)
    renditions = options.renditions_of(parsed, host) or list(starter_renditions())
    source = read_picture(parsed.master, options.wishes_of(parsed))
    chains = [chain_on(rendition, source.picture, host) for rendition in renditions]
    engine = options.engine_of(parsed.engine)
    write_comparison(
        parsed.output,
        source.picture,
        parsed.title or parsed.master.stem,
        chains,
        engine,
        window=parsed.window,
        width=parsed.width,
        file_name=parsed.master.name,
        overwrite=parsed.overwrite,
    )
    names = ", ".join(rendition.name for rendition in renditions)
    print(f"{parsed.output}: {parsed.master.name} beside {names}; engine: {engine.title}")
    for notice in (*source.notices, *sdr_caution(source.picture.encoding, source.origins)):
        print(notice)
    return 0
