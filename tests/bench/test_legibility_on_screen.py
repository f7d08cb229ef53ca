"""What the bench writes and draws can be read: nothing is cut below something else, no line runs through a figure."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.bench import numbered
from tests.bench.conftest import heard
from tests.bench.programme import open_programme
from tonemap.scopes import UV_SCALE
from viewer.bench import state as actions
from viewer.bench import theme
from viewer.bench.jobs import DONE, FAILED, RUNNING, Job
from viewer.bench.layout import Rect
from viewer.bench.panels.status import zoom_words
from viewer.bench.reel import Shot
from viewer.bench.scopes import CHROMATICITY, cell_at
from viewer.bench.toolkit import imgui
from viewer.plots.chromaticity import uv
from viewer.plots.locus import LOCUS

LONG = "for the cinema downstairs, second attempt, warmer than the first"


def shown_in(hand, rect):
    """Return what the surface shows in a rectangle, 0..1, (rows, columns, 3)."""
    return hand.surface.codes()[rect.top : rect.bottom, rect.left : rect.right] / hand.top_code


def is_accent(shown):
    """Say of every pixel whether it has the accent's colour; greys have none."""
    return shown[..., 1] - shown[..., 0] > 0.1


def texts(hand):
    with heard(hand) as said:
        hand.frames(1)
    return said


def test_the_bins_of_the_curves_histogram_have_no_seams(hand):
    hand.settle()
    em, place = hand.app.ui.em, hand.place("curve")
    foot = place.top + round(0.2 * em) + round((13.5 - 2.9) * em)
    row = shown_in(hand, Rect(place.left + place.width // 2, foot - 3, place.width // 2, 1))[0, :, 0]
    known = np.array([0.095, 0.13, 0.17, 0.25, 0.50])  # ground, panel, marks, bins, dots
    assert np.count_nonzero(np.abs(row - 0.25) < 0.004) > 50
    assert (np.abs(row[:, np.newaxis] - known).min(axis=1) < 0.004).all()


@pytest.mark.parametrize("tone", ["bt2390", "hard_clip", "bt2446_a", "logarithmic"])
def test_the_curve_does_not_run_through_its_figures(hand, tone):
    hand.bench.do(actions.choose_operator, 1, "tone", tone, hand.bench.host)
    hand.settle()
    working = hand.bench.working(hand.bench.state.slot(1))
    place, em = hand.place("curve"), hand.app.ui.em
    figures = {f"{anchor.nits:.3g}" for anchor in working.anchors}
    found = [
        Rect(round(x), round(y + 0.25 * em), round(width), round(0.7 * em))
        for text, x, y, width in texts(hand)
        if text in figures and place.contains(x, y) and x > place.left + 2.4 * em and y < place.bottom - 2.9 * em
    ]
    assert len(found) == len(working.anchors) == 3
    for rect in found:
        assert not is_accent(shown_in(hand, rect)).any()
    for one, other in pairwise(found):
        assert one.left >= other.right or one.top >= other.bottom or one.bottom <= other.top


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (1280, 560)])
def test_the_legend_of_the_triangles_lies_beside_the_purple_line(hand, size):
    hand.surface.resize(*size)
    hand.key("5")
    hand.settle()
    plot = next(plot for plot in hand.app._plots if plot.kind == CHROMATICITY)
    rect, window = plot.rect, plot.window
    ends = [np.array(uv((x, y))) for _, x, y in (LOCUS[0], LOCUS[-1])]
    line = [(1 - share) * ends[0] + share * ends[1] for share in np.linspace(0.0, 1.0, 200)]
    cells = [(cell_at(UV_SCALE, u), cell_at(UV_SCALE, v)) for u, v in line]
    points = [
        (
            rect.left + (x - window.left) / (window.right - window.left) * rect.width,
            rect.bottom - (y - window.bottom) / (window.top - window.bottom) * rect.height,
        )
        for x, y in cells
    ]
    em = hand.app.ui.em
    names = [each for each in texts(hand) if each[0] in ("709", "P3", "2020")]
    assert len(names) == (0 if size[1] < 600 else 3)
    for _, x, y, width in names:
        words = Rect(round(x), round(y + 0.2 * em), round(width), round(0.8 * em))
        assert not any(words.contains(*point) for point in points)


