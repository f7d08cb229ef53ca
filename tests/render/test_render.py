"""Whole renders: what is written is what the engine computed, a stop loses little, and nothing is silently held."""

import json
import subprocess
import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from threading import Event
from typing import Any

import av
import numpy as np
import OpenImageIO as oiio
import pytest

from tests.render.conftest import COLUMNS, FRAMES, HOST, PQ, RATE, RENDITION, ROWS, decoded, heard, still
from tonemap.encoding import quantise_signal
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.media.coded_planes import planes_of_signal
from tonemap.media.master import open_master
from tonemap.media.movie_output import CODECS, SegmentWriter, codec_for, coding_for
from tonemap.media.oiio_output import write_codes, write_words
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme
from tonemap.render.sequence_output import SequenceOutput
from tonemap.rendition import Rendition, chain_of
from tonemap.rendition_entry import RenditionEntry
from tonemap.sheet_masters import enter_master
from tonemap.shots import Shot
from tonemap.trim_sheet import TrimSheet, save
from viewer.commands import main

ENGINE = ReferenceEngine()


def programme_of(path: Path, rendition: Rendition = RENDITION, **words: Any) -> MasterProgramme:
    return MasterProgramme(open_master(path), rendition, HOST, **words)


def codes_of_dpx(path: Path) -> np.ndarray:
    """Return a DPX's 10-bit code values, by OpenImageIO alone."""
    source = oiio.ImageInput.open(str(path))
    samples = source.read_image(0, 0, 0, 3, "uint16") >> 6
    source.close()
    return samples


def stop_after(count: int):
    """Return what asks for a stop after so many frames."""
    seen = iter(range(1000))
    return lambda: next(seen) >= count - 1


# Sequences.


def test_a_movie_becomes_numbered_pictures_with_the_engines_own_codes(film, tmp_path, expected):
    outcome = render(
        programme_of(film.path), SequenceOutput(tmp_path / "o/s.%04d.dpx", programme_of(film.path)), ENGINE
    )
    assert (outcome.done, outcome.kept, outcome.faults, outcome.is_complete) == (FRAMES, 0, [], True)
    for number in (0, 7, FRAMES - 1):
        np.testing.assert_array_equal(
            codes_of_dpx(tmp_path / f"o/s.{number:04d}.dpx"), expected(still(number), RENDITION)
        )
    spec = oiio.ImageInput.open(str(tmp_path / "o/s.0007.dpx")).spec()
    assert spec.get_string_attribute("smpte:TimeCode") == "01:00:00:07"
    assert spec.get_float_attribute("dpx:FrameRate") == pytest.approx(float(RATE), abs=1e-4)


def test_a_master_is_never_the_output_whatever_is_said_of_overwriting(film, scans, tmp_path):
    link = tmp_path / "link"
    link.symlink_to(scans.parent)
    before = {path: path.read_bytes() for path in (film.path, *scans.parent.iterdir())}
    for pattern in (scans, scans.parent / "a.%04d.dpx", link / "a.%04d.dpx"):
        with pytest.raises(WrongCall) as caught:
            SequenceOutput(pattern, programme_of(scans, first=2), overwrite=True)
        refused = pattern.parent / "a.1003.dpx"
        assert str(caught.value) == f"{refused}: this is the master, which is never overwritten; choose another name"
    with pytest.raises(WrongCall, match=r"film\.mkv: this is the master"):
        MovieOutput(film.path, codec_for(film.path, "ffv1"), programme_of(film.path), overwrite=True)
    assert {path: path.read_bytes() for path in before} == before


def test_a_sequence_keeps_its_numbers_and_timecode(scans, tmp_path):
    programme = programme_of(scans)
    render(programme, SequenceOutput(tmp_path / "o/s.####.dpx", programme), ENGINE)
    assert sorted(path.name for path in (tmp_path / "o").glob("*.dpx")) == [f"s.{n}.dpx" for n in range(1001, 1007)]
    spec = oiio.ImageInput.open(str(tmp_path / "o/s.1004.dpx")).spec()
    assert spec.get_string_attribute("smpte:TimeCode") == "10:00:00:03"


