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


def words_of(name):
    return [text.get_text() for text in operator_figure(HOST.get(name), HOST, PAPER).axes[0].texts]


def test_a_parameter_that_greys_do_not_show_is_shown_with_red_or_named_below():
    """BT.2390's knee moves only when the switch is on: its panel throws it. The application never moves greys."""
    words = words_of("bt2390")
    assert "knee_offset, adjust_knee on" in words
    assert "application, red" in words
    assert "Neither changes with crosstalk." in words_of("bt2446_c")


@pytest.mark.parametrize("name", HOST.operators)
def test_the_panels_fill_the_picture(name):
    """No more places are empty than one, and the last panel of the first row ends near the right edge."""
    figure = operator_figure(HOST.get(name), HOST, PAPER)
    axes = figure.axes[0]
    frames = [line.get_xdata() for line in axes.lines if len(line.get_xdata()) == 5 and line.get_zorder() == 2.5]
    rights = sorted({round(max(xs)) for xs in frames})
    assert 2 <= len(rights) <= 3
    assert len(rights) * -(-len(frames) // len(rights)) - len(frames) <= 1
    assert rights[-1] > 0.95 * figure.get_figwidth() * 72.0