def test_what_a_list_shows_ends_before_its_chevron(hand, host, tmp_path):
    open_programme(hand, tmp_path, host)
    hand.bench.do(actions.rename, hand.bench.state.taken, LONG)
    hand.settle()
    place, em = hand.place("takes"), hand.app.ui.em
    free = shown_in(hand, Rect(place.right - round(1.55 * em), place.top + 2, round(0.35 * em), place.height - 4))
    assert (np.abs(free - theme.FIELD) < 0.01).all()
    hand.bench.end()


def test_a_name_ends_before_the_mark_of_what_is_taken(hand, host, tmp_path):
    open_programme(hand, tmp_path, host)
    taken = hand.bench.state.taken
    hand.bench.do(actions.rename, taken, LONG * 2)
    hand.settle()
    place = hand.place(f"caption {taken}")
    name = next(each for each in texts(hand) if each[0].startswith(LONG[:12]) and place.contains(each[1], each[2]))
    assert name[0].endswith("…")
    assert name[1] + name[3] <= place.right - round(0.9 * hand.app.ui.em)
    hand.bench.end()


def test_the_shot_that_is_shown_is_named_however_many_there_are(hand, tmp_path):
    hand.bench.open(numbered.write_movie(tmp_path / "numbers.mkv", 120))
    hand.settle()
    playback = hand.bench.playback
    playback.reel.shots = tuple(Shot(number, number, f"scene {number} with a name") for number in range(120))
    for number in (0, 60, 119):
        playback.transport.go(number)
        hand.settle()
        band = hand.place("frames")
        over = [each for each in texts(hand) if band.top <= each[2] < band.top + 1.3 * hand.app.ui.em]
        name = next(each for each in over if each[0] == f"scene {number} with a name")
        assert band.left <= name[1]
        assert name[1] + name[3] <= band.right
        for text, x, _, width in over:
            assert text == name[0] or x + width <= name[1] or x >= name[1] + name[3]


def test_a_shots_row_says_takes_also_after_a_long_name(hand, host, tmp_path):
    open_programme(hand, tmp_path, host)
    shots = tuple(replace(shot, name=f"{shot.name}, {LONG}") for shot in hand.bench.state.sheet.shots)
    hand.bench.do(lambda state: replace(state, sheet=replace(state.sheet, shots=shots)))
    hand.settle()
    labels = [text for text, x, *_ in texts(hand) if abs(x - hand.place("label takes").left) < 3]
    assert any(text.startswith("10, for") and text.endswith("… takes") for text in labels)
    hand.bench.end()


def test_a_flip_has_a_light_on_the_picture_that_is_seen(hand):
    hand.bench.show(layout="flip", first=2, second=4)
    hand.move(5, 5)

    def lit():
        hand.settle()
        em = hand.app.ui.em
        places = [hand.place(f"caption {key}") for key in (2, 4)]
        lights = [Rect(place.left, place.top, round(0.9 * em), round(1.2 * em)) for place in places]
        return [bool(np.count_nonzero(is_accent(shown_in(hand, light))) > 20) for light in lights]

    assert lit() == [True, False]
    imgui.get_io().add_key_event(imgui.Key.tab, True)
    assert lit() == [False, True]
    imgui.get_io().add_key_event(imgui.Key.tab, False)
    assert lit() == [True, False]
    hand.bench.show(layout="wipe")
    assert lit() == [False, False]


def test_the_fields_of_a_patch_lie_within_a_narrow_tile(hand):
    hand.surface.resize(900, 560)
    hand.frames(3)
    hand.key("m")
    hand.drag("picture master", (0.6, 0.5), (0.8, 0.8))
    hand.move(5, 5)
    tile, name, kind = (hand.place(each) for each in ("picture master", "patch name", "patch kind"))
    assert tile.width < 17 * hand.app.ui.em
    for field in (name, kind):
        assert tile.left <= field.left < field.right <= tile.right
    assert name.right <= kind.left or name.bottom <= kind.top


def test_only_a_flip_has_lights_where_it_is_presented(hand):
    hand.key("f11")
    for layout, is_lit in (("side by side", False), ("wipe", False), ("difference", False), ("flip", True)):
        hand.bench.show(layout=layout, first=2, second=4)
        hand.move(5, 5)
        hand.settle()
        assert is_accent(shown_in(hand, hand.place("presented 2"))).any() == is_lit, layout


