"""A rendition as a trim sheet knows it: names and settings, whether or not its operators are installed here."""

from dataclasses import dataclass, field
from typing import Any

from .entries import Entries, without
from .errors import WrongCall, suggestion
from .host import Host
from .operator import GAMUT, TONE
from .rendition import Rendition
from .settings import settings_of, with_settings
from .shots import SettingValues


@dataclass(frozen=True)
class RenditionEntry:
    """A rendition in a trim sheet, also one whose operators are not installed here.

    Attributes
    ----------
    tone, gamut : names of operators
    settings : by path; those that are left out have the operators' defaults
    """

    name: str
    tone: str
    gamut: str = Rendition.gamut
    settings: SettingValues = field(default_factory=dict)
    extra: Entries = field(default_factory=dict)

    @classmethod
    def of(cls, rendition: Rendition, host: Host, extra: Entries | None = None) -> "RenditionEntry":
        """Enter a rendition with all of its settings, so that it stays the same when a default changes."""
        settings = {
            path: list(value) if isinstance(value, tuple) else value
            for path, value in settings_of(rendition, host).items()
        }
        return cls(rendition.name, rendition.tone, rendition.gamut, settings, extra or {})

    def rendition(self, host: Host) -> Rendition:
        """Return the rendition; raises WrongCall for an operator or a setting that there is not."""
        _refuse_unknown(self, host)
        try:
            host.get(self.tone, TONE)
            host.get(self.gamut, GAMUT)
            return with_settings(Rendition(self.name, self.tone, self.gamut), self.settings, host)
        except WrongCall as fault:
            raise WrongCall(f"rendition '{self.name}': {fault}") from None

    @classmethod
    def from_dict(cls, entries: Entries) -> "RenditionEntry":
        """Make a rendition's entry from a sheet's entries."""
        return cls(
            entries["name"],
            entries["tone"],
            entries.get("gamut", Rendition.gamut),
            dict(entries.get("settings", {})),
            without(entries, "name", "tone", "gamut", "settings"),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the sheet's entries."""
        settings = {"settings": dict(self.settings)} if self.settings else {}
        return {"name": self.name, "tone": self.tone, "gamut": self.gamut, **settings, **self.extra}


def _refuse_unknown(entry: RenditionEntry, host: Host) -> None:
    """Raise WrongCall for an operator that was not found: a sheet does not say in which folder the user's own are."""
    for kind, name in ((TONE, entry.tone), (GAMUT, entry.gamut)):
        if host.found(name) is None:
            known = [operator.name for operator in host.of_kind(kind)]
            raise WrongCall(
                f"rendition '{entry.name}': {kind} operator '{name}' is not found here; name its folder with "
                f"--operators, or {suggestion(name, known)}"
            )
