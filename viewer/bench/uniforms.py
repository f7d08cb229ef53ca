"""Uniforms that several mains of the bench share: how a picture becomes light, and what the monitor makes of light."""

from tonemap.colorimetry import conversion_matrix
from tonemap.encoding import TRANSFERS, Encoding
from tonemap.monitor import Monitor

from ..engine import set_display
from ..gl.program import Program


def set_shown(program: Program, transfer: str, display: str, encoding: Encoding) -> None:
    """Tell a program how a signal becomes light: by the transfer's number and the display."""
    program.set(transfer, list(TRANSFERS).index(encoding.transfer))
    set_display(program, display, encoding)


def set_monitor(program: Program, monitor: Monitor) -> None:
    """Set `monitor`, a Monitor of the shaders, on the program in use."""
    program.set("monitor.from_bt2020", conversion_matrix("bt2020", monitor.primaries))
    program.set("monitor.peak", float(monitor.peak))
    set_shown(program, "monitor.transfer", "monitor.display", monitor.encoding)
