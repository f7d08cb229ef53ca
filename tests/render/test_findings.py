"""What a render says of itself: its distance from the exact trim, and samples that are no light."""

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import colour
import numpy as np
import OpenImageIO as oiio
import pytest

from tests.render.conftest import COLUMNS, FRAMES, HOST, PQ, RENDITION, ROWS, still
from tests.render.test_sheet_programme import sheet_of
from tonemap.distance import Distance
from tonemap.encoding import Encoding
from tonemap.errors import TrimbenchError
from tonemap.media import oiio_output
from tonemap.media.master import open_master
from tonemap.media.movie_output import CODECS, codec_for
from tonemap.media.oiio_output import write_signal
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.render import sequence_output
from tonemap.render.chunks import render_chunk
from tonemap.render.findings import TriedFrames, distance_of, tried_rows
from tonemap.render.job import render
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme, SheetProgramme
from tonemap.render.sequence_output import SequenceOutput
from tonemap.rendition import Rendition, chain_of
from tonemap.shots import Shot
from viewer.commands import main

ENGINE = ReferenceEngine()
TRIED = (FRAMES - 1) // 2
"""Of one short shot: the frame in its middle."""


def programme_of(path: Path, rendition: Rendition = RENDITION, **words: Any) -> MasterProgramme:
    return MasterProgramme(open_master(path), rendition, HOST, **words)


