"""Errors that a user meets: one sentence each, with the exit status that the command line returns."""


class TrimbenchError(Exception):
    """Work that failed; the message says what, where and what to do."""

    exit_status = 1


class WrongCall(TrimbenchError):
    """A request that can't be carried out as it was worded: an unknown name, a value out of range."""

    exit_status = 2


class EngineLimit(TrimbenchError):
    """What one engine can't do and another can."""


def suggestion(name: str, known: list[str]) -> str:
    """Say which known names are near `name`, or list them all when none is.

    Returns
    -------
    str
        The end of a sentence, for example ``did you mean 'bt2390'?``.
    """
    from difflib import get_close_matches

    near = get_close_matches(name, known, n=2, cutoff=0.6)
    if near:
        return "did you mean " + " or ".join(f"'{item}'" for item in near) + "?"
    return "choose one of " + ", ".join(sorted(known))
