"""Pictures of measurements: scopes, masks and maps as PNG and SVG. Nothing here opens a window."""

from .look import PAPER, SCREEN, Look
from .sets import Subject, master_plots, monitor_plots, programme_plots, rendition_plots
from .writing import write_plots

__all__ = [
    "PAPER",
    "SCREEN",
    "Look",
    "Subject",
    "master_plots",
    "monitor_plots",
    "programme_plots",
    "rendition_plots",
    "write_plots",
]
