"""The HDR output: the master's own codes where nothing is adjusted, the right tags, and levels that were measured."""

import json
import os
import struct
from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import colour
import numpy as np
import OpenImageIO as oiio
import pytest

from tests.render.conftest import COLUMNS, FRAMES, HOST, PQ, ROWS, decoded, still
from tonemap.adjustments import InputAdjustments
from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.metadata import ContentLight, MasteringDisplay
from tonemap.measure.sidecar import read_sidecar
from tonemap.media.master import open_master
from tonemap.media.movie_output import CODECS
from tonemap.media.oiio_output import write_codes, write_signal
from tonemap.parity import Engine
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render import hdr
from tonemap.render.hdr import hdr_rendition, hdr_target, measured_levels
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme, SheetProgramme
from tonemap.rendition import Rendition, chain_of
from tonemap.rendition_entry import RenditionEntry
from tonemap.sheet_masters import enter_master
from tonemap.shots import Shot
from tonemap.trim_sheet import TrimSheet, load, save
from viewer.commands import main
from viewer.engine import GpuEngine

BRIGHTER = Rendition("soft", "logarithmic", "gamut_hue", input=InputAdjustments(exposure=0.5))
DISPLAY = "G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,1)"
"""SMPTE ST 2086 as H.265, Annex D, codes it: P3-D65 in steps of 0.00002, 1000 and 0.0001 cd/m2 in steps of 0.0001."""


@pytest.fixture(params=["reference", "gpu"])
def engine(request) -> Engine:
    return ReferenceEngine() if request.param == "reference" else GpuEngine()


def hdr_codes(engine: Engine, codes: np.ndarray, rendition: Rendition, target: Encoding) -> np.ndarray:
    return engine.codes(Picture(codes, PQ), chain_of(hdr_rendition(rendition, target), PQ, HOST))


def test_without_adjustments_every_code_is_the_masters_own(engine):
    """Code values of PQ below 64 and above 940 mean nothing in narrow range: ST 2084 is defined on 0..1."""
    codes = np.random.default_rng(4).integers(64, 941, (120, 160, 3), dtype=np.uint16)
    np.testing.assert_array_equal(hdr_codes(engine, codes, Rendition("any", "bt2446_c"), PQ), codes)


def test_exposure_and_primaries_are_those_of_colour_science(engine):
    """Outside check: colour-science's PQ, and its matrix from BT.2020 to P3-D65."""
    light = np.random.default_rng(5).uniform(1.0, 400.0, (40, 50, 1)) * np.linspace([1, 1, 1], [1.0, 0.8, 0.7], 50)
    codes = np.rint(64 + 876 * colour.models.eotf_inverse_ST2084(light)).astype(np.uint16)
    target = Encoding("pq", "p3-d65", "narrow", 12)
    found = hdr_codes(engine, codes, BRIGHTER, target)
    matrix = colour.matrix_RGB_to_RGB(
        colour.RGB_COLOURSPACES["ITU-R BT.2020"], colour.RGB_COLOURSPACES["P3-D65"], chromatic_adaptation_transform=None
    )
    there = colour.models.eotf_ST2084((codes - 64.0) / 876.0) * 2.0**0.5 @ matrix.T
    wanted = np.rint(256 + 3504 * colour.models.eotf_inverse_ST2084(np.maximum(there, 0.0)))
    steps = np.abs(found.astype(int) - wanted)
    assert steps.max() <= 1  # the published matrix has four digits
    assert (steps > 0).mean() < 0.02


@pytest.mark.parametrize(
    ("words", "stored", "title"),
    [
        ("master", PQ, "PQ (ST 2084), BT.2020, 10-bit narrow, peak 1000 cd/m²"),
        ("master", Encoding("hlg", "bt2020", "full", 12), "HLG (BT.2100), BT.2020, 12-bit full, peak 1000 cd/m²"),
        ("master", Encoding("linear", "ap1", peak=4000.0), "PQ (ST 2084), BT.2020, 10-bit narrow, peak 4000 cd/m²"),
        ("pq,p3-d65,full,12", PQ, "PQ (ST 2084), P3-D65, 12-bit full, peak 1000 cd/m²"),
    ],
)
def test_the_target_is_the_masters_encoding_or_the_one_that_is_named(words, stored, title):
    assert hdr_target(words, [stored]).title == title


