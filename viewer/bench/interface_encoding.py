"""How what the bench draws itself is encoded: the interface, and colours in place of pictures. Plain Python.

All of it is SDR, relative to a white of its own; only `page.py` and `present.frag` know what the monitor makes of it.
"""

from dataclasses import replace

import numpy as np

from tonemap.arrays import Array
from tonemap.colorimetry import conversion_matrix, convert
from tonemap.encoding import Encoding, encode, signal_to_light
from tonemap.monitor import Monitor, monitor_signal

INTERFACE = Encoding("bt1886", "bt709", peak=100.0)


def interface_signal(light: Array) -> Array:
    """Return the interface's signal for light in BT.709 primaries, (..., 3), relative to its white."""
    return encode(light * INTERFACE.peak, INTERFACE)


def interface_on(monitor: Monitor) -> Encoding:
    """Return the display as which a monitor shows the interface."""
    return replace(INTERFACE, peak=monitor.interface_white) if monitor.is_pq else INTERFACE


def grey_on(monitor: Monitor, level: float) -> Array:
    """Return the monitor's signal for a grey of the interface, (3,)."""
    encoding = interface_on(monitor)
    if monitor.passes(encoding):
        return np.full(3, level)
    light = signal_to_light(np.full(3, level), encoding) * monitor.gain_for(encoding)
    return monitor_signal(convert(light, conversion_matrix(encoding.primaries, "bt2020")), monitor)
