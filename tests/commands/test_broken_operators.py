"""Every kind of fault of an operator is one sentence, exit status 1 and nothing written; the other operators work."""

import re

import pytest

from tests.broken_operators import FAULTS, write_broken, write_clash


@pytest.mark.parametrize("kind", FAULTS)
def test_a_fault_is_one_sentence_and_nothing_is_written(kind, trimbench, master, tmp_path):
    sentence = write_broken(tmp_path, kind)
    output = tmp_path / "sdr.tif"
    words = ["--operators", tmp_path, "--gamut", "gamut_clip", "--engine", "gpu"]
    outcome = trimbench("render", master, "-o", output, "--tone", "bad", *words)
    assert outcome.status == 1
    assert re.fullmatch(rf"trimbench: {sentence}\n", outcome.err), outcome.err
    assert not output.exists()
    assert trimbench("render", master, "-o", output, "--tone", "knee", *words).status == 0


@pytest.mark.parametrize("kind", FAULTS)
def test_the_check_says_it_and_fails(kind, trimbench, tmp_path):
    sentence = write_broken(tmp_path, kind)
    outcome = trimbench("operators", "check", f"{tmp_path}/", "--pixels", "1000")
    assert outcome.status == 1
    assert re.search(sentence, outcome.out + outcome.err), outcome


def test_a_name_that_is_taken_is_said_with_both_origins(trimbench, master, tmp_path):
    sentence = write_clash(tmp_path)
    outcome = trimbench("render", master, "-o", tmp_path / "sdr.tif", "--tone", "knee", "--operators", tmp_path)
    assert outcome.status == 0
    assert outcome.err.startswith(f"trimbench: {sentence}")
    assert outcome.err.endswith("tonemap/operators/knee.py\n")