@pytest.mark.parametrize(
    ("zoom", "words"), [(0.1507, "15.1 %"), (1.0, "100 %"), (9.996, "1000 %"), (10.68, "1068 %"), (64.0, "6400 %")]
)
def test_a_zoom_is_said_without_powers_of_ten(zoom, words):
    assert zoom_words(zoom) == words


def test_the_figures_below_a_small_plot_lie_apart(hand):
    for size in ((1280, 560), (1280, 720), (1920, 1080)):
        hand.surface.resize(*size)
        hand.bench.shown.scopes = replace(hand.bench.shown.scopes, open=(CHROMATICITY,))
        hand.settle()
        plot = next(plot for plot in hand.app._plots if plot.kind == CHROMATICITY)
        below = sorted((x, width) for _, x, y, width in texts(hand) if plot.rect.bottom <= y < plot.rect.bottom + 5)
        below = [each for each in below if plot.rect.left - 20 <= each[0] < plot.rect.right]
        assert len(below) >= 2
        for (x, width), (following, _) in pairwise(below):
            assert x + width < following


def test_a_movie_of_one_frame_has_its_figures(hand, tmp_path):
    hand.bench.open(numbered.write_movie(tmp_path / "one.mkv", 1))
    hand.settle()
    assert hand.bench.playback is None
    assert hand.bench.histogram.counts.sum() > 0
    hand.move(*hand.middle("picture master"))
    assert hand.bench.master_reading() is not None
    assert hand.bench.reading(hand.bench.state.slot(1)) is not None


def test_no_table_is_offered_to_copy_while_there_are_no_samples(hand):
    imgui.set_clipboard_text("before")
    hand.key("f3")
    hand.frames()
    hand.click("copy samples")
    assert imgui.get_clipboard_text() == "before"
    hand.click("close samples")
    assert not hand.bench.shown.samples


def test_no_edge_of_a_shot_cuts_the_name_of_the_one_that_is_shown(hand, tmp_path):
    hand.bench.open(numbered.write_movie(tmp_path / "numbers.mkv", 120))
    hand.settle()
    shown = []
    for shots in ([Shot(0, 119, LONG)], [Shot(0, 0, LONG), *(Shot(number, number, "") for number in range(1, 120))]):
        hand.bench.playback.reel.shots = tuple(shots)
        hand.settle()
        name = next((x, y, width) for text, x, y, width in texts(hand) if text == LONG)
        left, top, width = (round(value) for value in name)
        shown.append(shown_in(hand, Rect(left, top, width, round(1.2 * hand.app.ui.em))))
    assert (shown[0] == shown[1]).all()


def test_the_buttons_of_a_job_end_at_the_right_however_many_there_are(hand):
    hand.bench.shown = replace(hand.bench.shown, handing=True)
    for state, last in ((RUNNING, "stop 0"), (DONE, "forget 0"), (FAILED, "forget 0")):
        hand.bench.jobs.jobs[:] = [Job("Render a", ("render",), state=state)]
        hand.frames(3)
        assert hand.place(last).right == pytest.approx(hand.place("hand on path").right, abs=1)
    hand.bench.jobs.jobs.clear()


def test_figures_stand_on_the_ground_of_the_history_and_not_in_its_levels(hand, tmp_path):
    hand.bench.open(numbered.write_movie(tmp_path / "numbers.mkv", 20))
    hand.app.timeline.looks_through = True
    hand.settle()
    background = hand.app.timeline.background
    background.maximum[:], background.average[:] = 900.0, 60.0
    hand.frames(1)
    below = hand.place("frames").top
    found = [each for each in texts(hand) if each[0] in ("1000", "100", "10") and each[2] > below]
    assert len(found) == 3
    em = hand.app.ui.em
    for _, x, y, width in found:
        shown = shown_in(hand, Rect(round(x), round(y + 0.25 * em), round(width), round(0.8 * em)))
        assert (np.abs(shown - 0.10) < 0.01).mean() > 0.4


def test_the_entries_of_a_list_are_as_wide_as_each_other(hand):
    for name, entries in (("view", ("picture", "luminance", "monitor")), ("tone", ("bt2390", "knee", "hard_clip"))):
        hand.click(name)
        places = [hand.place(f"{name}={entry}") for entry in entries]
        assert len({(place.left, place.right) for place in places}) == 1
        hand.key("escape")
        hand.frames()