@pytest.mark.parametrize(
    ("names", "master", "expected"),
    [
        ("f.{:04d}.dpx", "f.0009.dpx", ["f.0009.tif", "f.0010.tif"]),
        ("f.{:d}.dpx", "f.#.dpx", ["f.10.tif", "f.9.tif"]),
        ("{:05d}.dpx", "", ["00009.tif", "00010.tif"]),
    ],
)
def test_numbered_pictures_keep_the_masters_names_where_nobody_says_others(names, master, expected, tmp_path, capsys):
    """Also those of a trim sheet of one sequence, but for the sheet's own name."""
    folder = tmp_path / "scans"
    folder.mkdir()
    for number in (9, 10):
        write_codes(folder / names.format(number), still(number), PQ, rate=Fraction(24))
    words = ["--engine", "reference", "--sequence"] if master else ["--engine", "reference"]
    assert main(["render", str(folder / master), "-o", str(tmp_path / "o"), *words]) == 0
    found = sorted(path.stem for path in (tmp_path / "o").glob("*.dpx"))
    assert found == [Path(name).stem for name in expected]
    entry = enter_master(folder / master, tmp_path, as_sequence=bool(master))
    sheet = TrimSheet((entry,), (RenditionEntry.of(RENDITION, HOST),), (), RENDITION.name)
    save(sheet, tmp_path / "day.trims")
    assert main(["render", str(tmp_path / "day.trims"), "-o", str(tmp_path / "p"), *words[:2]]) == 0
    found = sorted(path.stem for path in (tmp_path / "p").glob("*.dpx"))
    assert found == [f"day.{Path(name).stem.removeprefix('f.')}" for name in expected]


def test_a_programme_of_several_sequences_counts_from_0(scans, tmp_path):
    other = tmp_path / "others"
    other.mkdir()
    for number in range(3):
        write_codes(other / f"b.{number}.dpx", still(number), PQ, rate=Fraction(24))
    one, two = (enter_master(path, tmp_path, name=name) for path, name in ((scans, "A"), (other / "b.#.dpx", "B")))
    shots = (Shot("1", 0, 3, master="A", source=2), Shot("2", 4, 6, master="B", source=0))
    sheet = TrimSheet((one, two), (RenditionEntry.of(RENDITION, HOST),), shots, RENDITION.name)
    save(sheet, tmp_path / "day.trims")
    assert main(["render", str(tmp_path / "day.trims"), "-o", str(tmp_path / "o"), "--engine", "reference"]) == 0
    assert sorted(path.name for path in (tmp_path / "o").glob("*.dpx")) == [f"day.{n:06d}.dpx" for n in range(7)]


@pytest.mark.parametrize("ending", [".tif", ".png", ".exr"])
def test_other_pictures_hold_the_same(ending, scans, tmp_path, expected):
    programme = programme_of(scans, last=1)
    render(programme, SequenceOutput(tmp_path / f"o/s.%04d{ending}", programme), ENGINE)
    source = oiio.ImageInput.open(str(tmp_path / f"o/s.1001{ending}"))
    samples = source.read_image(0, 0, 0, 3, "float")
    samples = np.rint(samples * 876.0 + 64.0) if ending == ".exr" else np.rint(samples * 65535.0) / 64.0
    np.testing.assert_array_equal(samples, expected(still(0), RENDITION))


def test_a_stopped_render_goes_on_and_ends_as_if_it_had_not_been_stopped(film, tmp_path):
    for folder, stop in (("whole", 1000), ("parts", 5)):
        programme = programme_of(film.path)
        output = SequenceOutput(tmp_path / folder / "s.%04d.dpx", programme)
        outcome = render(programme, output, ENGINE, is_stopped=stop_after(stop))
        assert outcome.is_complete is (folder == "whole")
    assert outcome.done == 5
    before = {path: path.stat().st_mtime_ns for path in (tmp_path / "parts").glob("*.dpx")}
    assert len(before) == 5
    programme = programme_of(film.path)
    outcome = render(programme, SequenceOutput(tmp_path / "parts/s.%04d.dpx", programme), ENGINE)
    assert (outcome.kept, outcome.done, outcome.is_complete) == (5, FRAMES - 5, True)
    assert all(path.stat().st_mtime_ns == time_of for path, time_of in before.items())
    for path in (tmp_path / "whole").glob("*.dpx"):
        assert path.read_bytes() == (tmp_path / "parts" / path.name).read_bytes()


