"""Opening masters on the bench: the list of files, the question about an encoding, bad files, broken operators."""

import re
import shutil
from pathlib import Path

import numpy as np
import OpenImageIO as oiio
import pytest

from tests.bench.conftest import WISHES, Hand, heard
from tests.bench.programme import write_programme
from tonemap.errors import TrimbenchError
from tonemap.host import find_operators
from tonemap.media.wishes import EncodingWishes
from tonemap.rendition import Rendition
from tonemap.starters import starter_renditions
from viewer.bench import state as actions
from viewer.bench.app import App
from viewer.bench.bench import Bench
from viewer.bench.opening import Opened, Question, open_master
from viewer.bench.surface import OffscreenSurface
from viewer.bench.toolkit import imgui

BROKEN = {
    "bad_glsl": ("return light", "vec3 bad_glsl(vec3 light, Levels levels)\n{\n    return lihgt;\n}\n"),
    "bad_python": ("raise ValueError('no luck')", "vec3 bad_python(vec3 light, Levels levels) { return light; }\n"),
    "bad_nan": ("return light * np.nan", "vec3 bad_nan(vec3 light, Levels levels) { return light / 0.0; }\n"),
}


def write_operators(folder: Path) -> Path:
    for name, (body, glsl) in BROKEN.items():
        (folder / f"{name}.glsl").write_text('#include "lib/levels.glsl"\n' + glsl)
        (folder / f"{name}.py").write_text(
            "import numpy as np\nfrom tonemap.operator import Operator\n\n"
            "class Broken(Operator):\n    interface_version = 1\n"
            f"    name = title = '{name}'\n    kind = 'tone'\n    source = 'none'\n"
            f"    def apply(self, light, p):\n        {body}\n"
        )
    return folder


@pytest.fixture
def empty(host):
    """Return a hand on a bench that has no master."""
    surface = OffscreenSurface(1280, 760)
    imgui.create_context()
    app = App(Bench(host, starter_renditions(), WISHES), surface, 1.0, {})
    yield Hand(app, surface)
    app.close()
    imgui.destroy_context()
    surface.close()


def test_a_bench_without_a_master_comes_to_rest_and_says_in_its_middle_what_to_do(empty):
    """One that does not rest draws without end, as fast as the card can."""
    empty.settle()
    with heard(empty) as said:
        empty.frames(1)
    area = empty.place("picture master")
    (words,) = [place for place in said if place[0].startswith("drop a file here")]
    assert abs(words[1] + 0.5 * words[3] - area.left - 0.5 * area.width) < 2.0
    assert [name for name in empty.app.ui.places if name.startswith("picture ")] == ["picture master"]
    for key in ("2", "v", "u", "l"):
        empty.key(key)
        empty.settle()


def test_a_master_is_chosen_from_the_list_of_files(hand, pictures):
    hand.key("o")
    hand.frames()
    assert {"file master.dpx", "file unknown.tif"} <= set(hand.app.ui.places)
    hand.bench.state = actions.with_view(hand.bench.state, actions.View(4.0, (1.0, 1.0)))
    before = hand.bench.state.master
    hand.click("file master.dpx")
    hand.click("open file")
    hand.frames()
    assert hand.bench.state.master is not before
    assert hand.bench.state.view.zoom is None
    assert "open file" not in hand.app.ui.places


def test_a_sequence_is_one_entry_of_the_list_and_is_opened_by_it(hand, pictures, tmp_path):
    for name in ("night.1001", "night.1002", "night.1004", "dawn_0009", "dawn_0010", "plate.7", "dusk9", "dusk10"):
        shutil.copy(pictures / "master.dpx", tmp_path / f"{name}.dpx")
    for name in ("take1.mov", "take2.mov", "scene.trims"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "plates").mkdir()
    hand.key("o")
    hand.frames()
    with heard(hand) as said:
        hand.type("path", str(tmp_path))
        hand.frames()
    entries = [name.removeprefix("file ") for name in hand.app.ui.places if name.startswith("file ")]
    sequences = ["dawn_####.dpx", "dusk#.dpx", "night.####.dpx"]
    assert entries == ["plates", *sequences, "plate.7.dpx", "scene.trims", "take1.mov", "take2.mov"]
    words = {text for text, *_ in said}
    assert {"0009\u20130010   2 frames", "9\u201310   2 frames", "1001\u20131004   3 frames"} <= words
    hand.click("file dawn_####.dpx")
    hand.click("file night.####.dpx")
    hand.click("open file")
    hand.settle()
    assert hand.bench.state.master.path == tmp_path / "night.####.dpx"
    assert hand.bench.playback.reel.count == 4
    assert "open file" not in hand.app.ui.places


