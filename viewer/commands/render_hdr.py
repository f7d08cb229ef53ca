"""trimbench render --hdr: the light levels of the HDR output, in the file where it takes them, and in a sidecar."""

import hashlib
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .progress import ProgressBar

if TYPE_CHECKING:
    from tonemap.media.movie_output import Codec
    from tonemap.render.programme import Programme


class HdrLevels:
    """Measures the programme before it is rendered; called when all is whole, writes the sidecar.

    What was measured is kept in a hidden file beside the sidecar until then, so that a render that goes on has it.

    Parameters
    ----------
    beside : the output without its ending; the sidecar has its name, with '.hdr.json' behind it

    Attributes
    ----------
    metadata : what was measured
    is_in_file : whether the output states it too

    Raises
    ------
    TrimbenchError
        When there is a file of that name that says something else, or no frame can be read.
    """

    def __init__(self, beside: Path, programme: "Programme", overwrite: bool) -> None:
        from tonemap.measure.sidecar import metadata_in, read_sidecar
        from tonemap.media.whole_file import refuse_existing

        path = beside.with_name(f"{beside.name.removesuffix('.hdr')}.hdr.json")
        self._path, self._overwrite = path, overwrite
        self._note = path.with_name(f".{path.name}.measured")
        self.is_in_file = False
        of = _digest(programme)
        entries = None if overwrite else _kept(self._note, of)
        self._entries = entries or _measured(programme)
        self.metadata = metadata_in(self._entries)
        self._is_there = path.exists() and not overwrite
        if self._is_there and read_sidecar(path) != self.metadata:
            refuse_existing(path, overwrite)
        if entries is None:
            _keep(self._note, of, self._entries)

    def written_by(self, codec: "Codec") -> "Codec":
        """Return the codec that writes the levels into its stream; the same where the library knows no way."""
        from tonemap.measure.sidecar import encoder_parameters
        from tonemap.media.movie_output import with_parameters

        with_levels = with_parameters(codec, encoder_parameters(self.metadata))
        self.is_in_file = with_levels is not None
        return with_levels or codec

    def __call__(self) -> list[str]:
        """Write the sidecar, and return what there is to say."""
        from tonemap.measure.sidecar import sidecar_text
        from tonemap.media.whole_file import whole_file

        if not self._is_there:
            with whole_file(self._path, self._overwrite) as part:
                part.write_text(sidecar_text(self._entries), encoding="utf-8", newline="\n")
        self._note.unlink(missing_ok=True)
        light, display = self.metadata.content_light, self.metadata.mastering_display
        where = "in the file and in" if self.is_in_file else "not in the file, whose format takes none here, but in"
        said = [f"MaxCLL {light.max_cll}, MaxFALL {light.max_fall} cd/m\u00b2: {where} {self._path}"]
        if display is None:
            said.append("the master does not say its mastering display, so none is written")
        return said


def _measured(programme: "Programme") -> dict[str, Any]:
    """Measure a programme, and return the entries of its sidecar."""
    from datetime import UTC, datetime

    from tonemap import __version__
    from tonemap.render.hdr import hdr_sidecar, measured_levels

    bar = ProgressBar()
    try:
        figures = measured_levels(programme, bar.show)
    finally:
        bar.clear()
    return hdr_sidecar(programme, figures, f"Trimbench {__version__}", datetime.now(UTC).date().isoformat())


def _digest(programme: "Programme") -> str:
    """Return what decides the levels: the programme, and the masters' files as they are now."""
    files = [(str(path), status.st_size, status.st_mtime_ns) for path in programme.files() for status in (path.stat(),)]
    return hashlib.sha256(json.dumps([programme.job(), files]).encode()).hexdigest()


def _kept(note: Path, of: str) -> dict[str, Any] | None:
    """Return what was measured before a stop; None where nothing was, or it was of something else."""
    try:
        read = json.loads(note.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return read["entries"] if isinstance(read, dict) and read.get("of") == of else None


def _keep(note: Path, of: str, entries: dict[str, Any]) -> None:
    from tonemap.errors import TrimbenchError
    from tonemap.media.whole_file import whole_file

    try:
        note.parent.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise TrimbenchError(f"{note.parent}: can't be made: {fault.strerror}; choose another place") from fault
    with whole_file(note, overwrite=True) as part:
        part.write_text(json.dumps({"of": of, "entries": entries}), encoding="utf-8")
