"""The comparison: one labelled picture of a master and its renditions, for eyes and for mail."""

from .figure import comparison_figure, write_comparison

__all__ = ["comparison_figure", "write_comparison"]
