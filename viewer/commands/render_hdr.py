"""trimbench render --hdr: the light levels of the HDR output, in the file where it takes them, and in a sidecar."""

from pathlib import Path
from typing import TYPE_CHECKING

from .progress import ProgressBar

if TYPE_CHECKING:
    from tonemap.media.movie_output import Codec
    from tonemap.render.programme import Programme


class HdrLevels:
    """Measures the programme before it is rendered; called when all is whole, writes the sidecar.

    Parameters
    ----------
    path : of the sidecar

    Raises
    ------
    TrimbenchError
        When there is a file of that name that says something else, or no frame can be read.
    """

    def __init__(self, path: Path, programme: "Programme", overwrite: bool) -> None:
        from tonemap.measure.sidecar import read_sidecar
        from tonemap.media.whole_file import refuse_existing
        from tonemap.render.hdr import hdr_metadata, measured_levels

        self._path, self._programme, self._overwrite = path, programme, overwrite
        self._is_in_file = False
        bar = ProgressBar()
        try:
            self._figures = measured_levels(programme, bar.show)
        finally:
            bar.clear()
        self.metadata = hdr_metadata(self._figures, programme.mastering_display())
        self._is_there = path.exists() and not overwrite
        if self._is_there and read_sidecar(path) != self.metadata:
            refuse_existing(path, overwrite)

    def written_by(self, codec: "Codec") -> "Codec":
        """Return the codec that writes the levels into its stream; the same where the library knows no way."""
        from tonemap.measure.sidecar import encoder_parameters
        from tonemap.media.movie_output import with_parameters

        with_levels = with_parameters(codec, encoder_parameters(self.metadata))
        self._is_in_file = with_levels is not None
        return with_levels or codec

    def __call__(self) -> list[str]:
        """Write the sidecar, and return what there is to say."""
        from datetime import UTC, datetime

        from tonemap import __version__
        from tonemap.measure.sidecar import sidecar_text
        from tonemap.media.whole_file import whole_file
        from tonemap.render.hdr import hdr_sidecar

        if not self._is_there:
            date = datetime.now(UTC).date().isoformat()
            entries = hdr_sidecar(self._programme, self._figures, f"Trimbench {__version__}", date)
            with whole_file(self._path, self._overwrite) as part:
                part.write_text(sidecar_text(entries), encoding="utf-8", newline="\n")
        light, display = self.metadata.content_light, self.metadata.mastering_display
        where = "in the file and in" if self._is_in_file else "not in the file, whose format takes none here, but in"
        said = [f"MaxCLL {light.max_cll}, MaxFALL {light.max_fall} cd/m\u00b2: {where} {self._path}"]
        if display is None:
            said.append("the master does not say its mastering display, so none is written")
        return said
