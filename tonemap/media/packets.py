"""The packets of a movie's video stream: how many frames there are, in which order, and which build on which."""

import zlib
from bisect import bisect_right
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..errors import TrimbenchError

REVERSED_BITS = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))
FFV1_FOOTER = 8  # bytes behind a slice: its size (3), an error status (1), a check sum (4)


@dataclass(frozen=True)
class PacketTable:
    """The frames of a stream, known from its packets without decoding any.

    Attributes
    ----------
    times : time stamps of the frames in the order in which they are shown, in units of the stream
    order : for each time stamp, which packet of the stream it is
    keys : the packets that need no other, in order
    decoded_last : the time at which the last packet is to be decoded; None where the packets were not read
    """

    times: list[int]
    order: dict[int, int]
    keys: list[int]
    by_order: list[int] = field(repr=False)
    decoded_last: int | None = None

    @property
    def is_intra(self) -> bool:
        """Whether every frame stands for itself."""
        return len(self.keys) == len(self.times)

    def start_for(self, time: int) -> int:
        """Return the time stamp of the key frame from which the frame shown at `time` can be decoded."""
        before = [self.by_order[key] for key in self.keys[: bisect_right(self.keys, self.order[time])]]
        return next((key for key in reversed(before) if key <= time), self.times[0])

    def end_of_damage(self, packet: int) -> int | None:
        """Return the time stamp of the first key frame that no longer builds on a damaged packet; None if none.

        A frame that is coded after a key frame and shown before it is one on which no frame behind the key builds.
        """
        later = bisect_right(self.keys, packet)
        if later and self.by_order[packet] < (before := self.by_order[self.keys[later - 1]]):
            return before
        return self.by_order[self.keys[later]] if later < len(self.keys) else None


@dataclass
class Damage:
    """What has been found damaged in a stream, and which frames build on it."""

    table: PacketTable
    packets: list[int] = field(default_factory=list)

    def add(self, packet: int) -> None:
        """Note a packet that could not be decoded well."""
        if packet not in self.packets:
            self.packets.append(packet)

    def below(self, time: int) -> int | None:
        """Return the time stamp of a damaged frame on which the frame shown at `time` may build; None if none."""
        order = self.table.order[time]
        for packet in self.packets:
            end = self.table.end_of_damage(packet)
            if packet < order and (end is None or time < end):
                return self.table.by_order[packet]
        self.packets = [packet for packet in self.packets if (self.table.end_of_damage(packet) or time) >= time]
        return None


def packet_table(path: Path, container: Any, stream: Any) -> PacketTable:
    """Read the time stamps of all packets, from the file's index where that says all, else from the packets themselves.

    Raises
    ------
    TrimbenchError
        If the stream has no time stamps or no packets.
    """
    import av

    stamps: list[int] = []
    keys: list[int] = []
    decoded_last: int | None = None
    entries = [entry for entry in stream.index_entries if not entry.is_discard]
    if len(entries) == stream.frames and entries and all(entry.is_keyframe for entry in entries):
        stamps, keys = [entry.timestamp for entry in entries], list(range(len(entries)))
    else:
        try:
            for packet in container.demux(stream):
                if not packet.size or packet.is_discard:
                    continue
                if packet.pts is None:
                    raise TrimbenchError(
                        f"{path}: the video has no time stamps, so its frames can't be told apart; "
                        "put it into a .mov, .mp4 or .mkv file"
                    )
                if packet.is_keyframe:
                    keys.append(len(stamps))
                stamps.append(packet.pts)
                decoded_last = packet.dts
        except av.FFmpegError:
            pass  # what lies before the damage is a movie, and reading it will name what lies behind
    if not stamps:
        raise TrimbenchError(f"{path}: there are no frames in the video; copy or export it again")
    order = {stamp: packet for packet, stamp in reversed(list(enumerate(stamps)))}
    return PacketTable(sorted(order), order, keys or [0], stamps, decoded_last)


def ffv1_is_damaged(packet: bytes) -> bool | None:
    """Say whether a packet of FFV1 fails its own check sums; decoders would show an older picture in its place.

    Returns
    -------
    bool or None
        None for a packet without check sums, and for one whose slices can't be told apart.

    References
    ----------
    RFC 9043, sections 4.4, 4.9.1 and 4.9.3: slice_size, error_status, slice_crc_parity. The check sum's polynomial is
    that of zlib, with the bits of each byte the other way round and without inversion.
    """
    slices, end = [], len(packet)
    while end > FFV1_FOOTER:
        start = end - FFV1_FOOTER - int.from_bytes(packet[end - 8 : end - 5], "big")
        if start < 0:
            break
        slices.append((start, end))
        end = start
    if end != 0 or not slices:
        return None
    reversed_bits = packet.translate(REVERSED_BITS)
    return any(zlib.crc32(memoryview(reversed_bits)[start:end], 0xFFFFFFFF) != 0xFFFFFFFF for start, end in slices)
