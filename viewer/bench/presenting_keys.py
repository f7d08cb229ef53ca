"""What keys do for presenting: pictures alone on the whole screen. Plain Python."""

from .bench import Bench

Size = tuple[int, int]


def present(bench: Bench, _size: Size = (0, 0)) -> None:
    """Show the pictures alone, on the whole screen; once more: the bench."""
    bench.presenting.is_on = not bench.presenting.is_on


def show_captions(bench: Bench, _size: Size = (0, 0)) -> None:
    """Show or hide the captions of what is presented."""
    bench.presenting.has_captions = not bench.presenting.has_captions


def show_guest(bench: Bench, _size: Size = (0, 0)) -> None:
    """Open or close the guest's window."""
    bench.presenting.has_guest = not bench.presenting.has_guest


def move(bench: Bench, _size: Size = (0, 0)) -> None:
    """Let the comparison move by itself, or stand where it is."""
    moving, showing = bench.moving, bench.state.showing
    if moving.is_on:
        line = moving.line(showing)
        moving.stop()
        bench.show(line=line)
    else:
        moving.start(showing)


def quicken(bench: Bench, steps: int) -> None:
    """Move quicker, or slower below 0."""
    bench.moving.quicken(steps, bench.state.showing)
