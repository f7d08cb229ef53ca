"""What gamut operators share: the soft limit toward a boundary."""

import numpy as np

from .arrays import Array


def remaining_room(ratio: Array, reach: Array | float, threshold: float) -> Array:
    """Return how far from the boundary a distance ends after the soft limit: 1 minus the limited distance.

    The room that remains is returned, not the distance, because on the boundary a channel is 0 and there the encoded
    signal shows every rounding error of a difference; the room itself is a square and keeps its relative precision.

    Parameters
    ----------
    ratio : ndarray, distance in units of the boundary's own: 0 at neutral, 1 on the boundary
    reach : the ratio that lands exactly on the boundary, at least 1; larger ratios land there too
    threshold : up to this ratio nothing changes, 0..1

    Returns
    -------
    ndarray, 0..1

    References
    ----------
    Report ITU-R BT.2407-0, Annex 5, eq. (5-4), with the bracket squared: as printed it does not meet its own aims.

    Examples
    --------
    >>> (1.0 - remaining_room(np.array([0.8, 0.9, 1.0, 1.5]), 1.5, 0.8)).round(6).tolist()
    [0.8, 0.876834, 0.924951, 1.0]
    """
    alpha = reach - 1.0
    beta = 1.0 - threshold
    q = np.clip(ratio - threshold, 0.0, alpha + beta)
    s = q / (beta + np.sqrt(np.maximum(beta * beta + (alpha - beta) * q, 0.0)))
    return np.where(ratio < threshold, 1.0 - ratio, beta * (1.0 - s) ** 2)
