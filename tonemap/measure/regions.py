"""Connected regions of a mask, and averages over a moving square."""

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array


def moving_average(values: Array, side: int) -> Array:
    """Average over a square of `side` samples (odd) about each place; at the frame's edge over the part within.

    Examples
    --------
    >>> moving_average(np.array([[0.0, 0.0, 3.0, 0.0]]), 3).tolist()
    [[0.0, 1.0, 1.0, 1.5]]
    """
    return _along_rows(_along_rows(values, side).T, side).T


def _along_rows(values: Array, side: int) -> Array:
    size, reach = len(values), side // 2
    total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0, dtype=np.float64)])
    high, low = np.minimum(np.arange(size) + reach + 1, size), np.maximum(np.arange(size) - reach, 0)
    return (total[high] - total[low]) / (high - low)[:, np.newaxis]


def connected_regions(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Label the regions of a mask whose pixels touch by a side, from 1; 0 is outside.

    Runs of pixels along each row are joined with the runs that they touch in the row above, by union-find.

    Returns
    -------
    labels : ndarray (rows, columns)
    count : how many regions there are

    Examples
    --------
    >>> connected_regions(np.array([[True, False, True], [True, True, False]]))[0].tolist()
    [[1, 0, 2], [1, 1, 0]]
    """
    labels = np.zeros(mask.shape, np.int32)
    parent: list[int] = []

    def root(number: int) -> int:
        while parent[number] != number:
            parent[number] = parent[parent[number]]
            number = parent[number]
        return number

    edges = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    above: list[tuple[int, int, int]] = []
    for row, edge in enumerate(edges):
        runs = []
        for start, end in zip(np.flatnonzero(edge > 0).tolist(), np.flatnonzero(edge < 0).tolist(), strict=True):
            number = len(parent)
            parent.append(number)
            for other_start, other_end, other in above:
                if other_start < end and start < other_end:
                    first, second = sorted((root(number), root(other)))
                    parent[second] = first
            labels[row, start:end] = number + 1
            runs.append((start, end, number))
        above = runs
    roots = np.array([root(number) for number in range(len(parent))], np.int64)
    found, numbered = np.unique(roots, return_inverse=True)
    return np.concatenate([[0], numbered + 1]).astype(np.int32)[labels], len(found)


def inner_square(mask: NDArray[np.bool_], filled: float = 0.95) -> tuple[int, int, int]:
    """Return the top row, the left column and the side of the largest odd square that a region fills to that share.

    A region too thin for any gives one of its pixels.

    Examples
    --------
    >>> region = np.zeros((9, 9), bool)
    >>> region[2:7, 1:6] = True
    >>> inner_square(region)
    (2, 1, 5)
    """
    low, high = 0, (min(mask.shape) - 1) // 2
    best = (int(np.argmax(mask)) // mask.shape[1], int(np.argmax(mask)) % mask.shape[1], 1)
    while low <= high:
        reach = (low + high) // 2
        inside = moving_average(mask.astype(np.float64), 2 * reach + 1)
        inside[:reach], inside[len(inside) - reach :] = 0.0, 0.0
        inside[:, :reach], inside[:, inside.shape[1] - reach :] = 0.0, 0.0
        row, column = divmod(int(np.argmax(inside)), mask.shape[1])
        if inside[row, column] >= filled - 1e-9:
            best, low = (row - reach, column - reach, 2 * reach + 1), reach + 1
        else:
            high = reach - 1
    return best
