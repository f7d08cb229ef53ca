"""Set up the checkout, make the demo master, and show it: on the bench, or without a screen as files."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from demo.environment import CHECKOUT, SetupFailed, prepare

OUTPUT = Path("demo/output")
COMPARISON = OUTPUT / "compare.png"
RENDITION = OUTPUT / "scene.sdr.tif"


def main(arguments: list[str]) -> int:
    """Do the demo; returns the exit status of the first command that failed, or 0."""
    parser = argparse.ArgumentParser(prog="demo/run.py", description=__doc__)
    parser.add_argument("--frames", type=frame_range, default=(0, 0), metavar="FIRST-LAST", help="default: 0-0")
    first, last = parser.parse_args(arguments).frames
    try:
        environment = prepare()
    except SetupFailed as fault:
        print(fault, file=sys.stderr)
        return 1

    python, trimbench = environment.python, environment.python.with_name("trimbench")
    scene = ["--width", "1920", "--height", "1080", "--frames", f"{first}-{last}", "--format", "exr,dpx"]
    master = OUTPUT / "exr" / f"scene.{first:04d}.exr"
    commands: dict[str, list[Path | str]] = {
        "making the demo master": [python, "demo/make_scene.py", OUTPUT, *scene],
    }
    if has_screen():
        commands["opening the bench"] = [trimbench, "view", master]
    else:
        commands["comparing its SDR renditions"] = [trimbench, "compare", master, "-o", COMPARISON]
        commands["rendering one of them"] = [trimbench, "render", master, "-o", RENDITION]

    for earlier in (COMPARISON, RENDITION):
        (CHECKOUT / earlier).unlink(missing_ok=True)
    for what, command in commands.items():
        print(f"{what} ...", flush=True)
        status = subprocess.run(command, cwd=CHECKOUT, check=False).returncode
        if status != 0:
            print(f"{what} failed; the reason is above. {environment.advice}".rstrip(), file=sys.stderr)
            return status
    print(f"The demo master is {master}, in cd/m2; {OUTPUT / 'dpx'} has it as 10-bit PQ.")
    if not has_screen():
        print(f"There is no screen, so look at {COMPARISON}: the master beside its SDR renditions.")
        print(f"One rendition, as a file to hand on: {RENDITION}.")
    return 0


def frame_range(text: str) -> tuple[int, int]:
    """Read FIRST-LAST, or one number."""
    first, _, last = text.partition("-")
    if not first.isdecimal() or not (last or first).isdecimal() or int(last or first) < int(first):
        raise argparse.ArgumentTypeError(f"'{text}' is not a range of frames; write it as 0-47 or 12")
    return int(first), int(last or first)


def has_screen() -> bool:
    """Whether a window can be opened."""
    return sys.platform in ("darwin", "win32") or any(map(os.environ.get, ("DISPLAY", "WAYLAND_DISPLAY")))


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit("stopped")
