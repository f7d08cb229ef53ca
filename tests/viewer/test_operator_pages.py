"""The pages of the operators in docs/ are those that the declarations make."""

from pathlib import Path

import pytest

from tonemap.host import find_operators
from viewer.operator_pages import index_text, page_text
from viewer.plots.look import PAPER
from viewer.plots.operator_page import operator_figure

PAGES = Path(__file__).resolve().parents[2] / "docs" / "operators"
HOST = find_operators()


@pytest.mark.parametrize("name", HOST.operators)
def test_the_page_is_what_the_declaration_says(name):
    """If not: python docs/make_operator_pages.py."""
    assert (PAGES / f"{name}.md").read_text(encoding="utf-8") == page_text(HOST.get(name), HOST)
    assert (PAGES / f"{name}.png").stat().st_size > 5_000


def test_the_index_lists_every_operator_and_no_other():
    assert (PAGES / "README.md").read_text(encoding="utf-8") == index_text(HOST)
    assert {path.stem for path in PAGES.glob("*.md")} == {*HOST.operators, "README"}


def test_a_parameter_that_greys_do_not_show_is_named_below():
    """BT.2390's knee moves only when the switch is on: its panel throws it. The application never moves greys."""
    words = [text.get_text() for text in operator_figure(HOST.get("bt2390"), HOST, PAPER).axes[0].texts]
    assert "knee_offset, adjust_knee on" in words
    assert "Greys do not change with application." in words
