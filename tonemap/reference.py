"""The reference engine: the chain of a rendition in NumPy, float64, written for reading. It is the definition."""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from .adjustments import apply_input_adjustments
from .arrays import Array, Codes
from .cdl import apply_cdl
from .encoding import decode, encode, quantise_signal
from .errors import TrimbenchError
from .faults import call_fault_text, function_place, is_stop
from .operator import Operator, Values
from .picture import Picture
from .rendition import Chain

BAND_SAMPLES = 1 << 16  # pixels a band: its temporaries stay in a processor's cache, and NumPy's calls are worth it
MOST_THREADS = 8  # beyond them Python's own lock is what they wait for


def render_light(light: Array, chain: Chain) -> Array:
    """Map the master's light (..., 3), BT.2020 cd/m2, to light in the target's primaries, within its volume."""
    light = apply_input_adjustments(light, chain.rendition.input)
    for operator, values in ((chain.tone, chain.tone_values), (chain.gamut, chain.gamut_values)):
        with chain.host.timed(operator, "apply", light.size // 3):
            light = apply_operator(operator, light, values)
    return light


def render_signal(samples: Array | Codes, chain: Chain) -> Array:
    """Map the master's samples (..., 3) to the R'G'B' signal of the target, 0..1, float64."""
    return finish_signal(render_light(decode(samples, chain.master), chain), chain)


def finish_signal(light: Array, chain: Chain) -> Array:
    """Encode light in the target's primaries and apply the output adjustments: R'G'B' signal, 0..1."""
    return apply_cdl(encode(light, chain.rendition.target), chain.rendition.output)


def apply_operator(operator: Operator, light: Array, values: Values) -> Array:
    """Apply an operator, which may read its light and not change it; a fault of its author names it in one sentence."""
    given = light.view()
    given.flags.writeable = False
    try:
        result = operator.apply(given, values)
    except BaseException as fault:
        if is_stop(fault):
            raise
        words = call_fault_text(fault, "apply", operator.apply)
        raise TrimbenchError(f"operator '{operator.name}': {words}") from fault
    wrong = _wrong(result, light)
    if wrong is not None:
        raise TrimbenchError(f"operator '{operator.name}': {wrong}; correct apply ({function_place(operator.apply)})")
    return result


def _wrong(result: Any, light: Array) -> str | None:
    """Return what is wrong with an operator's result."""
    if not isinstance(result, np.ndarray) or hasattr(result, "mask"):  # numpy.ma itself takes long to import
        return f"apply returns {type(result).__name__} instead of an array"
    if result.shape != light.shape:
        return f"apply returns the shape {result.shape} for light of the shape {light.shape}"
    if result.dtype != light.dtype:
        return f"apply returns {result.dtype} for light of {light.dtype}"
    bad = ~np.isfinite(result).all(axis=-1)
    if not bad.any():
        return None
    three = "({:.6g}, {:.6g}, {:.6g})"
    return f"apply makes {three.format(*result[bad][0])} of the light {three.format(*light[bad][0])} cd/m2"


class ReferenceEngine:
    """Evaluates renditions with NumPy, in bands of rows on several processors."""

    name = "reference"
    title = "reference (NumPy float64)"

    def signal(self, picture: Picture, chain: Chain) -> Array:
        """Return the R'G'B' signal of the target, (rows, columns, 3), 0..1, float64, not quantised."""
        return self._in_bands(picture, lambda samples: render_signal(samples, chain), np.dtype(np.float64))

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        """Return the code values of the target, (rows, columns, 3), at its bits and range."""
        target = chain.rendition.target
        return self._in_bands(
            picture, lambda samples: quantise_signal(render_signal(samples, chain), target), np.dtype(np.uint16)
        )

    def _in_bands(self, picture: Picture, work: Callable[[Array | Codes], Array | Codes], dtype: np.dtype) -> Any:
        result = np.empty(picture.samples.shape, dtype)
        threads = min(os.cpu_count() or 1, MOST_THREADS)
        rows = max(1, min(BAND_SAMPLES // picture.columns, -(-picture.rows // threads)))

        def fill(start: int) -> None:
            band = picture.samples[start : start + rows]
            planes: Any = np.ascontiguousarray(np.moveaxis(band, -1, 0))  # NumPy is slow along an axis of three
            result[start : start + rows] = work(np.moveaxis(planes, 0, -1))

        with ThreadPoolExecutor(threads) as pool:
            for band in [pool.submit(fill, start) for start in range(0, picture.rows, rows)]:
                band.result()  # raises here what was raised in the band
        return result