def test_the_manifest_has_a_checksum_a_frame(film, tmp_path):
    import hashlib

    programme = programme_of(film.path, last=2)
    render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    first, *lines = map(json.loads, (tmp_path / "o/s.manifest.jsonl").read_text().splitlines())
    lines = [line for line in lines if "file" in line]
    assert first["job"]["rendition"]["tone"] == "bt2390"
    assert {line["file"]: line["sha256"] for line in lines} == {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in (tmp_path / "o").glob("*.dpx")
    }


def test_a_file_that_was_there_before_is_refused_before_any_work(film, tmp_path):
    (tmp_path / "o").mkdir()
    (tmp_path / "o/s.0011.dpx").write_text("mine")
    with pytest.raises(TrimbenchError, match=r"s\.0011\.dpx: the file exists"):
        SequenceOutput(tmp_path / "o/s.%04d.dpx", programme_of(film.path))
    assert [path.name for path in (tmp_path / "o").iterdir()] == ["s.0011.dpx"]


def test_a_file_that_was_changed_by_hand_is_not_replaced(film, tmp_path):
    programme = programme_of(film.path, last=2)
    render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    (tmp_path / "o/s.0001.dpx").write_text("retouched")
    output = SequenceOutput(tmp_path / "o/s.%04d.dpx", programme)
    with pytest.raises(TrimbenchError, match=r"s\.0001\.dpx: the file was changed after it had been rendered"):
        render(programme, output, ENGINE)
    assert (tmp_path / "o/s.0001.dpx").read_text() == "retouched"


@pytest.mark.parametrize("name", ["o/s.%04d.dpx", "o/s.mov"])
def test_what_was_made_of_another_version_of_the_master_is_not_gone_on_with(name, scans, tmp_path):
    """A picture of the master that was written anew would stand beside others of the old one, and nobody would know."""
    path = tmp_path / name
    codec = codec_for(tmp_path / "s.mov", None)

    def output() -> Any:
        programme = programme_of(scans)
        return SequenceOutput(path, programme) if "%" in name else MovieOutput(path, codec, programme, segment=3)

    programme = programme_of(scans)
    outcome = render(programme, output(), ENGINE, is_stopped=stop_after(4))
    assert outcome.whole == (4 if "%" in name else 3)
    (scans.parent / "a.1005.dpx").unlink()
    write_codes(scans.parent / "a.1005.dpx", still(19), PQ, timecode="10:00:00:04", rate=Fraction(24))
    assert output().wanted()[0] == outcome.whole  # of this one nothing was made yet
    (scans.parent / "a.1002.dpx").unlink()
    write_codes(scans.parent / "a.1002.dpx", still(19), PQ, timecode="10:00:00:01", rate=Fraction(24))
    with pytest.raises(TrimbenchError, match=r": the master was changed after this had been rendered; choose another"):
        render(programme, output(), ENGINE)


def test_another_job_does_not_go_on_from_here(film, tmp_path):
    programme = programme_of(film.path, last=2)
    render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    other = programme_of(film.path, replace(RENDITION, tone="knee"), last=2)
    with pytest.raises(TrimbenchError, match=r"another render was begun here, which differs in its rendition;"):
        SequenceOutput(tmp_path / "o/s.%04d.dpx", other)


def test_a_missing_and_a_broken_frame_are_named_and_the_rest_is_rendered(scans, tmp_path):
    (scans.parent / "a.1003.dpx").unlink()
    (scans.parent / "a.1005.dpx").write_bytes(b"SDPX")
    programme = programme_of(scans)
    outcome = render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    assert [number for number, _ in outcome.faults] == [1003, 1005]
    assert outcome.faults[0][1].endswith("a.1003.dpx: the frame is missing")
    assert sorted(path.name for path in (tmp_path / "o").glob("*.dpx")) == [
        f"s.{n}.dpx" for n in (1001, 1002, 1004, 1006)
    ]


def test_dither_is_the_same_every_time_and_right_on_average(scans, tmp_path):
    """Triangular noise leaves the mean of the codes where the signal is; Lipshitz et al. 1992."""
    from tonemap.render.quantising import dithered

    signal = np.full((400, 400, 3), 0.5003, np.float32)
    target = RENDITION.target
    codes = dithered(signal, target, 3)
    np.testing.assert_array_equal(codes, dithered(signal, target, 3))
    assert (codes != dithered(signal, target, 4)).mean() > 0.3
    exact = 0.5003 * 876.0 + 64.0
    assert codes.mean() == pytest.approx(exact, abs=0.005)
    assert np.var(codes - exact) == pytest.approx(1.0 / 12.0 + 2.0 / 12.0, rel=0.02)


