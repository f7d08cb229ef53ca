"""Uniforms that several mains of the bench share: how a picture becomes light, and what the monitor makes of light."""

from tonemap.colorimetry import conversion_matrix
from tonemap.encoding import TRANSFERS, Encoding
from tonemap.monitor import Monitor

from ..engine import set_display
from ..gl.program import Program


def transfer_number(encoding: Encoding) -> int:
    """Return how the shaders name an encoding's transfer."""
    return list(TRANSFERS).index(encoding.transfer)


def set_encoding(program: Program, name: str, encoding: Encoding) -> None:
    """Set an Encoding of the shaders on the program in use; its transfer is a constant of the program."""
    program.set(f"{name}.to_bt2020", conversion_matrix(encoding.primaries, "bt2020"))
    set_display(program, f"{name}.display", encoding)


def set_shown(program: Program, transfer: str, display: str, encoding: Encoding) -> None:
    """Tell a program how a signal becomes light: by the transfer's number and the display."""
    program.set(transfer, transfer_number(encoding))
    set_display(program, display, encoding)


def set_monitor(program: Program, monitor: Monitor) -> None:
    """Set `monitor`, a Monitor of the shaders, on the program in use."""
    program.set("monitor.from_bt2020", conversion_matrix("bt2020", monitor.primaries))
    program.set("monitor.peak", float(monitor.peak))
    set_display(program, "monitor.display", monitor.encoding)
