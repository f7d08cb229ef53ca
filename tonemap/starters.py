"""The renditions that the bench and the comparison start with when none are given."""

from .rendition import Rendition


def starter_renditions() -> tuple[Rendition, ...]:
    """Return four renditions of different methods, each as its operators' defaults have it.

    The two methods of BT.2446 and BT.2390 are the published ones; the logarithmic roll-off stands for the curves that
    are tuned by hand. All of them bring colours into the target with the hue-preserving compression.
    """
    return (
        Rendition("BT.2390", "bt2390", "gamut_hue"),
        Rendition("BT.2446 A", "bt2446_a", "gamut_hue"),
        Rendition("BT.2446 C", "bt2446_c", "gamut_hue"),
        Rendition("Log roll-off", "logarithmic", "gamut_hue"),
    )