@pytest.mark.parametrize(
    ("words", "stored", "sentence"),
    [
        ("bt1886,bt709,narrow", [PQ], "--hdr bt1886,bt709,narrow is no HDR encoding; choose pq or hlg"),
        (
            "pq",
            [PQ],
            "--hdr 'pq' is not understood; write it as TRANSFER,PRIMARIES,RANGE or TRANSFER,PRIMARIES,RANGE,BITS, for "
            "example pq,bt2020,narrow",
        ),
        (
            "master",
            [PQ, Encoding("hlg", "bt2020", "narrow", 10)],
            "the masters have different encodings; name one, for example --hdr pq,bt2020,narrow",
        ),
    ],
)
def test_what_is_no_hdr_encoding_is_refused_in_one_sentence(words, stored, sentence):
    with pytest.raises(WrongCall) as caught:
        hdr_target(words, stored)
    assert str(caught.value) == sentence


def run(*words: object) -> int:
    return main([str(word) for word in words])


@pytest.fixture
def graded(film, tmp_path: Path) -> Path:
    """Write the film as HEVC with a mastering display, by PyAV alone: its first frame's key codes are 780 and 800."""
    path = tmp_path / "graded.mp4"
    parameters = f"log-level=none:master-display={DISPLAY}:max-cll=1,1"
    with av.open(str(path), "w") as output:
        options = {"crf": "4", "preset": "ultrafast", "x265-params": parameters}
        video: Any = output.add_stream("libx265", rate=24, options=options)
        video.width, video.height, video.pix_fmt = COLUMNS, ROWS, "yuv420p10le"
        tags = {"color_primaries": 9, "color_trc": 16, "colorspace": 9, "color_range": 1}
        for name, value in tags.items():
            setattr(video.codec_context, name, value)
        for number in range(4):
            frame: Any = av.VideoFrame(COLUMNS, ROWS, "yuv420p10le")
            for plane, code in zip(frame.planes, (400 + 50 * number, 512, 512), strict=True):
                rows = np.frombuffer(plane, np.uint16).reshape(plane.height, -1)
                rows[:] = code
            np.frombuffer(frame.planes[0], np.uint16).reshape(ROWS, -1)[:, : COLUMNS // 2] = 100
            for name, value in tags.items():
                setattr(frame, name, value)
            frame.pts = number
            output.mux(video.encode(frame))
        output.mux(video.encode())
    return path


def side_data(path: Path) -> dict[str, bytes]:
    """Return the HDR metadata of a movie's first frame, by PyAV alone."""
    with av.open(str(path)) as source:
        frame: Any = next(source.decode(video=0))
        return {item.type.name: bytes(item) for item in frame.side_data if item.type.name != "SEI_UNREGISTERED"}


def test_an_hevc_movie_has_the_measured_levels_and_the_display_in_its_stream(graded, tmp_path, capsys):
    out = tmp_path / "o.mp4"
    assert (
        run("render", graded, "-o", out, "--hdr", "master", "--set", "input.exposure=1", "--engine", "reference") == 0
    )
    levels = ContentLight(*struct.unpack("=II", side_data(out)["CONTENT_LIGHT_LEVEL"]))
    # Worked by hand: the brightest frame is half code 550, half code 100, of 10-bit narrow PQ, one stop up.
    bright, dark = 2.0 * colour.models.eotf_ST2084((np.array([550.0, 100.0]) - 64.0) / 876.0)
    assert levels.max_cll == pytest.approx(bright, rel=0.03)  # the encoder rings at the edge
    assert levels.max_fall == pytest.approx((bright + dark) / 2.0, rel=0.01)
    facts = open_master(out).facts
    assert facts.content_light == levels
    assert facts.mastering_display == open_master(graded).facts.mastering_display
    assert facts.mastering_display == MasteringDisplay(
        (0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329), 1000.0, 0.0001
    )
    assert (facts.encoding.transfer, facts.encoding.primaries, facts.encoding.peak) == ("pq", "bt2020", 1000.0)
    assert "Y'CbCr 4:2:0, BT.2020 matrix, chroma sited topleft" in facts.coding
    with av.open(str(out)) as source:
        context = source.streams.video[0].codec_context
        tags = context.color_primaries, context.color_trc, context.colorspace, context.color_range
    assert tuple(map(int, tags)) == (9, 16, 9, 1)  # H.273
    assert read_sidecar(tmp_path / "o.hdr.json").content_light == levels
    said = capsys.readouterr().out
    assert (
        f"MaxCLL {levels.max_cll}, MaxFALL {levels.max_fall} cd/m²: in the file and in {tmp_path / 'o.hdr.json'}"
        in said
    )


@pytest.mark.parametrize("name", ["s/a.%04d.png", "still.png"])
def test_png_has_the_measured_levels_and_the_display_in_each_file(graded, tmp_path, capsys, name):
    master = graded
    if name == "still.png":
        assert run("render", graded, "-o", tmp_path / "m/a.%04d.png", "--hdr", "master", "--frames", "3-3") == 0
        master = tmp_path / "m/a.0003.png"
    capsys.readouterr()
    assert run("render", master, "-o", tmp_path / name, "--hdr", "master", "--set", "input.exposure=1") == 0
    (sidecar,) = [path for path in tmp_path.rglob("*.hdr.json") if path.parent.name != "m"]
    levels = read_sidecar(sidecar).content_light
    said = f"MaxCLL {levels.max_cll}, MaxFALL {levels.max_fall} cd/m\u00b2: in the file and in {sidecar}"
    assert said in capsys.readouterr().out
    files = sorted(tmp_path.glob(name.replace("%04d", "*")))
    assert files
    for path in files:  # by libavcodec, whose names are those of the PNG standard's third edition
        found = side_data(path)
        assert ContentLight(*struct.unpack("=II", found["CONTENT_LIGHT_LEVEL"])) == levels
        stated = np.frombuffer(found["MASTERING_DISPLAY_METADATA"], np.int32)[:20].reshape(10, 2)
        # Red, green, blue and white in x and y, then minimum and maximum in cd/m2.
        display = [0.68, 0.32, 0.265, 0.69, 0.15, 0.06, 0.3127, 0.329, 0.0001, 1000.0]
        np.testing.assert_allclose(stated[:, 0] / stated[:, 1], display)


def test_the_sdr_movie_of_an_hdr_master_carries_no_hdr_metadata(graded, tmp_path):
    for name, codec in (("o.mp4", "hevc"), ("o.mov", "prores-hq")):
        assert run("render", graded, "-o", tmp_path / name, "--codec", codec, "--engine", "reference") == 0
        assert side_data(tmp_path / name) == {}
    assert not list(tmp_path.glob("*.json"))


@pytest.mark.parametrize("name", ["o.mov", "o.hdr.mov"])
def test_where_the_file_takes_no_levels_it_is_said_and_the_sidecar_has_them(name, film, tmp_path, capsys):
    out = tmp_path / name
    words = ["render", film.path, "-o", out, "--hdr", "master", "--frames", "0-3", "--engine", "reference"]
    assert run(*words) == 0
    sidecar = tmp_path / "o.hdr.json"
    metadata = read_sidecar(sidecar)
    brightest = max(still(number).max() for number in range(4))
    nits = colour.models.eotf_ST2084((float(brightest) - 64.0) / 876.0)
    assert metadata == replace(metadata, content_light=replace(metadata.content_light, max_cll=int(np.ceil(nits))))
    out_lines = capsys.readouterr().out
    assert f"not in the file, whose format takes none here, but in {sidecar}" in out_lines
    assert "the master does not say its mastering display, so none is written" in out_lines
    with av.open(str(out)) as source:
        context = source.streams.video[0].codec_context
        assert (int(context.color_primaries), int(context.color_trc), int(context.colorspace)) == (9, 16, 9)


def test_a_lossless_movie_and_a_sequence_hold_the_masters_codes_and_say_so(film, tmp_path):
    assert run("render", film.path, "-o", tmp_path / "o.mkv", "--hdr", "master", "--frames", "0-2") == 0
    green, blue, red = decoded(tmp_path / "o.mkv")[2]
    np.testing.assert_array_equal(np.stack([red, green, blue], axis=-1), still(2))
    assert run("render", film.path, "-o", tmp_path / "s/a.%04d.dpx", "--hdr", "master", "--frames", "0-2") == 0
    source = oiio.ImageInput.open(str(tmp_path / "s/a.0002.dpx"))
    np.testing.assert_array_equal(source.read_image(0, 0, 0, 3, "uint16") >> 6, still(2))
    source.close()
    assert open_master(tmp_path / "s/a.####.dpx").facts.encoding == PQ
    assert json.loads((tmp_path / "s/a.hdr.json").read_text())["measured"]["frames"] == 3
    # Going on when all is whole: the sidecar says the same, and stays.
    assert run("render", film.path, "-o", tmp_path / "s/a.%04d.dpx", "--hdr", "master", "--frames", "0-2") == 0


@pytest.mark.parametrize("name", ["o.mp4", "s/a.%04d.dpx"])
def test_levels_are_not_measured_again_after_a_stop(graded, tmp_path, monkeypatch, capsys, name):
    measured, measure = [], hdr.measured_levels
    monkeypatch.setattr(hdr, "measured_levels", lambda *given: measured.append(given) or measure(*given))
    words = ["render", graded, "-o", tmp_path / name, "--hdr", "master", "--engine", "reference"]

    def stop(*_, **__):
        raise TrimbenchError("stopped here")

    with monkeypatch.context() as broken:
        broken.setattr("viewer.commands.render_programme.render", stop)
        assert run(*words) == 1
        assert not list(tmp_path.rglob("*.hdr.json"))
        assert run(*words) == 1
        assert len(measured) == 1
        assert run(*words, "--set", "input.exposure=1") == 1
        assert len(measured) == 2  # what is rendered is another picture
        assert run(*words) == 1
        os.utime(graded, ns=(1, 1))
    assert run(*words) == 0
    assert len(measured) == 4  # and a master that was written again may be too
    assert capsys.readouterr().err == 4 * "trimbench: stopped here\n"
    (sidecar,) = tmp_path.rglob("*.hdr.json")
    assert read_sidecar(sidecar).content_light.max_cll > 100
    assert not list(tmp_path.rglob("*.measured"))


def test_a_sidecar_that_says_something_else_stays(film, tmp_path, capsys):
    (tmp_path / "o.hdr.json").write_text((tmp_path / "x").name)
    words = ["render", film.path, "-o", tmp_path / "o.mkv", "--hdr", "master", "--frames", "0-2"]
    assert run(*words) == 1
    assert capsys.readouterr().err == (
        f"trimbench: {tmp_path / 'o.hdr.json'}: this is not JSON, so no sidecar; choose another file\n"
    )
    assert sorted(path.name for path in tmp_path.iterdir()) == ["film.mkv", "o.hdr.json"]


def test_each_shot_has_its_own_adjustments_in_the_hdr_output_too(film, tmp_path):
    entries = (RenditionEntry.of(Rendition("plain", "bt2390"), HOST), RenditionEntry.of(BRIGHTER, HOST))
    shots = (Shot("1", 0, 9, rendition="plain"), Shot("2", 10, FRAMES - 1, rendition="soft"))
    sheet = TrimSheet((enter_master(film.path, tmp_path),), entries, shots, "plain")
    sheet = load(save(sheet, tmp_path / "film.trims").origin.path)
    programme = SheetProgramme(sheet, HOST, hdr="master")
    engine = ReferenceEngine()
    first, second = (
        engine.codes(frame.picture, programme.chain_at(frame.index)) for frame in programme.frames([9, 10])
    )
    np.testing.assert_array_equal(first, still(9))
    np.testing.assert_array_equal(second, hdr_codes(engine, still(10), BRIGHTER, PQ))
    assert np.median(second.astype(int) - still(10)) > 20
    light = colour.models.eotf_ST2084((still(FRAMES - 1).astype(float) - 64.0) / 876.0) * 2.0**0.5
    assert measured_levels(programme).max_cll_nits == pytest.approx(light.max(), rel=1e-4)


def test_an_hdr_movie_of_8_bits_is_refused_and_lossless_bits_are_named(film, tmp_path):
    programme = MasterProgramme(open_master(film.path), BRIGHTER, HOST, hdr="master")
    with pytest.raises(WrongCall, match=r"H\.264 for mail has 8 bits, in which an HDR picture bands; choose hevc"):
        MovieOutput(tmp_path / "o.mp4", CODECS["h264"], programme)
    programme = MasterProgramme(open_master(film.path), BRIGHTER, HOST, hdr="pq,bt2020,narrow,12")
    with pytest.raises(WrongCall, match=r"has 12 bits; say --hdr pq,bt2020,narrow,10, or choose another --codec"):
        MovieOutput(tmp_path / "o.mkv", CODECS["ffv1"], programme)


def test_a_still_becomes_its_hdr_version_and_says_so(tmp_path, capsys):
    codes = still(3)
    write_codes(tmp_path / "m.png", codes, PQ)
    assert run("render", tmp_path / "m.png", "-o", tmp_path / "o.tif", "--hdr", "master") == 0
    assert "(HDR, its input adjustments alone), PQ (ST 2084), BT.2020, 10-bit narrow" in capsys.readouterr().out
    read = open_master(tmp_path / "o.tif")
    np.testing.assert_array_equal(next(read.frames()).picture.samples, codes)
    assert read.encoding == PQ
    sidecar = read_sidecar(tmp_path / "o.hdr.json")
    brightest = colour.models.eotf_ST2084((float(codes.max()) - 64.0) / 876.0)
    assert sidecar.content_light.max_cll == int(np.ceil(brightest))
    light = np.full((8, 8, 3), 203.0, np.float32)
    write_signal(tmp_path / "m.exr", light, Encoding("linear", "bt2020", peak=1000.0))
    assert run("render", tmp_path / "m.exr", "-o", tmp_path / "pq.exr", "--hdr", "master") == 0
    found = open_master(tmp_path / "pq.exr")
    # BT.2408: 203 cd/m2 is 58 % PQ.
    np.testing.assert_allclose(next(found.frames()).picture.samples, 0.5807, atol=1e-4)
    assert (found.encoding.transfer, found.encoding.primaries) == ("pq", "bt2020")
