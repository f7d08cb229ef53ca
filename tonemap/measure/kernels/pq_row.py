"""PQ for a row of a movie's planes: a rational function in place of the powers of `transfer.pq_eotf`.

Light is N^2 (p(t) / q(t))^4 cd/m2, with t = sqrt(N) - 0.7 for a signal N: within 2.5e-6 x (light + 0.1 cd/m2) of
ST 2084. 0 stays 0, and more signal is never less light. The numbers are our own least-squares fit, whose weights were
raised where the error was largest until its ripple was even.
"""

# mypy: disable-error-code="no-untyped-def, no-untyped-call, untyped-decorator"

import numpy as np
from numba import njit

from . import LOOP

P = tuple(np.float32(number) for number in (4.3173886, 8.6605287, 1.8392961, -3.3375798, -1.0266974, -0.27065513))
Q = tuple(np.float32(number) for number in (1.0, -0.097576618, -3.2994434, 0.12753663, 2.5899655))
MIDDLE, ZERO, ONE = (np.float32(number) for number in (0.7, 0, 1))


@njit(**LOOP, error_model="numpy", fastmath={"contract"})
def pq_row(values):
    """Replace signals, float32, by light in cd/m2; those outside 0..1 are clipped."""
    for column in range(values.shape[0]):
        signal = min(max(values[column], ZERO), ONE)
        t = np.sqrt(signal) - MIDDLE
        p = ((((P[5] * t + P[4]) * t + P[3]) * t + P[2]) * t + P[1]) * t + P[0]
        q = (((Q[4] * t + Q[3]) * t + Q[2]) * t + Q[1]) * t + Q[0]
        ratio = p / q
        root = signal * (ratio * ratio)
        values[column] = root * root
