"""Captions of approval copies: legible on any picture, at their level, and nothing else in the picture changes."""

import json
from pathlib import Path
from typing import Any

import colour
import numpy as np
import OpenImageIO as oiio
import pytest

from tests.render.conftest import FRAMES, HOST, RENDITION, decoded
from tonemap.encoding import Encoding, signal_to_light
from tonemap.errors import TrimbenchError
from tonemap.media.master import open_master
from tonemap.media.movie_output import CODECS
from tonemap.reference import ReferenceEngine
from tonemap.render.burn_in import burn_in
from tonemap.render.chunks import render_chunk
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme
from tonemap.render.sequence_output import SequenceOutput
from viewer.burn_in import Captions
from viewer.commands import main

ENGINE = ReferenceEngine()


class Blank:
    """What captions need of a programme."""

    is_hdr = False
    target = RENDITION.target

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = columns, rows

    def names_at(self, index: int) -> tuple[str, str]:
        return "12", "EETF, soft"

    def timecode_at(self, index: int) -> str:
        return f"01:00:00:{index:02d}"

    def number(self, index: int) -> int:
        return 86400 + index


def captioned(columns: int, rows: int, code: int, index: int = 0, **changes: Any) -> np.ndarray:
    programme: Any = Blank(columns, rows)
    vars(programme).update(changes)
    codes = np.full((rows, columns, 3), code, np.uint16)
    return Captions(programme)(index, codes)


def programme_of(film: Path, is_captioned: bool, **words: Any) -> MasterProgramme:
    programme = MasterProgramme(open_master(film), RENDITION, HOST, **words)
    programme.caption = Captions(programme) if is_captioned else None
    return programme