@pytest.mark.parametrize("name", ["h264", "ffv1"])
def test_a_movies_planes_are_dithered_too(name):
    """Mean and variance as for code values: chroma of a colour lies between codes as luma does."""
    from tonemap.render.quantising import triangular

    codec = CODECS[name]
    coding = coding_for(codec, RENDITION.target)
    signal = np.broadcast_to(np.float32([0.4003, 0.5217, 0.3111]), (300, 300, 3))
    exact = planes_of_signal(signal.astype(np.float64), replace(coding, bits=16)).components
    for plane, fine in zip(planes_of_signal(signal, coding, triangular(2)).components, exact, strict=True):
        wanted = fine[50, 50] / 2.0 ** (16 - coding.bits)
        assert plane.mean() == pytest.approx(wanted, abs=0.02)
        assert np.var(plane - wanted) == pytest.approx(0.25, rel=0.05)


def test_dither_reaches_the_file(film, tmp_path):
    programme = programme_of(film.path, last=1)
    frames = []
    for dither in (False, True):
        path = tmp_path / f"{dither}.mkv"
        render(programme, MovieOutput(path, codec_for(path, "ffv1"), programme, dither=dither), ENGINE)
        frames.append(decoded(path)[1][0].astype(int))
    steps = np.abs(frames[1] - frames[0])
    assert steps.max() == 1
    assert 0.1 < (steps > 0).mean() < 0.5


@pytest.mark.parametrize("left", [1, 30])
def test_a_line_of_the_manifest_that_was_cut_short_does_not_spoil_the_next_one(left, film, tmp_path):
    """A disk that fills up, or a machine that stops, may leave a part of the last line, with or without its end."""
    path = tmp_path / "o/s.%04d.dpx"
    programme = programme_of(film.path)
    render(programme, SequenceOutput(path, programme), ENGINE, is_stopped=stop_after(5))
    manifest = tmp_path / "o/s.manifest.jsonl"
    manifest.write_bytes(manifest.read_bytes()[:-left])
    outcome = render(programme, SequenceOutput(path, programme), ENGINE, is_stopped=stop_after(5))
    assert outcome.kept == 4
    outcome = render(programme, SequenceOutput(path, programme), ENGINE)
    assert (outcome.kept, outcome.is_complete) == (9, True)
    lines = [json.loads(line) for line in manifest.read_text().splitlines()]
    assert sum("file" in line for line in lines) == FRAMES


@pytest.mark.parametrize("name", ["s.%04d.dpx", "s.mov"])
def test_decoding_computing_and_encoding_overlap(name, film, tmp_path, monkeypatch):
    """Each stage holds on until the one beside it has begun: in one thread they would wait for ever."""
    is_decoded, is_begun = [Event() for _ in range(FRAMES)], [Event() for _ in range(FRAMES)]
    refused: list[str] = []

    def wait(events: list[Event], frame: int, what: str) -> None:
        if frame < FRAMES and not refused and not events[frame].wait(200.0):
            refused.append(f"frame {frame} is not {what} meanwhile")

    class Waiting:
        name = title = "waiting"
        frame = 0

        def signal(self, picture, chain):
            is_begun[self.frame].set()
            self.frame += 1
            wait(is_decoded, self.frame, "decoded")
            return ENGINE.signal(picture, chain)

        def codes(self, picture, chain):
            return quantise_signal(self.signal(picture, chain), chain.rendition.target)

    class Decoded(MasterProgramme):
        def frames(self, wanted):
            for frame in super().frames(wanted):
                is_decoded[frame.index].set()
                yield frame

    def written(path: Path, *others: Any, **words: Any) -> None:
        wait(is_begun, int(path.stem[-4:]) + 1, "computed")
        write_words(path, *others, **words)

    def coded(self: SegmentWriter, planes: Any) -> None:
        wait(is_begun, self._count + 1, "computed")
        put(self, planes)

    put = SegmentWriter.put
    monkeypatch.setattr("tonemap.render.sequence_output.write_words", written)
    monkeypatch.setattr(SegmentWriter, "put", coded)
    programme = Decoded(open_master(film.path), RENDITION, HOST)
    path = tmp_path / name
    codec = codec_for(tmp_path / "s.mov", None)
    output: Any = SequenceOutput(path, programme) if "%" in name else MovieOutput(path, codec, programme)
    assert render(programme, output, Waiting()).is_complete
    assert refused == []


