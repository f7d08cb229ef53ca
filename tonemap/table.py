"""Tables: curves of one variable with no closed form, read at a position by both engines in the same way."""

import numpy as np

from .arrays import Array


def table_at(table: Array, position: Array) -> Array:
    """Return a table's value at a position, linearly interpolated.

    Parameters
    ----------
    table : ndarray (n,)
        Values at the positions 0, 1 / (n - 1), ... 1.
    position : ndarray (...)
        0..1; what lies outside reads the nearest end.

    Returns
    -------
    ndarray (...), of the position's dtype

    Examples
    --------
    >>> table_at(np.array([0.0, 10.0, 30.0]), np.array([-1.0, 0.25, 0.75, 2.0])).tolist()
    [0.0, 5.0, 20.0, 30.0]
    """
    last = len(table) - 1
    place = np.clip(position, 0.0, 1.0) * last
    low = np.minimum(place.astype(np.intp), last - 1)
    value = table[low]
    result: Array = (value + (table[low + 1] - value) * (place - low)).astype(place.dtype)
    return result
