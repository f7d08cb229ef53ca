"""A programme with its trim sheet, for the tests of the bench."""

from dataclasses import replace
from pathlib import Path

from tests.bench.conftest import WISHES, Hand, sample_light, write_picture
from tonemap.host import Host
from tonemap.sheet_masters import enter_master
from tonemap.shots import Shot
from tonemap.signal_range import quantise
from tonemap.starters import starter_renditions
from tonemap.transfer import pq_eotf_inverse
from tonemap.trim_sheet import TrimSheet, save
from viewer.bench.start import open_first


def write_programme(folder: Path, host: Host) -> Path:
    """Write a programme of six frames, each darker than the one before, in three shots, with its trim sheet."""
    for number in range(6):
        codes = quantise(pq_eotf_inverse(sample_light() * 0.8**number), 10, "full")
        write_picture(folder / f"reel.{number:04d}.dpx", codes << 6, "uint16", oiio__BitsPerSample=10)
    master = enter_master(folder / "reel.0000.dpx", folder, WISHES, as_sequence=True)
    sheet = TrimSheet((master,), default_rendition=None)
    for rendition in starter_renditions():
        sheet = sheet.with_rendition(rendition, host)
    shots = (
        Shot("10", 0, 1),
        Shot("20", 2, 3, rendition="BT.2446 A", settings={"input.exposure": -0.5}),
        Shot("30", 4, 5),
    )
    save(replace(sheet, shots=shots, default_rendition="BT.2390"), folder / "reel.trims")
    return folder / "reel.trims"


def open_programme(hand: Hand, folder: Path, host: Host) -> None:
    """Open such a programme at 1:1, with the program's own state in the folder; the bench is to be ended."""
    hand.bench.folder = folder / "state"
    open_first(hand.bench, write_programme(folder, host))
    hand.frames(3)
    hand.click("pixels")