# Movies.


def test_a_lossless_movie_has_the_engines_own_codes_the_sound_and_the_timecode(film, tmp_path, expected):
    programme = programme_of(film.path)
    path = tmp_path / "o.mkv"
    output = MovieOutput(path, codec_for(path, None), programme, sound=programme.sound(), segment=6)
    outcome = render(programme, output, ENGINE)
    assert (outcome.done, outcome.is_complete, outcome.notices) == (FRAMES, True, [])
    frames = decoded(path)
    assert len(frames) == FRAMES
    for number in (0, 5, 6, FRAMES - 1):
        green, blue, red = frames[number]
        np.testing.assert_array_equal(np.stack([red, green, blue], axis=-1), expected(still(number), RENDITION))
    np.testing.assert_array_equal(heard(path), film.sound)
    facts = open_master(path).facts
    assert (facts.timecode, facts.rate, facts.count) == ("01:00:00:00", RATE, FRAMES)
    assert not (tmp_path / ".o.mkv.render").exists()
    manifest = [json.loads(line) for line in (tmp_path / "o.manifest.jsonl").read_text().splitlines()]
    assert sum(len(line["codes"]) for line in manifest if "file" in line) == FRAMES


PSNR = {"prores-hq": 45.0, "prores-4444": 45.0, "dnxhr-hqx": 45.0, "hevc": 42.0, "h264": 40.0}
"""Decibels of the whole range, all planes; each codec here reaches some more on this picture."""


@pytest.mark.parametrize("name", PSNR)
def test_a_lossy_movie_is_near_what_was_computed_and_says_what_it_is(name, film, tmp_path):
    """Tags by H.273: BT.709 primaries, transfer and matrix are 1; range 1 is narrow, as the library has it."""
    programme = programme_of(film.path)
    path = tmp_path / "o.mov"
    codec = codec_for(path, name)
    render(programme, MovieOutput(path, codec, programme, sound=programme.sound(), segment=8), ENGINE)
    frames = decoded(path)
    assert len(frames) == FRAMES
    chain = chain_of(RENDITION, PQ, HOST)
    for number in (0, 8, FRAMES - 1):
        signal = ENGINE.signal(Picture(still(number), PQ), chain)
        computed = planes_of_signal(signal, coding_for(codec, RENDITION.target)).components
        bits = 12 if name == "prores-4444" else codec.bits  # the library decodes ProRes 4444 to 12 bits
        error = np.concatenate(
            [
                (found / 2.0**bits - plane / 2.0**codec.bits).ravel()
                for found, plane in zip(frames[number], computed, strict=True)
            ]
        )
        assert -10.0 * np.log10((error**2).mean() + 1e-12) > PSNR[name]
    with av.open(str(path)) as source:
        context = source.streams.video[0].codec_context
        assert context.name == {"libx265": "hevc", "libx264": "h264", "prores_ks": "prores"}.get(codec.encoder, "dnxhd")
        tags = context.color_primaries, context.color_trc, context.colorspace, context.color_range
        assert tuple(map(int, tags)) == (1, 1, 1, 1)
        assert source.streams.video[0].average_rate == RATE
        times = [frame.pts * frame.time_base for frame in source.decode(video=0)]
    assert times == [number / RATE for number in range(FRAMES)]
    np.testing.assert_array_equal(heard(path), film.sound)
    assert open_master(path).facts.timecode == "01:00:00:00"


