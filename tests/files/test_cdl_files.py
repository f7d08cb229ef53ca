"""Files of the ASC CDL: exact round trips, and broken files that cost one sentence."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonemap.cdl import Cdl
from tonemap.cdl_files import (
    NAMESPACE,
    Correction,
    cdl_text,
    correction_named,
    corrections_in,
    read_corrections,
    write_corrections,
)
from tonemap.errors import TrimbenchError, WrongCall


def numbers(low, high):
    return st.floats(low, high, width=32).map(float)


def triples(low, high):
    return st.tuples(*[numbers(low, high)] * 3)


CDLS = st.builds(Cdl, triples(0.0, 4.0), triples(-1.0, 1.0), triples(0.125, 4.0), numbers(0.0, 4.0))


@given(cdl=CDLS, name=st.text(st.characters(codec="utf-8", categories=["L", "N", "P", "S"]), max_size=20))
@pytest.mark.parametrize("ending", [".cc", ".ccc", ".cdl"])
def test_every_number_and_name_comes_back_to_the_last_bit(ending, cdl, name):
    """Numbers that a hand moves are float32 in both engines; the text is the shortest that gives them again."""
    (item,) = corrections_in(cdl_text(ending, [Correction(name, cdl)]))
    assert item.name == name
    for found, expected in zip(vars(item.cdl).values(), vars(cdl).values(), strict=True):
        assert np.array_equal(np.array(found, np.float32), np.array(expected, np.float32))
    assert cdl_text(ending, [item]) == cdl_text(ending, [Correction(name, cdl)])


def test_numbers_are_written_as_a_hand_writes_them():
    text = cdl_text(".cc", [Correction("x", Cdl(slope=(float(np.float32(1.1)), 1.0, 1e-7)))])
    assert "<Slope>1.1 1.0 0.0000001</Slope>" in text


def test_the_print_options_of_numpy_do_not_reach_a_file():
    """A library that is imported may set them, as colour-science does."""
    item = Correction("x", Cdl(slope=(1.0 / 3.0, 1e-7, 0.45454547)))
    with np.printoptions(precision=3, suppress=True):
        text = cdl_text(".cc", [item])
    assert text == cdl_text(".cc", [item])
    assert "<Slope>0.33333334 0.0000001 0.45454547</Slope>" in text


def test_what_is_left_out_is_neutral():
    (item,) = corrections_in("<ColorCorrection><SatNode><Saturation>0.5</Saturation></SatNode></ColorCorrection>")
    assert item.cdl == Cdl(saturation=0.5)


TEXT = cdl_text(".ccc", [Correction("a", Cdl()), Correction("b", Cdl())])
BROKEN = [
    ("<ColorCorrectionCollection", "<Other", "it is not well-formed XML: mismatched tag: line 23, column 2"),
    ("ColorCorrectionCollection", "Other", "the outermost element is none of ColorCorrection, "
     "ColorCorrectionCollection, ColorDecisionList of the ASC CDL"),
    (NAMESPACE, "urn:other", "the outermost element is none of ColorCorrection, ColorCorrectionCollection, "
     "ColorDecisionList of the ASC CDL"),
    ("<ColorCorrection id", "<ColorCorrectionRef/><ColorCorrection id", "it refers to a correction in another file "
     "(ColorCorrectionRef); read that file"),
    ("<Slope>1.0 1.0 1.0", "<Slope>1.0 1.0", "correction 'a': Slope has 2 numbers, not 3"),
    ("<Slope>1.0 1.0 1.0", "<Slope>1.0 1.0 x", "correction 'a': Slope holds something that is not a number"),
    ("<Slope>1.0 1.0 1.0", "<Slope>1.0 -1.0 1.0", "correction 'a': Slope = 1.0 -1.0 1.0 is not allowed by the ASC CDL"),
    ("<Power>1.0 1.0 1.0", "<Power>1.0 0 1.0", "correction 'a': Power = 1.0 0 1.0 is not allowed by the ASC CDL"),
    ("<Offset>0.0 0.0 0.0", "<Offset>0.0 nan 0.0", "correction 'a': Offset = 0.0 nan 0.0 is not allowed by the ASC "
     "CDL"),
    ("<Saturation>1.0", "<Saturation>-1", "correction 'a': Saturation = -1 is not allowed by the ASC CDL"),
    ("<Power>", "<Slope>1 1 1</Slope><Power>", "correction 'a': there are two of Slope"),
    ("<?xml", "<!DOCTYPE x><?xml", "it declares a document type, which these files don't have"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "sentence"), BROKEN)
def test_a_broken_file_is_one_sentence(old, new, sentence):
    assert old in TEXT
    with pytest.raises(TrimbenchError) as fault:
        corrections_in(TEXT.replace(old, new))
    assert str(fault.value) == sentence


def test_a_file_without_a_correction_is_one_sentence():
    with pytest.raises(TrimbenchError, match=r"^it holds no colour correction$"):
        corrections_in(f'<ColorDecisionList xmlns="{NAMESPACE}"/>')


@given(data=st.data())
@settings(max_examples=300)
def test_whatever_happens_to_a_file_it_reads_or_costs_one_sentence(data):
    text = TEXT
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(start, min(len(text), start + 40)))
        piece = st.text(max_size=12) | st.sampled_from(["nan", "-1", "1e400", "<", "\n", "&lt;", "</SOPNode>"])
        text = text[:start] + data.draw(piece) + text[end:]
    sentence, found = None, []
    try:
        found = corrections_in(text)
    except TrimbenchError as fault:
        sentence = str(fault)
    if sentence is None:
        assert found
        assert all(np.isfinite([*item.cdl.slope, *item.cdl.offset, item.cdl.saturation]).all() for item in found)
    else:
        assert sentence.strip()
        assert "\n" not in sentence


def test_a_correction_is_taken_by_its_name(tmp_path):
    path = tmp_path / "re#el.ccc"
    write_corrections(path, [Correction("one", Cdl(saturation=0.5)), Correction("two", Cdl(saturation=2.0))])
    assert correction_named(f"{path}#two").cdl.saturation == 2.0
    for words, sentence in (
        (str(path), f"{path}: there are 2 corrections; name one as {path}#one"),
        (f"{path}#too", f"{path}: no correction has the name 'too'; did you mean 'two'?"),
    ):
        with pytest.raises(WrongCall) as fault:
            correction_named(words)
        assert str(fault.value) == sentence
    write_corrections(path, [Correction("one", Cdl(saturation=0.5))], overwrite=True)
    assert correction_named(str(path)).cdl.saturation == 0.5


def test_files_that_can_not_be_are_named(tmp_path):
    item = Correction("one", Cdl())
    for work, sentence in (
        (lambda: write_corrections(tmp_path / "a.cc", [item] * 2), "two colour corrections have the name 'one'; rename "
         "one"),
        (lambda: write_corrections(tmp_path / "a.cc", [item, Correction("two", Cdl())]), "a .cc file holds one colour "
         "correction, and there are 2; write a .ccc"),
        (lambda: write_corrections(tmp_path / "a.xml", [item]), f"{tmp_path}/a.xml: colour decisions are in files that "
         "end in .cdl, .cc or .ccc; change the name"),
        (lambda: read_corrections(tmp_path / "a.cc"), f"{tmp_path}/a.cc: can't be read: No such file or directory; "
         "check the name and its permissions"),
    ):  # fmt: skip
        with pytest.raises(TrimbenchError) as fault:
            work()
        assert str(fault.value) == sentence
    assert not list(tmp_path.iterdir())
