"""Which channels of a file are the picture: R, G, B, the one layer that has them, or a single grey channel."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..errors import TrimbenchError

LEAVES = {"r": 0, "red": 0, "g": 1, "green": 1, "b": 2, "blue": 2}


@dataclass(frozen=True)
class Channels:
    """The channels that are read: three, or one that is shown as grey."""

    indices: tuple[int, ...]
    names: tuple[str, ...]
    notices: tuple[str, ...] = ()


def rgb_layers(names: Sequence[str]) -> dict[str, tuple[int, int, int]]:
    """Return the layers that have red, green and blue, with the indices of these; '' is the layer without a name.

    Examples
    --------
    >>> rgb_layers(["Z", "beauty.R", "beauty.G", "beauty.B"])
    {'beauty': (1, 2, 3)}
    """
    layers: dict[str, dict[int, int]] = {}
    for index, name in enumerate(names):
        layer, _, leaf = name.rpartition(".")
        if leaf.lower() in LEAVES:
            layers.setdefault(layer, {})[LEAVES[leaf.lower()]] = index
    return {layer: (found[0], found[1], found[2]) for layer, found in layers.items() if len(found) == 3}


def choose_channels(path: Path, names: Sequence[str], alpha: int) -> Channels:
    """Choose the channels to show.

    Parameters
    ----------
    path : names the file in messages
    names : names of the channels in the file
    alpha : index of the alpha channel, or -1

    Raises
    ------
    TrimbenchError
        If no channels are R, G and B, if several layers are, or if the picture is stored as luminance and chroma.
    """
    layers = rgb_layers(names)
    if not layers:
        return _grey(path, names, alpha)
    if "" not in layers and len(layers) > 1:
        raise TrimbenchError(
            f"{path}: there are several layers with R, G and B ({', '.join(layers)}); "
            "save the one to be shown as a file of its own"
        )
    layer = "" if "" in layers else next(iter(layers))
    indices = layers[layer]
    notices = [f"the layer '{layer}' is shown"] if layer else []
    others = [name for index, name in enumerate(names) if index not in indices]
    if alpha >= 0 and names[alpha] in others:
        notices.append("the alpha channel is not used")
        others.remove(names[alpha])
    if others:
        notices.append(f"these channels are not shown: {', '.join(others)}")
    return Channels(indices, tuple(names[index] for index in indices), tuple(notices))


def _grey(path: Path, names: Sequence[str], alpha: int) -> Channels:
    """Take the only channel, besides alpha, as grey."""
    colour = [index for index in range(len(names)) if index != alpha]
    leaves = {name.rpartition(".")[2] for name in names}
    if {"RY", "BY"} & leaves:
        raise TrimbenchError(f"{path}: the picture is stored as luminance and chroma; save it as R, G and B")
    if len(colour) != 1:
        raise TrimbenchError(f"{path}: the channels are {', '.join(names)}; save the picture as R, G and B")
    notices = [f"the only channel, {names[colour[0]]}, is shown as grey"]
    if alpha >= 0:
        notices.append("the alpha channel is not used")
    return Channels((colour[0],), (names[colour[0]],), tuple(notices))
