"""Make a page and a picture for every built-in operator: python docs/make_operator_pages.py."""

from pathlib import Path

from tonemap.host import find_operators
from viewer.operator_pages import index_text, page_text
from viewer.plots.look import PAPER
from viewer.plots.operator_page import operator_figure
from viewer.plots.writing import save_figure

PAGES = Path("docs/operators")


def main() -> None:
    """Write every page."""
    host = find_operators()
    PAGES.mkdir(exist_ok=True)
    (PAGES / "README.md").write_text(index_text(host), encoding="utf-8")
    for name, installed in host.operators.items():
        (PAGES / f"{name}.md").write_text(page_text(installed.operator, host), encoding="utf-8")
        save_figure(operator_figure(installed.operator, host, PAPER), PAGES / f"{name}.png", "png")


if __name__ == "__main__":
    main()
