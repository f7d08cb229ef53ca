"""Runs a verb that is sent a signal when it is about to import a module, or at its very end.

Run by the tests as `python -m tests.stopped_at SIGNAL MODULE VERB ...`; the module 'atexit' stands for the end.
"""

import atexit
import signal
import sys

from viewer.commands import main


def stop_at(number: int, module: str) -> None:
    """Send this process a signal, once."""
    is_sent = False

    def hear(event: str, words: tuple[object, ...]) -> None:
        nonlocal is_sent
        if event == "import" and words[0] == module and not is_sent:
            is_sent = True
            signal.raise_signal(number)

    if module == "atexit":
        atexit.register(signal.raise_signal, number)
    else:
        sys.addaudithook(hear)


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever started the tests may have it ignored
    stop_at(int(sys.argv[1]), sys.argv[2])
    del sys.argv[1:3]
    sys.exit(main())