def test_a_path_is_typed_into_the_list_of_files(hand, tmp_path):
    hand.key("o")
    hand.frames()
    hand.type("path", str(tmp_path / "absent.exr"))
    hand.frames()
    assert re.match(r".*absent\.exr: can't be read: No such file", hand.bench.notice.text)
    assert hand.bench.state.master.path.name == "master.dpx"


def test_a_bad_file_is_one_sentence_and_the_old_master_stays(hand, pictures):
    before = hand.bench.state.master
    hand.bench.open(pictures / "damaged.dpx")
    hand.frames()
    assert (
        hand.bench.notice.text
        == f"{pictures / 'damaged.dpx'}: the file is damaged or cut short; copy or export it again"
    )
    assert hand.bench.state.master is before
    assert "dismiss" in hand.app.ui.places


def test_an_unknown_encoding_is_asked_for_and_answered(hand, pictures):
    before = hand.bench.state.master
    hand.bench.wishes = EncodingWishes()
    hand.bench.open(pictures / "unknown.tif")
    hand.frames()
    assert hand.bench.notice is None
    unknown = "the transfer function, the primaries and the signal range are not known from the file"
    assert hand.bench.question.sentence == f"{pictures / 'unknown.tif'}: {unknown}"
    hand.click("answer")
    assert hand.bench.state.master is before
    for part, answer in (("transfer", "pq"), ("primaries", "p3-d65"), ("range", "full")):
        hand.click(f"question {part}")
        hand.click(f"question {part}={answer}")
    hand.type("question peak", "2000")
    hand.click("answer")
    hand.frames()
    encoding = hand.bench.state.master.picture.encoding
    assert (encoding.transfer, encoding.primaries, encoding.signal_range, encoding.peak) == (
        "pq",
        "p3-d65",
        "full",
        2000,
    )
    assert hand.bench.question is None
    assert "answer" not in hand.app.ui.places


def options_of(hand, part):
    """Open a list of the question, and return what it offers; it is closed again."""
    hand.click(f"question {part}")
    start = f"question {part}="
    found = [name.removeprefix(start) for name in hand.app.ui.places if name.startswith(start)]
    hand.key("escape")
    hand.frames()
    assert hand.bench.question is not None, "Esc closed the sheet with its list"
    return found


def test_the_files_word_is_offered_only_where_the_file_says_something(hand, pictures, tmp_path):
    hand.bench.wishes = EncodingWishes()
    hand.bench.open(pictures / "unknown.tif")
    hand.frames()
    for part in ("transfer", "primaries", "range"):
        assert "" not in options_of(hand, part), f"the file is said to say its {part}"
    hand.click("cancel question")
    spec = oiio.ImageSpec(6, 4, 3, "float")  # BT.2020, and nothing of its light
    spec.attribute("chromaticities", "float[8]", (0.708, 0.292, 0.17, 0.797, 0.131, 0.046, 0.3127, 0.329))
    output = oiio.ImageOutput.create(str(tmp_path / "wide.exr"))
    assert output.open(str(tmp_path / "wide.exr"), spec)
    assert output.write_image(np.full((4, 6, 3), 0.5, np.float32))
    output.close()
    hand.bench.open(tmp_path / "wide.exr")
    hand.frames()
    assert hand.bench.question.missing == ("transfer",)
    with heard(hand) as said:
        assert options_of(hand, "primaries")[0] == ""
    assert "what the file says: BT.2020" in [text for text, *_ in said]
    assert options_of(hand, "range")[0] == ""
    hand.click("question transfer")
    hand.click("question transfer=linear")
    hand.type("question unit", "100")
    hand.click("answer")
    hand.frames()
    encoding = hand.bench.state.master.picture.encoding
    assert (encoding.transfer, encoding.primaries, encoding.unit) == ("linear", "bt2020", 100.0)


def test_what_was_answered_before_is_not_taken_for_the_files_word(hand, pictures):
    hand.bench.wishes = EncodingWishes()
    hand.bench.open(pictures / "unknown.tif")
    hand.frames()
    hand.click("question transfer")
    hand.click("question transfer=pq")
    hand.click("answer")
    hand.frames()
    assert hand.bench.question.sentence.endswith("the primaries and the signal range are not known from the file")
    assert "" not in options_of(hand, "transfer")


