"""The forms in which frames are handed on: what the card packs, codes and filters is what is made of codes and signals.

What a file of words or a plane has to hold is held to published examples and other libraries in tests/files
(test_ten_bit_dpx.py, test_coded_planes.py); here both ways of the program are compared.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.render.conftest import HOST, PQ, RENDITION
from tests.render.test_planes import planes_of
from tonemap.encoding import Encoding
from tonemap.media.coded_planes import planes_of_signal
from tonemap.media.dpx import WordsPicture, codes_of, words_of
from tonemap.media.master import open_master
from tonemap.media.movie_output import CODECS, coding_for
from tonemap.media.oiio import read_picture
from tonemap.media.oiio_output import write_codes
from tonemap.media.planes import Coding, Planes
from tonemap.media.wishes import EncodingWishes
from tonemap.parity import CODES_BAR_PPM, CODES_BAR_STEP
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render.forms import CODES, SIGNAL, WORDS, FormEngine, in_form
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme
from tonemap.render.sequence_output import FrameWriter, SequenceOutput
from tonemap.rendition import chain_of
from viewer.engine import MAIN_COMPUTE, MAIN_FRAGMENT, GpuEngine
from viewer.vectors.engine import VectorEngine

TARGET = RENDITION.target
CHAIN = chain_of(RENDITION, PQ, HOST)
SIZES = [(270, 480), (5, 7), (1, 1), (3, 4096)]
CODINGS = [
    Coding(10, "narrow", "bt709", (2, 1), "left"),
    Coding(10, "narrow", "bt709", (2, 2), "left"),
    Coding(10, "narrow", "bt2020", (2, 2), "topleft"),
    Coding(10, "full", "bt601", (2, 2), "bottom"),
    Coding(10, "narrow", "bt709", (1, 1)),
    Coding(8, "narrow", "bt709", (2, 2), "center"),
]


@pytest.fixture(scope="module", params=[MAIN_COMPUTE, MAIN_FRAGMENT])
def card(request: pytest.FixtureRequest) -> Iterator[GpuEngine]:
    engine = GpuEngine(request.param)
    yield engine
    engine.close()


@pytest.fixture(scope="module", params=[MAIN_COMPUTE, MAIN_FRAGMENT, "cpu"])
def engine(request: pytest.FixtureRequest) -> Iterator[GpuEngine | VectorEngine]:
    engine = VectorEngine() if request.param == "cpu" else GpuEngine(request.param)
    yield engine
    engine.close()


def picture_of(rows: int, columns: int) -> Picture:
    codes = np.random.default_rng(rows + columns).integers(64, 800, (rows, columns, 3)).astype(np.uint16)
    return Picture(codes, PQ)


def steps_between(planes: Planes, others: Planes) -> np.ndarray:
    pairs = zip(planes.components, others.components, strict=True)
    return np.concatenate([np.abs(one.astype(int) - other.astype(int)).ravel() for one, other in pairs])


def files_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.mark.parametrize("size", SIZES)
def test_words_from_the_card_are_its_codes_byte_for_byte(engine, size):
    picture = picture_of(*size)
    words, codes = engine.rendered(picture, CHAIN, WORDS), engine.codes(picture, CHAIN)
    assert words.tobytes() == words_of(codes).tobytes()
    assert np.array_equal(codes_of(words), codes)


def test_words_of_a_picture_larger_than_a_block_are_seamless(card, monkeypatch):
    picture = picture_of(130, 150)
    whole = card.rendered(picture, CHAIN, WORDS)
    monkeypatch.setattr(card, "_block", 64)
    assert card.takes(picture, WORDS)
    assert card.rendered(picture, CHAIN, WORDS).tobytes() == whole.tobytes()


def test_black_and_white_are_the_words_of_the_standard(engine):
    """SMPTE ST 268-1, filled method A: codes from the high bits of a big-endian word, its two lowest bits 0."""
    samples = np.array([[[64, 64, 64], [1023, 1023, 1023], [64, 1023, 64]]], np.uint16)
    words = engine.rendered(Picture(samples, PQ), CHAIN, WORDS)
    codes = engine.codes(Picture(samples, PQ), CHAIN)[0].astype(int)
    expected = [f"{red:010b}{green:010b}{blue:010b}00" for red, green, blue in codes]
    whole = words.tobytes()
    assert [f"{int.from_bytes(whole[start : start + 4], 'big'):032b}" for start in (0, 4, 8)] == expected
    assert codes[0].tolist() == [64] * 3
    assert codes[1].tolist() == [940] * 3


@pytest.mark.parametrize("size", SIZES)
def test_words_go_to_the_card_as_they_are(engine, tmp_path, monkeypatch, size):
    picture = picture_of(*size)
    write_codes(tmp_path / "a.dpx", picture.samples, PQ)
    read = read_picture(tmp_path / "a.dpx", EncodingWishes("pq", "bt2020", "narrow")).picture
    assert isinstance(read, WordsPicture)
    expected = engine.rendered(picture, CHAIN, WORDS).tobytes()
    monkeypatch.setattr("tonemap.media.dpx.codes_of", None)  # nothing is unpacked on the way
    assert engine.rendered(read, CHAIN, WORDS).tobytes() == expected
    assert (read.rows, read.columns) == size
    monkeypatch.undo()
    assert np.array_equal(read.samples, picture.samples)


def test_words_of_a_master_larger_than_a_block_are_seamless(card, monkeypatch):
    picture = picture_of(130, 150)
    expected = card.rendered(picture, CHAIN, WORDS).tobytes()
    monkeypatch.setattr(card, "_block", 64)
    assert card.rendered(WordsPicture(words_of(picture.samples), PQ), CHAIN, WORDS).tobytes() == expected


@pytest.mark.parametrize("coding", CODINGS, ids=lambda coding: coding.title)
@pytest.mark.parametrize("size", SIZES)
def test_planes_from_the_card_are_those_made_of_its_signal(engine, coding, size):
    picture = picture_of(*size)
    planes = engine.rendered(picture, CHAIN, coding)
    steps = steps_between(planes, planes_of_signal(engine.signal(picture, CHAIN), coding))
    assert steps.max() <= CODES_BAR_STEP
    assert (steps > 0).sum() <= max(1.0, 1e-6 * CODES_BAR_PPM * steps.size)
    assert planes.coding == coding


@pytest.mark.parametrize("coding", CODINGS, ids=lambda coding: coding.title)
def test_planes_from_the_card_meet_the_bar_against_the_reference(engine, coding):
    """The bar of parity, from a movie's planes to a movie's planes: fewer than 100 of a million, by one at most."""
    movie = planes_of(Coding(10, "narrow", "bt2020", (2, 2), "topleft"))
    chain = chain_of(RENDITION, Encoding("pq", "bt2020"), HOST)
    exact = in_form(ReferenceEngine(), movie.picture(chain.master), chain, coding)
    steps = steps_between(engine.rendered(movie, chain, coding), exact)
    assert steps.max() <= CODES_BAR_STEP
    assert 1e6 * (steps > 0).mean() < CODES_BAR_PPM


def test_planes_of_r_g_and_b_are_the_codes(engine):
    picture = picture_of(38, 51)
    planes = engine.rendered(picture, CHAIN, Coding(10, "narrow"))
    assert np.array_equal(np.stack(planes.components, axis=-1), engine.codes(picture, CHAIN))


def test_planes_that_are_larger_than_a_block_are_made_of_the_signal(card, monkeypatch):
    monkeypatch.setattr(card, "_block", 64)
    assert isinstance(card, FormEngine)
    assert not card.takes(picture_of(130, 150), CODINGS[0])
    planes = in_form(card, picture_of(130, 150), CHAIN, CODINGS[0])
    assert (planes.rows, planes.columns) == (130, 150)


def test_every_output_asks_for_what_its_file_holds(film, tmp_path):
    def form_of(ending: str, **changes: Any) -> Any:
        programme = MasterProgramme(open_master(film.path), RENDITION, HOST)
        programme.caption = changes.pop("caption", None)
        return FrameWriter(tmp_path / f"s.%04d{ending}", changes.pop("dither", False), False).form(programme)

    assert form_of(".dpx") == WORDS
    assert form_of(".dpx", caption=lambda index, rendered: rendered) == CODES
    assert form_of(".tif") == form_of(".png") == CODES
    assert form_of(".dpx", dither=True) == form_of(".exr") == SIGNAL
    programme = MasterProgramme(open_master(film.path), RENDITION, HOST)
    for codec in ("prores-hq", "ffv1"):
        output = MovieOutput(tmp_path / f"{codec}.mkv", CODECS[codec], programme)
        assert output.form == coding_for(CODECS[codec], TARGET)
        output.close()
    assert MovieOutput(tmp_path / "d.mov", CODECS["ffv1"], programme, dither=True).form == SIGNAL


def test_files_of_words_are_those_of_the_codes_byte_for_byte(scans, tmp_path, engine):
    programme = MasterProgramme(open_master(scans), RENDITION, HOST)
    for name, form in (("words", WORDS), ("codes", CODES)):
        output = SequenceOutput(tmp_path / name / "s.%04d.dpx", programme)
        assert output.form == WORDS
        if form == CODES:
            programme.caption = lambda index, rendered: rendered
            output.form = CODES
        render(programme, output, engine)
    files = files_of(tmp_path / "words")
    assert files == files_of(tmp_path / "codes")
    assert len(files) == programme.count + 1


@pytest.mark.parametrize("name", ["o.%04d.dpx", "o.%04d.tif", "o.mov", "o.mkv", "o.mp4"])
def test_engines_are_compared_in_the_codes_that_are_handed_on(film, tmp_path, engine, name):
    programme = MasterProgramme(open_master(film.path), RENDITION, HOST, 0, 1)
    codec = {".mov": "prores-hq", ".mkv": "ffv1", ".mp4": "h264"}.get(Path(name).suffix)
    path = tmp_path / "out" / name
    output: Any = SequenceOutput(path, programme) if codec is None else MovieOutput(path, CODECS[codec], programme)
    comparison = render(programme, output, engine, compare_every=1).comparison
    assert comparison is not None
    chroma = {"o.mov": 0.5, "o.mp4": 0.25}.get(name, 1.0)
    assert comparison.samples == 2 * programme.rows * programme.columns * (1 + 2 * chroma)
    assert comparison.ppm < CODES_BAR_PPM
    assert comparison.step <= CODES_BAR_STEP
