"""The timeline of what is on the bench: what a process makes of all frames, and their thumbnails on the card."""

from .background import Background
from .bench import Bench
from .layout import Rect
from .panels import timeline
from .reel import Reel
from .thumbnail_textures import ThumbnailTextures
from .widgets import Widgets


class Timeline:
    """Draws the timeline; looks through all frames in the background when it is told to.

    Attributes
    ----------
    background : what was found so far; None while nothing is looked through
    """

    def __init__(self) -> None:
        self.looks_through = False
        self.background: Background | None = None
        self._textures = ThumbnailTextures()

    def follow(self, bench: Bench) -> None:
        """Look through what is on the bench now, and rest while it plays or a frame is waited for."""
        playback = bench.playback
        reel: Reel | None = playback.reel if playback is not None else None
        if self.background is not None and self.background.reel is not reel:
            self.background.close()
            self.background = None
        if playback is None or not self.looks_through:
            return
        if self.background is None:
            self.background = Background(playback.reel, bench.stir)
        self.background.hold(playback.transport.is_playing or playback.is_waiting)

    def draw(self, bench: Bench, ui: Widgets, area: Rect) -> None:
        """Draw it in an area as high as `panels.timeline.height` says."""
        timeline.draw(bench, ui, area, self.background, self._textures)

    def close(self) -> None:
        """End the process, and free the card's memory."""
        if self.background is not None:
            self.background.close()
        self.background = None
        self._textures.delete()
