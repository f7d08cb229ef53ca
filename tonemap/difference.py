"""Colour difference between two pictures of display light."""

import numpy as np

from .arrays import Array
from .colorimetry import ictcp_from_light


def delta_e_itp(light: Array, other: Array) -> Array:
    """Return the colour difference Delta E ITP of two arrays of BT.2020 light in cd/m2.

    Parameters
    ----------
    light, other : ndarray (..., 3)

    Returns
    -------
    ndarray (...)
        About 1 is a just noticeable difference under critical conditions.

    References
    ----------
    Recommendation ITU-R BT.2124-0, Annex 1.

    Examples
    --------
    >>> round(float(delta_e_itp(np.full(3, 100.0), np.full(3, 101.0))), 6)
    0.719269
    """
    step = ictcp_from_light(light) - ictcp_from_light(other)
    return 720.0 * np.sqrt(step[..., 0] ** 2 + (0.5 * step[..., 1]) ** 2 + step[..., 2] ** 2)
