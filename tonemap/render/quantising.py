"""Rounding to code values with dither."""

from typing import Any

import numpy as np

from ..arrays import Array, Codes
from ..encoding import Encoding, quantise_signal


def dithered(signal: Array, target: Encoding, frame: int) -> Codes:
    """Round a signal to code values after adding triangular noise of one code on either side.

    The noise depends on the frame's place alone: a render that goes on, or runs on another machine, gives the same.

    Parameters
    ----------
    signal : ndarray (rows, columns, 3), R'G'B', 0..1
    frame : the place of the frame in the programme

    References
    ----------
    Lipshitz, Wannamaker and Vanderkooy 1992, Quantization and Dither: A Theoretical Survey: triangular noise of two
    steps makes the mean and the power of the error independent of the signal.
    """
    if target.bits is None:
        raise ValueError("a target without bits is not rounded")
    random = np.random.default_rng([20, frame])
    step = 1.0 / target_scale(target)
    shape, kind = signal.shape, np.float32
    noise: Any = random.random(shape, kind) - random.random(shape, kind)
    return quantise_signal(signal + noise * np.float32(step), target)


def target_scale(target: Encoding) -> float:
    """Return the codes between a signal of 0 and of 1."""
    from ..signal_range import scale_and_offset

    return scale_and_offset(target.bits or 0, target.signal_range)[0]
