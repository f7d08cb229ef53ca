"""trimbench render: what it writes equals the reference, what it says is true, and bad calls cost nothing."""

import json

import numpy as np
import pytest

from tonemap.encoding import Encoding, sdr_target
from tonemap.host import find_operators
from tonemap.media.oiio import read_picture
from tonemap.media.oiio_output import write_signal
from tonemap.picture import Picture
from tonemap.reference import ReferenceEngine
from tonemap.rendition import Rendition, chain_of

ENCODING = Encoding("pq", "bt2020", "narrow", 10)


def expected(codes, rendition):
    picture = Picture(codes, ENCODING)
    return ReferenceEngine().codes(picture, chain_of(rendition, ENCODING, find_operators()))


@pytest.mark.parametrize("ending", ["tif", "png", "dpx"])
@pytest.mark.parametrize("engine", ["gpu", "reference"])
def test_the_file_holds_the_codes_of_the_rendition(trimbench, master, codes, tmp_path, ending, engine):
    output = tmp_path / f"sdr.{ending}"
    words = ["--tone", "logarithmic", "--set", "tone.start=30", "--gamut", "gamut_boundary", "--engine", engine]
    outcome = trimbench("render", master, "-o", output, *words)
    assert (outcome.status, outcome.err) == (0, "")
    written = read_picture(output).picture
    assert written.encoding == sdr_target()
    rendition = Rendition("trial", "logarithmic", "gamut_boundary", {"start": 30.0})
    assert np.abs(written.samples.astype(int) - expected(codes, rendition)).max() <= (0 if engine == "reference" else 1)


def test_an_exr_holds_the_signal_in_floating_point(trimbench, master, codes, tmp_path):
    output = tmp_path / "sdr.exr"
    outcome = trimbench("render", master, "-o", output, "--engine", "reference")
    assert outcome.status == 0
    assert outcome.out.startswith(f"{output}: BT.2390 EETF (bt2390, gamut_hue), BT.1886, BT.709, peak 100 cd/m²\n")
    picture = Picture(codes, ENCODING)
    chain = chain_of(Rendition("trial", "bt2390", "gamut_hue"), ENCODING, find_operators())
    signal = ReferenceEngine().signal(picture, chain)
    assert np.abs(read_picture(output).picture.samples - signal).max() < 1e-7


def test_a_still_is_dithered_as_the_first_frame_of_a_sequence_is(trimbench, master, codes, tmp_path):
    """Triangular noise of one code on either side, before rounding, moves a code by one at most."""
    words = ["--engine", "reference", "--tone", "bt2390", "--dither"]
    assert trimbench("render", master, "-o", tmp_path / "sdr.tif", *words).status == 0
    written = read_picture(tmp_path / "sdr.tif").picture.samples.astype(int)
    steps = np.abs(written - expected(codes, Rendition("trial", "bt2390", "gamut_hue")))
    assert steps.max() == 1
    assert 0.05 < (steps > 0).mean() < 0.6
    sequence = [*words, "--sequence"] if master.suffix == ".dpx" else words
    assert trimbench("render", master, "-o", tmp_path / "s.%04d.tif", *sequence).status == 0
    (frame,) = tmp_path.glob("s.*.tif")
    np.testing.assert_array_equal(read_picture(frame).picture.samples, written)
    refused = trimbench("render", master, "-o", tmp_path / "sdr.exr", *words)
    assert (refused.status, refused.err) == (
        2,
        f"trimbench: {tmp_path / 'sdr.exr'}: a floating-point signal is not rounded, so there is nothing to dither\n",
    )


