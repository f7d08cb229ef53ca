"""The operators on the bench: their list, read when it opens, and what becomes of renditions when one is mended."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.host import Host, checked_value
from tonemap.operator import Operator
from tonemap.rendition import Rendition

STAGES = ("tone", "gamut")


class OperatorTitles(Mapping[str, tuple[str, str]]):
    """For a list to choose from, name -> (title, ''): only the one that is chosen is read before the list opens."""

    def __init__(self, host: Host, stage: str) -> None:
        self._host, self._stage = host, stage

    def __getitem__(self, name: str) -> tuple[str, str]:
        return self._host.title(name), ""

    def __iter__(self) -> Iterator[str]:
        return (operator.name for operator in self._host.of_kind(self._stage))

    def __len__(self) -> int:
        return len(self._host.of_kind(self._stage))


def missing_operator(rendition: Rendition, host: Host) -> str | None:
    """Return the sentence about why an operator of a rendition can't be used, or None."""
    try:
        for stage in STAGES:
            host.get(getattr(rendition, stage), stage)
    except TrimbenchError as fault:
        return str(fault)
    return None


def with_allowed_values(rendition: Rendition, host: Host) -> tuple[Rendition, list[str]]:
    """Return a rendition without the values that its operators, read again, don't allow, and a sentence for each."""
    sentences = []
    for stage in STAGES:
        settings = dict(getattr(rendition, f"{stage}_settings"))
        try:
            operator = host.get(getattr(rendition, stage), stage)
        except TrimbenchError:
            continue  # it may be mended with the next save; the values wait
        for name, value in list(settings.items()):
            try:
                checked_value(operator, name, value)
            except WrongCall as fault:
                del settings[name]
                sentences.append(f"'{rendition.name}': {_dropped(operator, name, fault)}")
        if settings != getattr(rendition, f"{stage}_settings"):
            changed = {f"{stage}_settings": settings}
            rendition = replace(rendition, **changed)  # type: ignore[arg-type]
    return rendition, sentences


def _dropped(operator: Operator, name: str, fault: WrongCall) -> str:
    """Return the words about a value that went: what is wrong with it, and what is in its place."""
    wrong = str(fault).removeprefix(f"operator '{operator.name}': ").partition(";")[0]
    default = next((item.default for item in operator.parameters if item.name == name), None)
    if default is None:
        return f"{wrong} any more, and its value is gone"
    shown = f"{default:g}" if isinstance(default, float) else default
    return f"{wrong}, so its default, {shown}, is in its place"
