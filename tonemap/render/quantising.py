"""Rounding to code values with dither."""

import numpy as np

from ..arrays import Array, Codes
from ..encoding import Encoding, quantise_signal
from ..media.coded_planes import Noise
from ..signal_range import scale_and_offset

NOTHING_TO_DITHER = "{}: a floating-point signal is not rounded, so there is nothing to dither"


def triangular(frame: int) -> Noise:
    """Return what makes triangular noise of one code on either side for a frame, by its place in the programme.

    The noise depends on the place alone: a render that goes on, or runs on another machine, gives the same.

    References
    ----------
    Lipshitz, Wannamaker and Vanderkooy 1992, Quantization and Dither: A Theoretical Survey: triangular noise of two
    steps makes the mean and the power of the error independent of the signal.
    """
    random = np.random.default_rng([20, frame])

    def noise(shape: tuple[int, ...]) -> Array:
        first, second = (random.random(shape, np.float32) for _ in range(2))
        return first - second

    return noise


def dithered(signal: Array, target: Encoding, frame: int) -> Codes:
    """Round a signal (rows, columns, 3), R'G'B', 0..1, to code values after adding `triangular` noise."""
    if target.bits is None:
        raise ValueError("a target without bits is not rounded")
    scale, _ = scale_and_offset(target.bits, target.signal_range)
    return quantise_signal(signal + triangular(frame)(signal.shape) * np.float32(1.0 / scale), target)