def test_samples_that_are_no_light_are_said(trimbench, tmp_path):
    light = np.full((10, 10, 3), 50.0)
    light[0, 0, 0], light[1, 1] = np.nan, -1.0
    light[2, :2] = np.inf
    write_signal(tmp_path / "odd.exr", light, Encoding("linear"))
    outcome = trimbench("render", tmp_path / "odd.exr", "-o", tmp_path / "odd.tif", "--engine", "reference")
    assert outcome.status == 0
    assert outcome.out.splitlines()[2:5] == [
        "1 pixel (1 %) holds NaN, which is no number and is taken as 0 in that channel",
        "2 pixels (2 %) hold an infinity, which is taken as the most light there is, or as 0 where it is negative",
        "1 pixel (1 %) holds negative light, below -0.0001 cd/m\u00b2 in BT.2020, which is taken as 0 in that channel",
    ]
    codes = read_picture(tmp_path / "odd.tif").picture.samples
    assert codes[1, 1].tolist() == [64, 64, 64]  # black of 10-bit narrow range: BT.709-6, item 5.4
    assert codes[0, 0, 0] == 64
    assert codes[0, 0, 1:].min() > 64


def test_settings_reach_every_stage(trimbench, master, tmp_path):
    output = tmp_path / "sdr.tif"
    words = [
        *("--set", "input.exposure=-0.5", "--set", "input.saturation=0.9"),
        *("--set", "tone.application=per_channel", "--set", "tone.adjust_knee=on"),
        *("--set", "gamut.threshold=0.7", "--set", "output.slope=1.1,1,0.9", "--set", "output.saturation=1.2"),
        *("--set", "target.peak=203", "--set", "target.bits=12", "--set", "target.range=full"),
    ]
    outcome = trimbench("render", master, "-o", output, "--json", *words)
    report = json.loads(outcome.out)
    settings = report["rendition"]["settings"]
    assert settings["input.exposure"] == -0.5
    assert settings["tone.application"] == "per_channel"
    assert settings["tone.adjust_knee"] is True
    assert settings["gamut.threshold"] == 0.7
    assert settings["output.slope"] == [1.1, 1.0, 0.9]
    assert (settings["target.peak"], settings["target.bits"], settings["target.range"]) == (203.0, 12, "full")
    assert read_picture(output).picture.encoding == Encoding("bt1886", "bt709", "full", 12, 203.0)


def test_json_states_the_anchors_and_the_engine(trimbench, master, tmp_path):
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif", "--json", "--engine", "reference")
    report = json.loads(outcome.out)
    assert report["engine"] == "reference (NumPy float64)"
    levels = [(anchor["name"], anchor["master"], round(anchor["nits"], 3)) for anchor in report["anchors"]]
    # BT.2390 from 1000 to 100 cd/m2: 18 % grey lies below the knee; 203 cd/m2 computed from the published formula.
    assert levels == [("grey", 26.0, 26.0), ("white", 203.0, 88.244), ("peak", 1000.0, 100.0)]


REFUSED = [
    (
        ["--tone", "bt2930"],
        "tone operator 'bt2930' is not known; did you mean 'bt2390'?",
    ),
    (
        ["--gamut", "bt2390"],
        "gamut operator 'bt2390' is not known; choose one of gamut_boundary, gamut_clip, gamut_hue",
    ),
    (
        ["--set", "tone.knee=1"],
        "operator 'bt2390' has no parameter 'knee'; choose one of adjust_knee, application, knee_offset",
    ),
    (
        ["--set", "tone.knee_offset=7"],
        "operator 'bt2390': knee_offset = 7 is outside 0.5..1; choose a value in that range",
    ),
    (
        ["--set", "tone.application=hue"],
        "operator 'bt2390': application = 'hue' is not an option; choose one of intensity, luminance, max_rgb, "
        "per_channel",
    ),
    (["--set", "tone.adjust_knee=maybe"], "operator 'bt2390': adjust_knee = 'maybe' is neither on nor off"),
    (
        ["--set", "input.exposure"],
        "--set input.exposure has no value; write it as PATH=VALUE, for example input.exposure=0.5",
    ),
    (["--set", "input.exposure=bright"], "input.exposure = 'bright' is not a number; give one in -8..8 stops"),
    (["--set", "input.exposure=20"], "input.exposure = 20 is outside -8..8 stops; choose a value in that range"),
    (["--set", "target.bits=11"], "11 bits are not supported; choose one of 8, 10, 12, 16"),
    (["--set", "target.peak=0"], "peak = 0 is outside 1..10000 cd/m2; give the display's peak luminance"),
    (
        ["--set", "target.peak=2"],
        "operator 'bt2390': a target of 2 cd/m2 is too dark for a master of 1000 cd/m2: the knee would lie below "
        "black; raise the target's peak or lower the knee offset",
    ),
    (
        ["--tone", "bt2390", "--tone", "knee"],
        "render takes one rendition, and several --tone were given; call it once for each",
    ),
    (
        ["--engine", "card"],
        "argument --engine: invalid choice: 'card' (choose from 'gpu', 'cpu', 'reference'); "
        "see trimbench render --help",
    ),
    *(
        (words, f"{words[0]} is for sequences, movies and trim sheets, and this is a still; leave it out")
        for words in (["--rate", "24"], ["--codec", "hevc"], ["--compare-engines", "2"], ["--matrix", "bt709"])
    ),
    (["--peek", "3"], "unrecognized arguments: --peek 3; see trimbench --help"),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=[" ".join(words) for words, _ in REFUSED])