def test_the_question_can_be_left_without_an_answer(hand, pictures):
    before = hand.bench.state.master
    hand.bench.wishes = EncodingWishes()
    hand.bench.open(pictures / "unknown.tif")
    hand.frames()
    hand.click("cancel question")
    assert hand.bench.question is None
    assert hand.bench.state.master is before


def test_only_what_an_answer_can_mend_is_asked(pictures):
    assert isinstance(open_master(pictures / "unknown.tif", EncodingWishes("linear")), Question)
    assert isinstance(open_master(pictures / "unknown.tif", EncodingWishes("pq", "bt2020", "full")), Opened)
    with pytest.raises(TrimbenchError, match="transfer 'pg' is not known"):
        open_master(pictures / "unknown.tif", EncodingWishes("pg"))
    with pytest.raises(TrimbenchError, match="there are no numbered pictures in this folder"):
        open_master(pictures, EncodingWishes())


def test_a_broken_operator_costs_only_its_own_tile(hand, tmp_path):
    hand.click("pixels")
    good = hand.tile(2)
    bench = hand.bench
    bench.host = bench.workings.host = find_operators([write_operators(tmp_path)])
    keys = {}
    for name in BROKEN:
        bench.do(actions.add, Rendition(name, name))
        keys[name] = bench.state.selected
    hand.frames(3)
    faults = {name: bench.fault(bench.state.slot(key)) for name, key in keys.items()}
    assert re.fullmatch(rf"{tmp_path}/bad_glsl\.glsl:4(:\d+)?: error: .*lihgt.*", faults["bad_glsl"])
    assert faults["bad_python"] == (
        f"operator 'bad_python': apply fails with ValueError: no luck ({tmp_path}/bad_python.py:10)"
    )
    assert faults["bad_nan"].startswith("operator 'bad_nan': apply makes (nan, nan, nan) of the light (")
    assert faults["bad_nan"].endswith(f" cd/m2; correct apply ({tmp_path}/bad_nan.py:9)")
    assert {name for name, key in keys.items() if f"fault {key}" in hand.app.ui.places} == set(BROKEN)
    assert hand.tile(keys["bad_python"]).std() < good.std()
    assert bench.fault(bench.state.slot(2)) is None
    assert len(set(map(tuple, hand.tile(2).reshape(-1, 3)))) > 400


def test_a_rendition_whose_operator_is_gone_says_so_on_its_tile(hand):
    hand.bench.do(actions.add, Rendition("Lost", "bt2930"))
    hand.frames(3)
    slot = hand.bench.state.selected_slot
    assert hand.bench.fault(slot) == "tone operator 'bt2930' is not known; did you mean 'bt2390'?"
    assert f"fault {slot.key}" in hand.app.ui.places


def test_several_dropped_frames_are_their_sequence_and_of_other_files_one_is_opened(hand, pictures, tmp_path):
    for number in (998, 999, 1000, 1001):
        shutil.copy(pictures / "master.dpx", tmp_path / f"shot.{number:04d}.dpx")
    hand.bench.take_drop([tmp_path / "shot.1000.dpx", tmp_path / "shot.0999.dpx"])
    assert hand.bench.playback.reel.count == 4
    assert hand.bench.notice.text == "the 2 dropped files are frames of shot.####.dpx, which is opened"
    hand.bench.take_drop([pictures / "master.dpx", tmp_path / "shot.1000.dpx"])
    assert hand.bench.state.master.path.name == "master.dpx"
    assert hand.bench.notice.text == "of the 2 dropped files, master.dpx is opened"
    sheet = write_programme(tmp_path, hand.bench.host)
    hand.bench.take_drop([tmp_path / "shot.1000.dpx", sheet])
    assert hand.bench.keeping.path == sheet
    hand.bench.take_drop([tmp_path / "shot.1000.dpx"])
    assert hand.bench.state.master.path.name == "shot.1000.dpx"
    (tmp_path / "folder").mkdir()
    for number in (1, 2):
        shutil.copy(pictures / "master.dpx", tmp_path / "folder" / f"a.{number:02d}.dpx")
    hand.bench.take_drop([tmp_path / "folder"])
    assert hand.bench.playback.reel.count == 2