def run(capsys: pytest.CaptureFixture[str], *words: object) -> dict[str, Any]:
    """Run render with the reference, and return its report."""
    capsys.readouterr()
    assert main(["render", *map(str, words), "--engine", "reference", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def lines(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text().splitlines()]


def exact_signal(number: int) -> np.ndarray:
    return ENGINE.signal(Picture(still(number), PQ), chain_of(RENDITION, PQ, HOST))


def light(signal: np.ndarray) -> np.ndarray:
    """Return BT.1886 light of 100 cd/m2 in BT.2020 primaries, by colour-science's matrix."""
    spaces = colour.RGB_COLOURSPACES
    matrix = colour.matrix_RGB_to_RGB(spaces["ITU-R BT.709"], spaces["ITU-R BT.2020"], None)
    return np.maximum((100.0 * np.maximum(signal, 0.0) ** 2.4) @ matrix.T, 0.0)


def delta_e(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Return Delta E ITP, BT.2124, by colour-science."""
    itp = [colour.RGB_to_ICtCp(light(signal), method="ITU-R BT.2100-2 PQ") for signal in (one, other)]
    return colour.difference.delta_E_ITP(*itp)


# The distance from the exact trim.


def test_the_distance_is_that_of_what_other_programs_read_in_the_file(film, tmp_path):
    """OpenImageIO reads the codes, colour-science measures them."""
    programme = programme_of(film.path)
    outcome = render(programme, SequenceOutput(tmp_path / "s.%04d.dpx", programme), ENGINE)
    found, frames = distance_of(outcome.findings.values())
    assert (list(outcome.findings), frames) == ([TRIED], 1)
    source = oiio.ImageInput.open(str(tmp_path / f"s.{TRIED:04d}.dpx"))
    codes = source.read_image(0, 0, 0, 3, "uint16") >> 6
    source.close()
    rows = tried_rows(ROWS)
    difference = delta_e((codes[rows] - 64.0) / 876.0, exact_signal(TRIED)[rows])
    assert found is not None
    assert found.samples == len(rows) * COLUMNS
    wanted = [difference.mean(), np.percentile(difference, 99.0), difference.max()]
    assert [found.mean, found.p99, found.maximum] == pytest.approx(wanted, rel=5e-3)  # the published matrix is rounded
    assert (found.codes_mean, found.codes_maximum) == (0.0, 0)  # what the reference gives is written to the code
    (line,) = (line for line in lines(tmp_path / "s.manifest.jsonl") if "distance" in line)
    assert line == {"frame": TRIED, "distance": vars(found)}


@pytest.mark.parametrize("name", ["prores-hq", "hevc", "h264", "ffv1"])
def test_the_distance_of_a_movie_is_that_of_its_decoded_frame(name, film, tmp_path):
    """PyAV decodes the joined movie, and the signal is made by solving for R'G'B' in float64."""
    from tests.files.test_movie import convert, spread

    programme = programme_of(film.path)
    path = tmp_path / f"o{CODECS[name].endings[0]}"
    outcome = render(programme, MovieOutput(path, codec_for(path, name), programme, segment=8), ENGINE)
    found, frames = distance_of(outcome.findings.values())
    assert found is not None
    assert (list(outcome.findings), frames) == ([TRIED], 1)
    with av.open(str(path)) as source:
        frame = list(source.decode(video=0))[TRIED]
    bits = frame.format.components[0].bits
    kind = np.uint8 if bits == 8 else np.uint16
    planes = [np.frombuffer(bytes(p), kind).reshape(p.height, -1)[:, : p.width].astype(float) for p in frame.planes]
    if name == "ffv1":
        signal = (np.stack([planes[2], planes[0], planes[1]], axis=-1) - 64.0) / 876.0
    else:
        steps = COLUMNS // planes[1].shape[1], ROWS // planes[1].shape[0]
        chroma = [spread(plane, ROWS, COLUMNS, steps, (0.0, 0.5)) for plane in planes[1:]]
        signal = convert(planes[0], *chroma, bits, False, 1)
    rows = tried_rows(ROWS)
    difference = delta_e(signal[rows], exact_signal(TRIED)[rows])
    assert found.mean == pytest.approx(difference.mean(), rel=5e-3)
    assert found.p99 == pytest.approx(np.percentile(difference, 99.0), rel=5e-3)
    assert (found.codes_maximum == 0) is (name == "ffv1")


def test_an_engine_that_is_wrong_and_a_writer_that_is_wrong_are_seen(film, tmp_path, monkeypatch):
    class Near:
        name = title = "near"

        def codes(self, picture, chain):
            return ENGINE.codes(picture, chain) + np.uint16(3)

        def signal(self, picture, chain):
            return ENGINE.signal(picture, chain)

    programme = programme_of(film.path)
    outcome = render(programme, SequenceOutput(tmp_path / "a/s.%04d.dpx", programme), Near())
    found, _ = distance_of(outcome.findings.values())
    assert found is not None
    assert (found.codes_mean, found.codes_maximum) == (3.0, 3)

    def shifted(path: Path, words: np.ndarray, *others: Any, **more: Any) -> None:
        oiio_output.write_words(path, np.roll(words, 1, axis=1), *others, **more)

    monkeypatch.setattr(sequence_output, "write_words", shifted)
    outcome = render(programme, SequenceOutput(tmp_path / "b/s.%04d.dpx", programme), ENGINE)
    found, _ = distance_of(outcome.findings.values())
    assert found is not None
    assert found.codes_maximum > 100


@pytest.mark.parametrize("ending", ["dpx", "png", "tif", "exr"])
@pytest.mark.parametrize(
    "target",
    [
        Encoding("bt1886", "bt709", "narrow", 8, 100.0),
        Encoding("gamma2.6", "p3-dci", "full", 12, 48.0),
        Encoding("srgb", "bt709", "full", 16, 80.0),
        Encoding("bt1886", "bt2020", "narrow", 10, 203.0, 0.05),
    ],
    ids=lambda target: target.title,
)
def test_every_target_and_format_is_read_again(target, ending, film, tmp_path):
    programme = programme_of(film.path, replace(RENDITION, target=target), last=1)
    outcome = render(programme, SequenceOutput(tmp_path / f"s.%04d.{ending}", programme), ENGINE)
    found, frames = distance_of(outcome.findings.values())
    assert frames == 1
    assert found is not None
    assert found.codes_maximum <= (2 if target.bits == 8 and ending != "exr" else 1)
    assert found.mean < 1.0


@pytest.mark.parametrize("codec", ["prores-4444", "dnxhr-hqx", "ffv1", "h264"])
def test_every_target_of_a_movie_is_read_again(codec, film, tmp_path):
    """Targets that the tags of a stream can't name too: their signal is what was coded."""
    for target in (
        Encoding("gamma2.6", "p3-dci", "full", 10, 48.0),
        Encoding("bt1886", "bt2020", "narrow", 10, 203.0, 0.05),
    ):
        programme = programme_of(film.path, replace(RENDITION, target=target), last=1)
        path = tmp_path / f"{target.transfer}{CODECS[codec].endings[0]}"
        outcome = render(programme, MovieOutput(path, codec_for(path, codec), programme), ENGINE)
        found, frames = distance_of(outcome.findings.values())
        assert frames == 1
        assert found is not None
        assert found.mean < 4.0


@pytest.mark.parametrize("name", ["h264", "hevc", "ffv1"])
def test_the_bits_that_are_said_are_those_of_the_movie(name, film, tmp_path, capsys):
    path = tmp_path / f"o{CODECS[name].endings[0]}"
    said = run(capsys, film.path, "-o", path, "--codec", name, "--frames", "0-1")["target"]
    with av.open(str(path)) as source:
        bits = next(source.decode(video=0)).format.components[0].bits
    assert said == f"BT.1886, BT.709, {bits}-bit narrow, peak 100 cd/m\u00b2"


@pytest.mark.parametrize(
    ("name", "words", "bits"), [("s.%04d.exr", [], ""), ("s.%04d.dpx", ["--dither"], ", 10-bit narrow")]
)
def test_the_bits_that_are_said_are_those_of_the_pictures(name, words, bits, film, tmp_path, capsys):
    said = run(capsys, film.path, "-o", tmp_path / name, "--frames", "0-1", *words)["target"]
    assert said == f"BT.1886, BT.709{bits}, peak 100 cd/m\u00b2"


def test_captions_are_no_distance(film, tmp_path, capsys):
    plain, captioned = (
        run(capsys, film.path, "-o", tmp_path / name / "s.%04d.dpx", *words)["distance"]
        for name, words in (("a", []), ("b", ["--caption"]))
    )
    assert 0 < captioned["samples"] < plain["samples"]
    assert captioned["codes_maximum"] == plain["codes_maximum"] == 0


def test_every_shot_is_tried_once_and_a_long_one_more_often(film, tmp_path):
    class Long:
        def spans(self) -> list[tuple[int, int]]:
            return [(0, 4), (10, 59), (100, 1099)]

    programme: Any = Long()
    tried = TriedFrames(programme)
    assert [frame for frame in range(1100) if frame in tried] == [2, 22, 112, 352, 592, 832, 1072]
    sheet = sheet_of(film.path, Shot("1", 0, 7), Shot("2", 8, FRAMES - 1, rendition="Cool"))
    programme = SheetProgramme(sheet, HOST)
    outcome = render(programme, SequenceOutput(tmp_path / "s.%04d.dpx", programme), ENGINE)
    assert [finding.frame for finding in outcome.findings.values() if finding.distance] == [3, 13]


@pytest.mark.parametrize("name", ["o.mov", "o.mp4", "o.mkv"])
def test_every_shot_of_a_movies_segment_is_tried(name, film, tmp_path):
    """The figures are those of the same frames rendered alone, read again as the only one of their segment."""
    shots = [Shot("1", 0, 7), Shot("2", 8, 12, rendition="Cool"), Shot("3", 13, FRAMES - 1)]
    programme = SheetProgramme(sheet_of(film.path, *shots), HOST)
    path = tmp_path / name
    codec = codec_for(path, None)
    outcome = render(programme, MovieOutput(path, codec, programme), ENGINE)
    assert [finding.frame for finding in outcome.findings.values() if finding.distance] == [3, 10, 16]
    if name != "o.mp4":  # each frame stands for itself
        alone = render(programme, MovieOutput(tmp_path / f"1{name}", codec, programme, segment=1), ENGINE)
        assert alone.findings == outcome.findings


@pytest.mark.parametrize("output", ["o/s.%04d.dpx", "o/s.mov"])
def test_where_a_tried_frame_is_missing_the_next_one_is_tried(output, scans, tmp_path, capsys):
    for number in (1003, 1004):
        (scans.parent / f"a.{number}.dpx").unlink()
    words = ["render", str(scans), "-o", str(tmp_path / output), "--engine", "reference"]
    assert main(words) == 1
    assert "read again on rows of 1 frame: Delta E ITP" in capsys.readouterr().out
    noted = [line["frame"] for line in lines(tmp_path / "o/s.manifest.jsonl") if "distance" in line]
    assert noted == [4]
    for number in (1005, 1006):
        (scans.parent / f"a.{number}.dpx").unlink()
    (scans.parent / "a.1006.dpx").write_text("no picture")
    assert main(["render", str(scans), "-o", str(tmp_path / f"p/{output}"), "--engine", "reference"]) == 1
    assert "exact trim: not measured, none of the frames that are tried has a picture" in capsys.readouterr().out


def test_distances_are_pooled_and_the_worst_frame_is_not_lost():
    one, other = Distance(10, 1.0, 2.0, 9.0, 0.1, 1.0, 1), Distance(30, 2.0, 4.0, 5.0, 0.3, 0.0, 2)
    from tonemap.distance import pooled

    assert pooled([one, other]) == Distance(40, 1.75, 4.0, 9.0, pytest.approx(0.25), 1.0, 2)


def test_what_an_earlier_call_found_is_still_said(film, tmp_path, capsys):
    """Stopped behind the frame that is tried: the call that goes on doesn't render it."""
    programme = programme_of(film.path)
    seen = iter(range(1000))
    path = tmp_path / "s.%04d.dpx"
    render(programme, SequenceOutput(path, programme), ENGINE, is_stopped=lambda: next(seen) >= TRIED + 1)
    report = run(capsys, film.path, "-o", path, "--tone", "bt2390", "--gamut", "gamut_clip")
    assert report["kept"] > TRIED
    assert report["distance"]["frames"] == 1
    text = f"distance from the exact trim, read again on rows of 1 frame: {report['distance']['sentence']}\n"
    assert main(["render", str(film.path), "-o", str(path), "--tone", "bt2390", "--gamut", "gamut_clip"]) == 0
    assert text in capsys.readouterr().out


def test_an_operator_whose_numpy_fails_costs_the_figure_and_not_the_render(film, tmp_path, monkeypatch, capsys):
    def fails(*_: object) -> None:
        raise TrimbenchError("operator 'bt2390': apply fails")

    monkeypatch.setattr(ReferenceEngine, "signal", fails)
    report = run(capsys, film.path, "-o", tmp_path / "s.%04d.dpx")
    assert report["complete"]
    assert report["distance"] is None
    assert report["notices"] == [
        f"frame {TRIED}: its distance from the exact trim is not known: operator 'bt2390': apply fails"
    ]
    again = run(capsys, film.path, "-o", tmp_path / "s.%04d.dpx")
    assert again["rendered"] == 0
    assert again["notices"] == report["notices"]
    assert main(["render", str(film.path), "-o", str(tmp_path / "s.%04d.dpx")]) == 0
    assert "not measured" not in capsys.readouterr().out


def test_a_still_says_its_distance_too(scans, tmp_path, capsys):
    report = run(capsys, scans.parent / "a.1001.dpx", "-o", tmp_path / "o.tif", "--tone", "knee")
    assert report["distance"]["samples"] == len(tried_rows(ROWS)) * COLUMNS
    assert 0.0 < report["distance"]["mean"] < 0.3
    assert report["distance"]["codes_maximum"] == 0
    assert main(["render", str(scans.parent / "a.1001.dpx"), "-o", str(tmp_path / "p.tif"), "--tone", "knee"]) == 0
    said = f"distance from the exact trim, read again on some rows: {report['distance']['sentence'][:20]}"
    assert said in capsys.readouterr().out


# Samples that are no light.


@pytest.fixture
def odd(tmp_path: Path) -> Path:
    """Write six EXR files, of which the second and the fifth hold what is no light; returns their pattern."""
    for number in range(6):
        samples = np.full((ROWS, COLUMNS, 3), 20.0 + number, np.float32)
        if number in (1, 4):
            samples[0, 0, 1], samples[1, :5] = np.nan, -3.0
            samples[2, 0] = np.inf if number == 4 else 1.0
        path = tmp_path / f"odd.{number + 1:04d}.exr"
        write_signal(path, samples, Encoding("linear", "bt2020"), rate=Fraction(24))
    return tmp_path / "odd.####.exr"


SAID = [
    "2 pixels (< 0.01 %) hold NaN, which is no number and is taken as 0 in that channel, in frames 2, 5",
    "1 pixel (< 0.01 %) holds an infinity, which is taken as the most light there is, or as 0 where it is negative, in "
    "frames 5",
    "10 pixels (< 0.01 %) hold negative light, below -0.0001 cd/m\u00b2 in BT.2020, which is taken as 0 in that "
    "channel, in frames 2, 5",
]


@pytest.mark.parametrize("output", ["o/s.%04d.dpx", "o/s.mov"])
def test_samples_that_are_no_light_are_counted_over_a_programme(output, odd, tmp_path, capsys):
    report = run(capsys, odd, "-o", tmp_path / output)
    assert report["odd samples"]["sentences"] == SAID
    assert report["odd samples"]["pixels"] == {"nan": 2, "infinite": 1, "negative": 10}
    noted = {line["frame"]: line["odd"] for line in lines(tmp_path / "o/s.manifest.jsonl") if "odd" in line}
    assert noted == {1: {"nan": 1, "negative": 5}, 4: {"nan": 1, "infinite": 1, "negative": 5}}


def test_samples_that_an_earlier_call_saw_are_still_said(odd, tmp_path, capsys):
    programme = programme_of(odd)
    seen = iter(range(1000))
    path = tmp_path / "o/s.%04d.dpx"
    render(programme, SequenceOutput(path, programme), ENGINE, is_stopped=lambda: next(seen) >= 2)
    assert main(["render", str(odd), "-o", str(path), "--tone", "bt2390", "--gamut", "gamut_clip"]) == 0
    out = capsys.readouterr().out
    assert "3 frames were whole already" in out
    assert out.splitlines()[3:6] == SAID


def test_a_worker_finds_the_same(odd, tmp_path):
    programme = programme_of(odd)
    output = SequenceOutput(tmp_path / "o/s.%04d.dpx", programme)
    (tmp_path / "o").mkdir()
    result = render_chunk(programme, output.writer, ENGINE, range(6))
    whole = render(programme, SequenceOutput(tmp_path / "p/s.%04d.dpx", programme), ENGINE)
    assert {finding.frame: finding for finding in result.findings} == whole.findings


@pytest.mark.parametrize("primaries", ["bt2020", "p3-d65", "ap0", "ap1"])
def test_what_is_passed_over_quickly_holds_nothing_odd(primaries):
    """Of linear light, pixels that float32 says are well above zero are not looked at: the counts stay the same."""
    from tonemap.encoding import odd_pixels
    from tonemap.measure.odd_samples import count_odd

    random = np.random.default_rng(9)
    samples = (10.0 ** random.uniform(-7.0, 4.0, (300, 200, 3))).astype(np.float32)
    samples[random.random((300, 200)) < 0.3] *= np.float32([1.0, 1e-4, 1e-6])
    samples[5, 5, 0], samples[6, 6, 1], samples[7, 7, 2] = np.nan, -np.inf, -1e-3
    encoding = Encoding("linear", primaries, unit=2.0)
    slow = [int(np.count_nonzero(pixels)) for pixels in odd_pixels(samples, encoding)]
    assert list(count_odd(Picture(samples, encoding)).values()) == slow
    assert slow[2] >= (1 if primaries == "bt2020" else 100)


@pytest.mark.parametrize("transfer", ["pq", "gamma2.6", "bt1886"])
@pytest.mark.parametrize("primaries", ["p3-d65", "ap0", "ap1"])
def test_of_a_signal_few_pixels_are_looked_at_and_the_counts_stay_the_same(transfer, primaries, monkeypatch):
    from tonemap.encoding import odd_pixels
    from tonemap.measure import odd_samples

    random = np.random.default_rng(4)
    samples = random.random((300, 200, 3), np.float32) * np.float32(0.9)
    samples[random.random((300, 200)) < 0.1] *= np.float32([1.0, 1e-3, 1e-3])
    samples[0, 0] = (1.0, 0.0, 0.0)
    samples[1, 1] = (1.7, 0.0, 0.0)
    encoding = Encoding(transfer, primaries)
    slow = [int(np.count_nonzero(pixels)) for pixels in odd_pixels(samples, encoding)]
    looked_at = []

    def counted(band, of):
        looked_at.append(band[..., 0].size)
        return odd_pixels(band, of)

    monkeypatch.setattr(odd_samples, "odd_pixels", counted)
    assert list(odd_samples.count_odd(Picture(samples, encoding)).values()) == slow
    assert slow[2] >= 100
    assert sum(looked_at) <= 1.05 * slow[2] + 20