@pytest.mark.parametrize("ending", [".mkv", ".mp4", ".mov"])
@pytest.mark.parametrize("name", ["hevc", "h264"])
def test_frames_that_are_coded_ahead_of_others_survive_the_joining(name, ending, film, tmp_path):
    """PyAV alone decodes as many frames, each at its own time and with the bar where it stands in that frame."""
    programme, path = programme_of(film.path), tmp_path / f"o{ending}"
    output = MovieOutput(path, codec_for(path, name), programme, segment=8, sound=programme.sound())
    assert render(programme, output, ENGINE).is_complete
    with av.open(str(path)) as movie:
        times = [frame.time for frame in movie.decode(video=0)]
    assert times == pytest.approx([float(number / RATE) for number in range(FRAMES)], abs=0.0006)
    for number, (luma, *_) in enumerate(decoded(path)):
        bar = np.flatnonzero(luma[108] > 0.88 * luma[108].max())
        assert abs(int(bar[0]) - 4 * number) <= 1


@pytest.mark.parametrize("name", ["o.mkv", "o.mov", "o.mp4"])
def test_the_same_render_gives_the_same_bytes(name, film, tmp_path):
    for folder in ("one", "two"):
        path = tmp_path / folder / name
        programme = programme_of(film.path)
        render(programme, MovieOutput(path, codec_for(path, None), programme, sound=programme.sound()), ENGINE)
    assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


@pytest.mark.parametrize(("name", "tag"), [("o.mp4", "hvc1"), ("o.mov", "hvc1"), ("o.mkv", None)])
def test_hevc_has_its_parameter_sets_in_the_header_and_says_so(name, tag, film, tmp_path):
    """ISO/IEC 14496-15, 8.3.3: with 'hvc1' none are in the samples; H.265, Table 7-1: NAL units of types 32 to 34."""
    programme, path = programme_of(film.path), tmp_path / name
    render(programme, MovieOutput(path, codec_for(path, "hevc"), programme, segment=8), ENGINE)
    with av.open(str(path)) as movie:
        stream = movie.streams.video[0]
        assert tag is None or stream.codec_context.codec_tag == tag
        sets = [unit[0] >> 1 & 63 for unit in _units_of_hvcc(bytes(stream.codec_context.extradata))]
        assert set(sets) >= {32, 33, 34}
        for packet in movie.demux(stream):
            data, place = bytes(packet), 0
            while place < len(data):
                assert data[place + 4] >> 1 & 63 not in (32, 33, 34)
                place += 4 + int.from_bytes(data[place : place + 4], "big")


def _units_of_hvcc(record: bytes) -> list[bytes]:
    """Return the NAL units of an HEVCDecoderConfigurationRecord; ISO/IEC 14496-15, 8.3.2.1."""
    units, place = [], 23
    for _ in range(record[22]):
        count, place = int.from_bytes(record[place + 1 : place + 3], "big"), place + 3
        for _ in range(count):
            size = int.from_bytes(record[place : place + 2], "big")
            units.append(record[place + 2 : place + 2 + size])
            place += 2 + size
    return units


def test_profiles_of_prores_survive_the_joining(film, tmp_path):
    for name, profile in (("prores-hq", "HQ"), ("prores-4444", "4444")):
        path = tmp_path / f"{name}.mov"
        programme = programme_of(film.path, last=3)
        render(programme, MovieOutput(path, codec_for(path, name), programme), ENGINE)
        with av.open(str(path)) as source:
            assert source.streams.video[0].codec_context.profile == profile


def test_a_part_of_a_movie_has_its_own_sound_and_timecode(film, tmp_path):
    programme = programme_of(film.path, first=4, last=9)
    path = tmp_path / "o.mov"
    render(programme, MovieOutput(path, codec_for(path, None), programme, sound=programme.sound()), ENGINE)
    assert open_master(path).facts.timecode == "01:00:00:04"
    sound = heard(path)
    start = 4 * 2002
    offset = next(
        shift for shift in range(-2002, 2003) if (film.sound[start + shift : start + shift + 50] == sound[:50]).all()
    )
    assert abs(offset) <= 1100  # sound is carried in whole packets
    np.testing.assert_array_equal(sound, film.sound[start + offset : start + offset + len(sound)])
    assert abs(len(sound) - 6 * 2002) <= 2002