def test_a_wrong_call_is_one_sentence_and_writes_nothing(trimbench, master, tmp_path, words, sentence):
    output = tmp_path / "sdr.tif"
    outcome = trimbench("render", master, "-o", output, *words)
    assert (outcome.status, outcome.out, outcome.err) == (2, "", f"trimbench: {sentence}\n")
    assert not output.exists()


def test_an_existing_output_stays_unless_it_may_be_replaced(trimbench, master, tmp_path):
    output = tmp_path / "sdr.tif"
    output.write_text("mine")
    outcome = trimbench("render", master, "-o", output)
    assert outcome.status == 1
    assert (
        outcome.err == f"trimbench: {output}: the file exists; choose another name, or give --overwrite to replace it\n"
    )
    assert output.read_text() == "mine"
    assert trimbench("render", master, "-o", output, "--overwrite").status == 0
    assert output.read_bytes()[:4] in (b"II*\0", b"MM\0*")


def test_a_missing_master_is_one_sentence(trimbench, tmp_path):
    outcome = trimbench("render", tmp_path / "nothing.exr", "-o", tmp_path / "sdr.tif")
    assert outcome.status == 1
    assert outcome.err.count("\n") == 1
    assert outcome.err.startswith(f"trimbench: {tmp_path / 'nothing.exr'}: ")
    assert not (tmp_path / "sdr.tif").exists()


def test_an_unknown_encoding_is_asked_for(trimbench, master, tmp_path, codes):
    import OpenImageIO as oiio

    bare = tmp_path / "bare.dpx"
    spec = oiio.ImageSpec(codes.shape[1], codes.shape[0], 3, "uint16")
    spec.attribute("oiio:BitsPerSample", 10)
    output = oiio.ImageOutput.create(str(bare))
    output.open(str(bare), spec)
    output.write_image((codes << 6).astype(np.uint16))
    output.close()
    outcome = trimbench("render", bare, "-o", tmp_path / "sdr.tif")
    assert outcome.status == 2
    assert (
        outcome.err
        == (
            f"trimbench: {bare}: the transfer function and the primaries are not known from the file; say them with "
            "--transfer (pq, hlg, bt1886, gamma2.2, gamma2.4, gamma2.6, srgb, linear) and "
            "--primaries (bt709, bt2020, p3-d65, p3-dci, ap0, ap1)\n"
        )
        or "--range" in outcome.err
    )
    said = ["--transfer", "pq", "--primaries", "bt2020", "--range", "narrow"]
    assert trimbench("render", bare, "-o", tmp_path / "sdr.tif", *said, "--engine", "reference").status == 0
    written = read_picture(tmp_path / "sdr.tif").picture.samples
    assert (written == expected(codes, Rendition("trial", "bt2390", "gamut_hue"))).all()


def test_a_folder_of_one_picture_is_a_sequence_as_well(trimbench, master, tmp_path):
    (tmp_path / "reel").mkdir()
    master.rename(tmp_path / "reel/m.0000.png")
    outcome = trimbench("render", tmp_path / "reel", "-o", tmp_path / "sdr.tif")
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.err == (
        f"trimbench: {tmp_path}/sdr.tif: a sequence of 1 frame needs a place for numbers; write NAME.%04d.dpx\n"
    )
