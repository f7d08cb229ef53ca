"""Runs a verb that is held behind a frame until its standard input is closed, so that a test stops it in the middle.

Run by the tests as `python -m tests.held FRAME VERB ...`.
"""

import signal
import sys

from viewer.commands import main
from viewer.commands.progress import ProgressBar


def hold(frame: int) -> None:
    """Let the work wait when so many frames are done."""
    show = ProgressBar.show

    def held(bar: ProgressBar, done: int, count: int) -> None:
        show(bar, done, count)
        if done == frame:
            sys.stdin.read()

    setattr(ProgressBar, "show", held)  # noqa: B010 - a method of ours in the place of theirs


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever started the tests may have it ignored
    hold(int(sys.argv[1]))
    sys.exit(main(sys.argv[2:]))
