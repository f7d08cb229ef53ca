"""A file that can't be read costs one sentence: what, where, and what to do."""

import numpy as np
import pytest

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.media.oiio import read_picture
from tonemap.media.wishes import EncodingWishes

PQ = EncodingWishes("pq", "bt2020")


def refusal(path, wishes=PQ):
    with pytest.raises(TrimbenchError) as caught:
        read_picture(path, wishes)
    assert caught.value.exit_status == 1
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_missing_file(tmp_path):
    path = tmp_path / "none.exr"
    assert refusal(path) == f"{path}: can't be read: No such file or directory; check the name and its permissions"


def test_unreadable_file(tmp_path, monkeypatch):
    path = tmp_path / "locked.exr"
    path.write_bytes(b"x")

    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(type(path), "open", refuse)  # the tests may run as root, whom no permission stops
    assert refusal(path) == f"{path}: can't be read: Permission denied; check the name and its permissions"


def test_folder(tmp_path):
    assert refusal(tmp_path) == f"{tmp_path}: this is a folder; name a picture file"


@pytest.mark.parametrize("ending", ["exr", "dpx", "tif", "png", "jpg", "data"])
def test_empty_file(tmp_path, ending):
    path = tmp_path / f"empty.{ending}"
    path.touch()
    assert refusal(path) == f"{path}: the file is empty; copy or export it again"


@pytest.mark.parametrize(
    ("ending", "kind"),
    [("exr", "EXR"), ("dpx", "DPX"), ("tif", "TIFF"), ("png", "PNG"), ("jpg", "JPEG"), ("data", "a picture")],
)
def test_text_named_as_a_picture(tmp_path, ending, kind):
    path = tmp_path / f"text.{ending}"
    path.write_text("This is not a picture, but it is long enough to be asked for a header.\n" * 100)
    assert refusal(path) == (
        f"{path}: can't be read as {kind}: it is damaged, cut short or of another kind; export it again"
    )


def test_a_movies_name_where_a_picture_is_asked_for(tmp_path):
    path = tmp_path / "reel.mov"
    path.write_text("whatever is in it")
    with pytest.raises(WrongCall) as caught:
        read_picture(path, EncodingWishes())
    assert str(caught.value) == (
        f"{path}: the name is that of a movie, and a still picture is asked for; export the frame as a still"
    )


@pytest.mark.parametrize(
    ("wrong", "really", "title"), [("exr", "png", "PNG"), ("png", "exr", "EXR"), ("tif", "dpx", "DPX")]
)
def test_mislabelled_file(write_oiio, wrong, really, title):
    dtype = np.float32 if really == "exr" else np.uint16
    right = write_oiio(f"shot.{really}", np.zeros((2, 2, 3), dtype))
    path = right.rename(right.with_suffix(f".{wrong}"))
    assert refusal(path) == f"{path}: the file holds {title} data; rename it to end in .{really}"


def test_a_reader_that_makes_pictures_up_is_not_believed(tmp_path):
    path = tmp_path / "made-up.null"
    path.write_bytes(b"anything")
    assert refusal(path) == f"{path}: this is not a picture file; name another"


@pytest.mark.parametrize("kept", [0.2, 0.5, 0.97])
@pytest.mark.parametrize(
    ("ending", "dtype"),
    [("exr", np.float16), ("dpx", np.uint16), ("tif", np.uint16), ("png", np.uint16), ("jpg", np.uint8)],
)
def test_truncated_pixels(write_oiio, ending, dtype, kept):
    noise = np.random.default_rng(2).integers(0, 255, (64, 64, 3)).astype(dtype)
    path = write_oiio(f"cut.{ending}", noise)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(kept * len(whole))])
    wishes = EncodingWishes("pq", "bt2020", None if ending == "exr" else "full")
    assert refusal(path, wishes) == f"{path}: the file is damaged or cut short; copy or export it again"


@pytest.mark.parametrize(("ending", "kind"), [("exr", "EXR"), ("dpx", "DPX"), ("tif", "TIFF"), ("png", "PNG")])
def test_truncated_header(write_oiio, ending, kind):
    path = write_oiio(f"cut.{ending}", np.zeros((64, 64, 3), np.float32 if ending == "exr" else np.uint16))
    path.write_bytes(path.read_bytes()[:20])
    assert refusal(path) == (
        f"{path}: can't be read as {kind}: it is damaged, cut short or of another kind; export it again"
    )
