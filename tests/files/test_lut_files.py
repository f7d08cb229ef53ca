"""LUT files: exact round trips, bytes that repeat, and broken files that cost one sentence."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonemap.clf import Notes, clf_text, lut_in_clf_text
from tonemap.cube import cube_text, lut_in_cube_text
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.lut import Lut
from tonemap.lut_file import lut_in_text, lut_text, read_lut, same_lut, write_lut

NOTES = Notes("näme <&> \x07", "made -- today", ("line \u00b2", "two\nlines"), "in]]>", "out")
TABLE = np.round(np.random.default_rng(1).random((3, 3, 3, 3)), 7)
SHAPER = np.array([0.0, 0.25, 0.25, 1.0])
LUTS = [Lut(TABLE), Lut(TABLE, SHAPER), Lut(TABLE, SHAPER, 64.0 / 1023.0, 940.0 / 1023.0), Lut(TABLE, None, -0.1, 2.0)]


@pytest.mark.parametrize("ending", [".clf", ".cube"])
@pytest.mark.parametrize("lut", LUTS)
def test_a_file_gives_the_same_numbers_again(tmp_path, ending, lut):
    path = tmp_path / f"lut{ending}"
    write_lut(path, lut, NOTES)
    assert same_lut(read_lut(path)[0], lut)
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("ending", [".clf", ".cube"])
def test_the_bytes_repeat_but_for_the_note_of_the_day(ending):
    one, other = (lut_text(ending, LUTS[2], Notes("n", made, ("a",), "i", "o")) for made in ("Monday", "Tuesday"))
    assert one != other
    assert one.replace("Monday", "Tuesday") == other
    assert lut_text(ending, LUTS[2], NOTES) == lut_text(ending, LUTS[2], NOTES)


def test_the_identity_follows_from_the_content():
    def identity(lut, notes):
        return clf_text(lut, notes).partition('id="')[2].partition('"')[0]

    assert identity(LUTS[0], NOTES) == identity(LUTS[0], Notes(NOTES.name, "x", NOTES.lines, NOTES.input, NOTES.output))
    assert len({identity(lut, NOTES) for lut in LUTS}) == len(LUTS)
    assert identity(LUTS[0], NOTES) != identity(LUTS[0], Notes("other", "x", NOTES.lines, NOTES.input, NOTES.output))


def test_cube_text_is_plain_ascii_with_its_notes_as_comments():
    text = cube_text(LUTS[1], NOTES.all)
    assert text.isascii()
    head = text.partition("LUT_1D_SIZE")[0].splitlines()
    notes = ["name <&> ?", "line 2", "two", "lines", "input: in]]>", "output: out", "made -- today"]
    assert head == [f"# {note}" for note in notes]


def test_red_runs_fastest_in_cube_text_and_blue_in_clf():
    """As colour-science and OpenColorIO read them (tests/standards); here by eye."""
    red_only = np.zeros((2, 2, 2, 3))
    red_only[1, 0, 0] = 1.0
    assert cube_text(Lut(red_only), []).splitlines()[3:6] == [
        "0.0000000 0.0000000 0.0000000",
        "1.0000000 1.0000000 1.0000000",
        "0.0000000 0.0000000 0.0000000",
    ]
    rows = clf_text(Lut(red_only), NOTES).partition('<Array dim="2 2 2 3">\n')[2].splitlines()
    assert [row.startswith("1.0") for row in rows[:8]] == [False] * 4 + [True] + [False] * 3


CUBE = cube_text(Lut(np.zeros((2, 2, 2, 3)), np.array([0.0, 1.0])), ["note"])
BROKEN_CUBES = [
    (lambda t: "", "there is no LUT_3D_SIZE, so this is no cube text with a cube"),
    (lambda t: t.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE two"), "line 4 holds something that is not a number"),
    (lambda t: t.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE 1"), "LUT_3D_SIZE is not one whole number from 2 to 256"),
    (lambda t: t.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE nan"), "LUT_3D_SIZE is not one whole number from 2 to 256"),
    (lambda t: t.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE 3"), "there are 10 rows of numbers where the sizes ask for 29"),
    (lambda t: t.replace("LUT_3D_SIZE 2", "LUT_3D_SIZE 2\nLUT_3D_SIZE 2"), "line 5 says LUT_3D_SIZE a second time"),
    (lambda t: t + "1 2\n", "line 16 has not three numbers"),
    (lambda t: t + "1 2 x\n", "there are 11 rows of numbers where the sizes ask for 10"),
    (lambda t: t.replace("1.0000000 1.0000000", "1.0 x"), "line 7 holds something that is not a number"),
    (lambda t: t.replace("1.0000000 1.0000000", "1.0 0.5"), "the shaper differs between the channels, which Trimbench "
     "doesn't read"),
    (lambda t: t.replace("RANGE 0.0 1.0\nLUT_3D_SIZE", "RANGE 0.0\nLUT_3D_SIZE"), "LUT_1D_INPUT_RANGE has not two "
     "numbers"),
    (lambda t: t.replace("RANGE 0.0 1.0\nLUT_3D_SIZE", "RANGE 1.0 0.0\nLUT_3D_SIZE"), "the input values 1 to 0 are no "
     "range"),
    (lambda t: t.replace("LUT_3D_INPUT_RANGE 0.0", "LUT_3D_INPUT_RANGE 0.5"), "the cube behind the shaper has an input "
     "range of its own, which Trimbench doesn't read"),
    (lambda t: t.replace("0.0000000 0.0000000 0.0000000\n", "nan 0 0\n"), "the shaper differs between the channels, "
     "which Trimbench doesn't read"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "sentence"), BROKEN_CUBES)
def test_broken_cube_text_is_one_sentence(change, sentence):
    with pytest.raises(TrimbenchError) as fault:
        lut_in_cube_text(change(CUBE))
    assert str(fault.value) == sentence


def test_a_domain_per_channel_is_refused():
    text = cube_text(Lut(TABLE), []).replace("DOMAIN_MIN 0.0 0.0 0.0", "DOMAIN_MIN 0.0 0.1 0.0")
    with pytest.raises(TrimbenchError, match=r"^the domain differs between the channels, which Trimbench doesn't read"):
        lut_in_cube_text(text)


XML = clf_text(Lut(np.zeros((2, 2, 2, 3)), np.array([0.0, 1.0])), NOTES)
BROKEN_CLFS = [
    (lambda t: t.replace("ProcessList", "Processes"), "the outermost element is not a ProcessList of the Common LUT "
     "Format"),
    (lambda t: t.replace("2136-1/2024", "2136-9/2099"), "the outermost element is not a ProcessList of the Common LUT "
     "Format"),
    (lambda t: t.replace("LUT1D", "Matrix"), "it is not a Range, a LUT1D and a LUT3D, the first two by choice; no "
     "other is read here"),
    (lambda t: t.replace('outBitDepth="32f" interp', 'outBitDepth="10i" interp'), "the LUT1D is not in floating-point "
     "numbers (32f)"),
    (lambda t: t.replace("<minInValue>0.0", "<minInValue>x"), "the Range's minInValue is not a number"),
    (lambda t: t.replace("minInValue", "minimum"), "the Range has no minInValue"),
    (lambda t: t.replace('"Clamp"', '"noClamp"'), "the Range doesn't clamp to 0..1, which is all that is read here"),
    (lambda t: t.replace("<maxOutValue>1.0", "<maxOutValue>2.0"), "the Range doesn't clamp to 0..1, which is all that "
     "is read here"),
    (lambda t: t.replace('"tetrahedral"', '"cubic"'), "the interpolation 'cubic' is neither tetrahedral nor trilinear"),
    (lambda t: t.replace("2 2 2 3", "2 2 3 2"), "the LUT3D has not the same number of nodes on every side, or not "
     "three channels"),
    (lambda t: t.replace("2 2 2 3", "3 3 3 3"), "the Array of the LUT3D has 24 numbers where its "
     "dimensions ask for 81"),
    (lambda t: t.replace("2 2 2 3", "2 2 2"), "the Array of the LUT3D has the dimensions '2 2 2'"),
    (lambda t: t.replace('dim="2 1"', 'dim="2 x"'), "the Array of the LUT1D holds something that is not a number"),
    (lambda t: t.replace("0.0000000\n1.0000000", "0\nnan"), "a shaper needs 2 or more finite numbers"),
    (lambda t: t.replace("0.0000000\n1.0000000", "1\n0"), "the shaper descends, or leaves the range 0 to 1"),
    (lambda t: t.replace("Array", "Numbers"), "the LUT3D has no Array"),
    (lambda t: t.replace('"linear"', '"linear" halfDomain="true"'), "the LUT1D has more than one channel or half-float "
     "entries, which are not read here"),
    (lambda t: "<!DOCTYPE x>" + t, "it declares a document type, which these files don't have"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "sentence"), BROKEN_CLFS)
def test_a_broken_clf_is_one_sentence(change, sentence):
    with pytest.raises(TrimbenchError) as fault:
        lut_in_clf_text(change(XML))
    assert str(fault.value) == sentence


@given(data=st.data())
@settings(max_examples=300)
def test_whatever_happens_to_a_file_it_reads_or_costs_one_sentence(data):
    """Cuts, swaps and foreign letters anywhere in a good file; and text from nowhere."""
    ending, text = data.draw(st.sampled_from([(".clf", XML), (".cube", CUBE)]))
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 60)))
        piece = st.text(max_size=12) | st.sampled_from(["nan", "-1", "1e400", "<", "\n", "0 0 0\n", "inf", "&amp;"])
        text = text[:start] + data.draw(piece) + text[end:]
    sentence = None
    try:
        lut, _ = lut_in_text(ending, text)
    except TrimbenchError as fault:
        sentence = str(fault)
    if sentence is None:
        assert np.isfinite(lut.table).all()
    else:
        assert sentence.strip()
        assert "\n" not in sentence


@given(text=st.text(max_size=200), ending=st.sampled_from([".clf", ".cube"]))
def test_text_from_nowhere_is_one_sentence(text, ending):
    with pytest.raises(TrimbenchError):
        lut_in_text(ending, text)


def test_files_that_can_not_be_read_are_named(tmp_path):
    with pytest.raises(WrongCall) as fault:
        read_lut(tmp_path / "lut.txt")
    assert (
        str(fault.value) == f"{tmp_path}/lut.txt: LUTs are written to files that end in .clf or .cube; change the name"
    )
    with pytest.raises(TrimbenchError) as fault:
        read_lut(tmp_path / "lut.cube")
    assert str(fault.value) == (
        f"{tmp_path}/lut.cube: can't be read: No such file or directory; check the name and its permissions"
    )
    (tmp_path / "lut.cube").write_bytes(b"\xff\xfe\xfd")
    with pytest.raises(TrimbenchError) as fault:
        read_lut(tmp_path / "lut.cube")
    assert str(fault.value) == f"{tmp_path}/lut.cube: this is not text in UTF-8, so no LUT; choose another file"
    (tmp_path / "lut.clf").write_text("<a>")
    with pytest.raises(TrimbenchError) as fault:
        read_lut(tmp_path / "lut.clf")
    assert str(fault.value).startswith(f"{tmp_path}/lut.clf: it is not well-formed XML: ")


def test_a_file_that_does_not_read_back_is_not_kept(tmp_path):
    """Numbers with more decimals than a file holds are not what it would say."""
    path = tmp_path / "lut.cube"
    with pytest.raises(TrimbenchError) as fault:
        write_lut(path, Lut(np.full((2, 2, 2, 3), 1.0 / 3.0)), NOTES)
    assert str(fault.value) == f"{path}: the file doesn't read back as what was written; nothing was kept"
    assert not list(tmp_path.iterdir())


def test_an_existing_file_stays(tmp_path):
    path = tmp_path / "lut.clf"
    path.write_text("mine")
    with pytest.raises(TrimbenchError, match="the file exists"):
        write_lut(path, LUTS[0], NOTES)
    assert path.read_text() == "mine"