def codes_of_dpx(path: Path) -> np.ndarray:
    source = oiio.ImageInput.open(str(path))
    samples = source.read_image(0, 0, 0, 3, "uint16") >> 6
    source.close()
    return samples


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (3840, 2160)])
@pytest.mark.parametrize("code", [64, 502, 940])
def test_words_stand_out_ten_to_one_on_any_picture(size, code):
    """Half of the target's peak by BT.1886: 64 + 876 (1/2)^(1/2.4); contrast in light. Common practice, no source."""
    codes = captioned(*size, code)
    changed = (codes != code).any(axis=2)
    assert codes[changed].max() == round(64 + 876 * 0.5 ** (1 / 2.4))
    rows, columns = np.nonzero(changed[:, : size[0] // 2])
    left = codes[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1].astype(float)
    light = 100.0 * (np.maximum(left - 64.0, 0.0) / 876.0) ** 2.4
    assert light.max() >= 9.9 * np.median(light)  # most of the rectangle is ground
    lines = np.flatnonzero((codes[..., 0] == codes[changed].max()).any(axis=1))
    assert lines[-1] - lines[0] + 1 >= size[1] / 80  # letters from the highest to the lowest, at 720 lines 9 of them
    rows, columns = np.nonzero(changed)
    # EBU R 95, from memory: graphics within 5 % of the sides.
    assert rows.max() < 0.95 * size[1] + 1
    assert columns.min() >= 0.05 * size[0] - 1
    assert columns.max() <= 0.95 * size[0]
    assert rows.min() > 0.9 * size[1]


def test_in_hdr_the_words_have_half_of_graphics_white():
    """BT.2408: graphics white is 203 cd/m2; PQ by colour-science."""
    target = Encoding("pq", "bt2020", "narrow", 10)
    codes = captioned(1280, 720, 700, is_hdr=True, target=target)
    wanted = round(64 + 876 * float(colour.models.eotf_inverse_ST2084(101.5)))
    inside = codes[(codes != 700).any(axis=2)]
    assert int(np.sort(inside, axis=None)[-50]) == wanted


def test_a_half_covered_pixel_is_half_way_in_light():
    target = RENDITION.target
    signal = np.zeros((1, 2, 3))
    burn_in(signal, target, np.array([[0.5, 1.0]]), 0, 0, 50.0)
    np.testing.assert_allclose(signal_to_light(signal, target)[0, :, 0], [25.0, 50.0], rtol=1e-9)


def test_long_names_are_cut_and_both_parts_stay_apart():
    programme: Any = Blank(640, 360)
    programme.names_at = lambda index: ("a very long name of a shot " * 4, "and of a rendition")
    codes = Captions(programme)(0, np.full((360, 640, 3), 64, np.uint16))
    columns = np.flatnonzero((codes > 300).any(axis=(0, 2)))
    gap = np.diff(columns).max()
    assert gap > 15


def test_the_texts_say_what_and_where():
    captions = Captions(Blank(640, 360))
    assert captions.texts(7) == ("SDR · 12 · EETF, soft", "01:00:00:07 · frame 86407")


def test_only_the_caption_differs_and_engines_are_compared_without_it(film, tmp_path):
    outcomes = []
    for name in ("plain", "captioned"):
        programme = programme_of(film.path, name == "captioned", last=5)
        output = SequenceOutput(tmp_path / name / "s.%04d.dpx", programme)
        outcomes.append(render(programme, output, ENGINE, compare_every=2))
    assert outcomes[0].comparison == outcomes[1].comparison
    assert outcomes[1].comparison.differing == 0
    plain, other, later = (
        codes_of_dpx(tmp_path / name) for name in ("plain/s.0002.dpx", "captioned/s.0002.dpx", "captioned/s.0005.dpx")
    )
    changed = (plain != other).any(axis=2)
    assert 0.005 < changed.mean() < 0.15  # the frame is small, and letters have 12 pixels at least
    assert not changed[:115].any()
    assert (other[115:] != later[115:]).any()
    first = json.loads((tmp_path / "captioned/s.manifest.jsonl").read_text().splitlines()[0])
    assert first["job"]["captions"] is True
    with pytest.raises(TrimbenchError, match=r"another render was begun here, which differs in its captions;"):
        SequenceOutput(tmp_path / "captioned/s.%04d.dpx", programme_of(film.path, is_captioned=False, last=5))


def test_a_worker_burns_in_the_same(film, tmp_path):
    programme = programme_of(film.path, is_captioned=True, last=3)
    output = SequenceOutput(tmp_path / "here/s.%04d.dpx", programme)
    render(programme, output, ENGINE)
    other = SequenceOutput(tmp_path / "there/s.%04d.dpx", programme)
    other.manifest.begin()  # as the one that asks the workers does
    render_chunk(programme, other.writer, ENGINE, [0, 1, 2, 3])
    for path in (tmp_path / "here").glob("*.dpx"):
        assert path.read_bytes() == (tmp_path / "there" / path.name).read_bytes()


def test_a_movie_of_a_signal_has_captions_too(film, tmp_path):
    frames = []
    for is_captioned in (False, True):
        programme = programme_of(film.path, is_captioned, last=1)
        path = tmp_path / f"{is_captioned}.mov"
        render(programme, MovieOutput(path, CODECS["prores-hq"], programme), ENGINE)
        frames.append(decoded(path)[1][0].astype(int))
    difference = np.abs(frames[0] - frames[1])
    assert difference[:110].max() <= 2
    assert (difference[125:] > 50).mean() > 0.02


def test_the_verb_says_that_the_copy_is_captioned(film, tmp_path, capsys):
    words = ["render", str(film.path), "-o", str(tmp_path / "o.mkv"), "--caption", "--engine", "reference"]
    assert main(words) == 0
    assert "a copy for approval: captions are burnt in" in capsys.readouterr().out
    assert len(decoded(tmp_path / "o.mkv")) == FRAMES
    assert main(["render", str(tmp_path / "x.exr"), "-o", str(tmp_path / "x.tif"), "--caption"]) == 2
    assert capsys.readouterr().err == (
        "trimbench: --caption is for sequences, movies and trim sheets, and this is a still; leave it out\n"
    )