@pytest.mark.parametrize(
    ("name", "codec", "coder", "carried", "notice"),
    [
        ("o.mov", "prores-hq", "flac", None, "the sound, flac, does not fit into .mov and is left out; PCM would fit"),
        ("o.mxf", "dnxhr-hqx", "aac", None, "the sound, aac, does not fit into .mxf and is left out; .mov takes it"),
        ("o.mxf", "dnxhr-hqx", "pcm_s24le", "pcm_s24le", None),
        ("o.mp4", "h264", "flac", "flac", None),
        ("o.mkv", "ffv1", "flac", "flac", None),
    ],
)
def test_sound_goes_where_the_file_takes_it(name, codec, coder, carried, notice, film, tmp_path):
    source = tmp_path / "sound.mkv"
    with av.open(str(film.path)) as old, av.open(str(source), "w") as new:
        video = new.add_stream_from_template(old.streams.video[0])
        audio: Any = new.add_stream(coder, rate=48000)
        audio.layout = "stereo"
        resampler = av.AudioResampler(audio.codec_context.codec.audio_formats[0].name, "stereo", 48000, 1024)
        for packet in old.demux():
            if packet.stream.type == "video" and packet.size:
                packet.stream = video
                new.mux(packet)
            for frame in packet.decode() if packet.stream.type == "audio" else ():
                for part in resampler.resample(frame):
                    new.mux(audio.encode(part))
        new.mux(audio.encode())
    programme = programme_of(source)
    path = tmp_path / name
    outcome = render(programme, MovieOutput(path, codec_for(path, codec), programme, sound=programme.sound()), ENGINE)
    assert outcome.notices == ([notice] if notice else [])
    with av.open(str(path)) as found:
        assert [stream.codec_context.name for stream in found.streams.audio] == ([carried] if carried else [])
        assert len(list(found.decode(video=0))) == FRAMES


def test_sound_that_does_not_fit_is_said(film, tmp_path):
    programme = programme_of(film.path, last=3)
    path = tmp_path / "o.mp4"
    outcome = render(programme, MovieOutput(path, codec_for(path, "h264"), programme, sound=programme.sound()), ENGINE)
    assert outcome.notices == ["the sound, pcm_s24le, does not fit into .mp4 and is left out; .mov takes it"]
    assert len(decoded(path)) == 4


def test_a_stopped_movie_goes_on_from_its_whole_segments(film, tmp_path):
    path = tmp_path / "o.mkv"
    programme = programme_of(film.path)
    codec = codec_for(path, None)
    outcome = render(programme, MovieOutput(path, codec, programme, segment=4), ENGINE, is_stopped=stop_after(10))
    assert not outcome.is_complete
    assert not path.exists()
    outcome = render(programme, MovieOutput(path, codec, programme, segment=4), ENGINE)
    assert (outcome.kept, outcome.done, outcome.is_complete) == (8, 12, True)
    whole = tmp_path / "whole.mkv"
    render(programme, MovieOutput(whole, codec, programme, segment=4), ENGINE)
    for one, other in zip(decoded(path), decoded(whole), strict=True):
        for plane, same in zip(one, other, strict=True):
            np.testing.assert_array_equal(plane, same)


def test_a_frame_without_a_picture_is_black_in_a_movie_and_named(scans, tmp_path):
    (scans.parent / "a.1003.dpx").unlink()
    programme = programme_of(scans)
    path = tmp_path / "o.mkv"
    outcome = render(programme, MovieOutput(path, codec_for(path, None), programme), ENGINE)
    assert [number for number, _ in outcome.faults] == [1003]
    frames = decoded(path)
    assert len(frames) == 6
    assert {int(plane.max()) for plane in frames[2]} == {64}
    assert frames[1][0].max() > 500


@pytest.mark.parametrize(
    ("name", "codec", "kind", "sentence"),
    [
        ("o.mkv", "prores-hq", WrongCall, "ProRes 422 HQ is written to .mov; change the ending or --codec"),
        ("o.mov", "prores", WrongCall, "codec 'prores' is not known; did you mean 'prores-hq' or 'prores-4444'?"),
        ("o.avi", None, WrongCall, "movies are written as .mov, .mkv, .mp4, .mxf; change the ending"),
    ],
)
def test_a_codec_that_can_not_be_is_one_sentence(name, codec, kind, sentence, tmp_path):
    with pytest.raises(kind) as caught:
        codec_for(tmp_path / name, codec)
    assert str(caught.value).endswith(sentence)


def test_an_encoder_that_is_not_there_is_one_sentence(monkeypatch, tmp_path):
    monkeypatch.setitem(CODECS, "hevc", replace(CODECS["hevc"], encoder="no_such_encoder"))
    with pytest.raises(TrimbenchError, match="has no encoder for HEVC Main 10; choose another --codec"):
        codec_for(tmp_path / "o.mp4", "hevc")


