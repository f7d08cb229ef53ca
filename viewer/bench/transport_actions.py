"""What keys and buttons do to the playhead. Plain Python."""

from collections.abc import Callable

from .bench import Bench
from .playback import Playback

Action = Callable[[Bench, tuple[int, int]], None]


def _on(action: Callable[[Playback], None]) -> Action:
    """Return the key's action that does something to what is played, if anything is."""

    def do(bench: Bench, _size: tuple[int, int] = (0, 0)) -> None:
        if bench.playback is not None:
            action(bench.playback)

    return do


def _play_or_stand(playback: Playback) -> None:
    transport = playback.transport
    if transport.is_playing:
        transport.pause()
    else:
        transport.play()


def _step(count: int) -> Action:
    return _on(lambda playback: playback.transport.go(playback.transport.position + count))


def _shot(step: int) -> Action:
    return _on(lambda playback: playback.transport.go_to_shot(playback.reel.shots, step))


play_or_stand = _on(_play_or_stand)
next_frame, frame_before = _step(1), _step(-1)
next_shot, shot_before = _shot(1), _shot(-1)
go_to_start = _on(lambda playback: playback.transport.go(0))
go_to_end = _on(lambda playback: playback.transport.go(playback.reel.count - 1))
mark_first = _on(lambda playback: playback.transport.mark_first())
mark_last = _on(lambda playback: playback.transport.mark_last())
loop_or_not = _on(lambda playback: playback.transport.loop(not playback.transport.is_looping))
