"""The command line: one program, one verb a file."""

import sys


def main(arguments: list[str] | None = None) -> int:
    """Run one verb; returns the exit status: 0, 1 for work that failed, 2 for a wrong call, 130 after a stop.

    A stop is heard before anything else is loaded, so that one that comes early is a sentence too.

    Parameters
    ----------
    arguments : the verb and its words; None for those of this process, which ends with this call
    """
    try:
        from ..stops import stops_heard

        with stops_heard(to_the_end=arguments is None) as is_stopped:
            from .program import run

            return run(sys.argv[1:] if arguments is None else arguments, is_stopped)
    except KeyboardInterrupt:
        from .program import say_stopped

        return say_stopped()
