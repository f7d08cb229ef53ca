"""The sidecar: what was measured, and what an encoder of another hand makes of it."""

import json

import numpy as np
import pytest

from tonemap.errors import TrimbenchError
from tonemap.measure.metadata import ContentLight, HdrMetadata, MasteringDisplay
from tonemap.measure.sidecar import encoder_parameters, read_sidecar, sidecar_text

P3_1000 = MasteringDisplay((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329), 1000.0, 0.0001)


def entries(**changes):
    levels = {"max_cll": 987, "max_fall": 312}
    return {"version": 1, "content light": levels, "mastering display": P3_1000.to_dict(), **changes}


def test_a_sidecar_comes_back(tmp_path):
    path = tmp_path / "a.json"
    path.write_text(sidecar_text(entries()))
    assert read_sidecar(path) == HdrMetadata(ContentLight(987, 312), P3_1000)
    path.write_text(sidecar_text(entries(**{"mastering display": None})))
    assert read_sidecar(path) == HdrMetadata(ContentLight(987, 312))
    path.write_text(sidecar_text(entries(**{"mastering display": MasteringDisplay(maximum=600.0).to_dict()})))
    assert read_sidecar(path).mastering_display == MasteringDisplay(maximum=600.0)


def test_parameters_are_in_the_units_of_h265():
    """H.265, Annex D, mastering display colour volume: 0.68 is 34000 and 1000 cd/m2 is 10000000; by hand."""
    assert encoder_parameters(HdrMetadata(ContentLight(987, 312), P3_1000)) == (
        "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,1):max-cll=987,312"
    )
    half_known = HdrMetadata(ContentLight(987, 312), MasteringDisplay(maximum=600.0))
    assert encoder_parameters(half_known) == "max-cll=987,312"


def test_a_movie_carries_the_metadata_and_is_read_back_with_it(tmp_path):
    """Written by libx265, read by FFmpeg's libraries through our own reader of side data."""
    import av

    from tonemap.media.movie_tags import side_data_of

    path = tmp_path / "a.mkv"
    words = "log-level=none:" + encoder_parameters(HdrMetadata(ContentLight(987, 312), P3_1000))
    with av.open(str(path), "w") as output:
        stream = output.add_stream("libx265", rate=24, options={"x265-params": words, "preset": "ultrafast"})
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p10le"
        frame = av.VideoFrame.from_ndarray(np.full((64, 64, 3), 128, np.uint8)).reformat(format="yuv420p10le")
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            output.mux(packet)
    with av.open(str(path)) as found:
        display, content = side_data_of(next(found.decode(video=0)))
    assert content == ContentLight(987, 312)
    assert display.maximum == 1000.0
    assert display.minimum == pytest.approx(0.0001)
    for name in ("red", "green", "blue", "white"):
        assert getattr(display, name) == pytest.approx(getattr(P3_1000, name), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("{", "this is not JSON, so no sidecar; choose another file"),
        ("[]", "this is no sidecar of Trimbench; make one with measure --sidecar"),
        ("{}", "this is no sidecar of Trimbench; make one with measure --sidecar"),
        (json.dumps(entries(version=2)), "this sidecar has version 2, and this program reads 1; update it"),
        (
            json.dumps(entries(**{"content light": {"max_cll": 1e9, "max_fall": 1}})),
            "this is no sidecar of Trimbench; make one with measure --sidecar",
        ),
        (
            json.dumps(entries(**{"mastering display": {"red": [1]}})),
            "this is no sidecar of Trimbench; make one with measure --sidecar",
        ),
    ],
)
def test_a_broken_sidecar_is_one_sentence(tmp_path, text, sentence):
    path = tmp_path / "a.json"
    path.write_text(text)
    with pytest.raises(TrimbenchError) as fault:
        read_sidecar(path)
    assert str(fault.value) == f"{path}: {sentence}"