def test_a_disk_that_fills_up_is_one_sentence_and_what_is_whole_stays(film, tmp_path, monkeypatch):
    from tonemap.render import sequence_output

    programme = programme_of(film.path)
    output = SequenceOutput(tmp_path / "o/s.%04d.dpx", programme)

    def full(path: Path, *arguments: object, **words: object) -> None:
        if path.name == "s.0005.dpx":
            raise TrimbenchError(f"{path}: can't be written: No space left on device; nothing was kept")
        write_words(path, *arguments, **words)  # type: ignore[arg-type]

    monkeypatch.setattr(sequence_output, "write_words", full)
    with pytest.raises(TrimbenchError, match=r"s\.0005\.dpx: can't be written: No space left"):
        render(programme, output, ENGINE)
    monkeypatch.undo()
    outcome = render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), ENGINE)
    assert outcome.is_complete
    assert 5 <= outcome.kept < FRAMES
    assert not list((tmp_path / "o").glob(".*"))


def test_a_killed_process_loses_nothing_that_was_whole(film, tmp_path):
    """SIGKILL in the middle: the same command goes on, and the frames are those of a render that was left alone."""
    words = [sys.executable, "-m", "viewer", "render", str(film.path), "--engine", "reference", "--tone", "bt2390"]
    words += ["--gamut", "gamut_clip", "-o", str(tmp_path / "o" / "s.%04d.dpx")]
    held = [sys.executable, "-m", "tests.held", "10", *words[3:]]
    with subprocess.Popen(held, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL) as first:
        deadline = time.monotonic() + 200.0
        while len(list((tmp_path / "o").glob("*.dpx"))) < 3:
            assert time.monotonic() < deadline, "it does not begin"
            time.sleep(0.005)
        first.kill()
    left = [path for path in (tmp_path / "o").glob("*.dpx") if path.stat().st_size]
    assert 3 <= len(left) <= 10
    again = subprocess.run(words, capture_output=True, text=True, check=True)
    assert "of 20 frames" in again.stdout
    programme = programme_of(film.path)
    render(programme, SequenceOutput(tmp_path / "whole/s.%04d.dpx", programme), ENGINE)
    for path in (tmp_path / "whole").glob("*.dpx"):
        assert path.read_bytes() == (tmp_path / "o" / path.name).read_bytes()


def test_engines_are_compared_on_every_nth_frame(film, tmp_path):
    class Near:
        name = title = "near"

        def codes(self, picture, chain):
            codes = ENGINE.codes(picture, chain)
            codes[0, 0, 0] += 2
            return codes

        def signal(self, picture, chain):
            return ENGINE.signal(picture, chain)

    programme = programme_of(film.path)
    outcome = render(programme, SequenceOutput(tmp_path / "o/s.%04d.dpx", programme), Near(), compare_every=8)
    found = outcome.comparison
    assert found is not None
    assert (found.frames, found.step, found.samples, found.differing) == (3, 2, 3 * ROWS * COLUMNS * 3, 3)
    assert found.ppm == pytest.approx(1e6 / (ROWS * COLUMNS * 3))


def test_lossless_code_values_need_the_codecs_bits(film, tmp_path):
    twelve = replace(RENDITION, target=replace(RENDITION.target, bits=12))
    programme = programme_of(film.path, twelve, last=1)
    with pytest.raises(WrongCall, match=r"holds 10-bit code values, and the target has 12 bits; set target\.bits=10"):
        MovieOutput(tmp_path / "o.mkv", CODECS["ffv1"], programme)
    assert not (tmp_path / ".o.mkv.render").exists()


def test_a_movie_needs_a_rate_and_an_even_size(scans, tmp_path):
    programme = programme_of(scans)
    programme.rate = None
    with pytest.raises(WrongCall, match="does not say its frames a second"):
        MovieOutput(tmp_path / "o.mov", CODECS["h264"], programme)
    programme.rate, programme.rows = Fraction(24), 143
    with pytest.raises(WrongCall, match=r"H\.264 for mail needs an even size, and the frames are 256 x 143"):
        MovieOutput(tmp_path / "o.mov", CODECS["h264"], programme)
