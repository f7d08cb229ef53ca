"""Patches on the real bench: drawn, moved, chosen; their figures against the measuring library on the whole picture."""

from dataclasses import asdict

import numpy as np
import pytest

from tests.bench.conftest import WISHES
from tonemap.encoding import decode
from tonemap.errors import WrongCall
from tonemap.measure.patch_roll_off import roll_off
from tonemap.measure.patches import KINDS, Patch, master_figures, rendition_figures
from tonemap.reference import ReferenceEngine
from tonemap.sheet_masters import enter_master
from tonemap.shots import Shot
from tonemap.starters import starter_renditions
from tonemap.trim_sheet import TrimSheet, load, save
from viewer.bench import patch_actions, wording
from viewer.bench import state as actions
from viewer.bench.bench import Bench
from viewer.bench.layout import View
from viewer.bench.start import open_first
from viewer.bench.state import BenchState
from viewer.bench.toolkit import imgui


def draw_patch(hand, start, end):
    hand.key("m")
    name = next(name for name in hand.app.ui.places if name.startswith("picture "))
    hand.drag(name, start, end)
    hand.move(5, 5)


def test_a_drag_marks_what_it_goes_over_in_every_tile(hand):
    hand.bench.do(actions.with_view, View(1.0, (60.0, 33.5)))
    hand.frames()
    place, placement = hand.place("picture master"), hand.bench.placement
    draw_patch(hand, (0.5, 0.5), (0.6, 0.65))
    patch = hand.bench.state.chosen_patch
    assert patch.name == "Patch 1"
    wanted = [
        (
            (x * place.width - placement.left) / hand.picture.columns,
            (y * place.height - placement.top) / hand.picture.rows,
        )
        for x, y in ((0.5, 0.5), (0.6, 0.65))
    ]
    assert patch.corners[0] == pytest.approx(wanted[0], abs=0.01)
    assert patch.corners[2] == pytest.approx(wanted[1], abs=0.01)
    for key in (None, 1, 4):
        tile = hand.tile(key).astype(int)
        row, column = int(0.5 * place.height), int(0.55 * place.width)
        strip = tile[row - 2 : row + 3, column]
        assert (strip[:, 1] - strip[:, 0]).max() > 0.1 * hand.top_code, "no outline in the accent"


def test_the_figures_are_those_of_the_measuring_library_and_follow_the_trim(hand):
    draw_patch(hand, (0.3, 0.4), (0.6, 0.8))
    picture, patch = hand.picture, hand.bench.state.chosen_patch
    mask, light = patch.mask(picture.rows, picture.columns), decode(picture.samples, picture.encoding)
    assert hand.bench.patch_of_master() == master_figures(mask, light, picture.encoding)
    for exposure in (0.0, -1.0):
        hand.bench.set("input.exposure", exposure)
        hand.frames()
        found, chain = hand.bench.patch_of_rendition(hand.bench.state.slot(1)), hand.chain(1)
        wanted = rendition_figures(mask, ReferenceEngine().signal(picture, chain), chain)
        for name, value in asdict(wanted).items():
            assert getattr(found.figures, name) == pytest.approx(value), name
        assert asdict(found.roll_off) == pytest.approx(asdict(roll_off(mask, light, chain)))
        assert f"{wanted.nits['p50']:.2f}"[:4] in wording.patch_words(found)[0]


def test_a_patch_is_moved_chosen_given_a_kind_and_taken_away(hand):
    draw_patch(hand, (0.3, 0.4), (0.5, 0.8))
    before = hand.bench.state.chosen_patch.corners
    hand.drag("patch 0", (0.5, 0.5), (0.75, 0.5))
    after = hand.bench.state.chosen_patch.corners
    assert after[0][0] > before[0][0] + 0.02
    assert np.ptp([x for x, _ in after]) == pytest.approx(np.ptp([x for x, _ in before]))
    assert hand.bench.state.view.zoom is None
    hand.key("k")
    assert hand.bench.state.chosen_patch.kind == "skin"
    assert "BT.2408: light skin" in wording.master_patch_words(
        hand.bench.state.chosen_patch, hand.bench.patch_of_master()
    )[0]  # fmt: skip
    hand.key("c")
    assert hand.bench.state.chosen_patch is None
    assert hand.bench.patch_of_master() is None
    hand.move(5, 5)
    hand.click("patch 0")
    assert hand.bench.state.patch == 0
    hand.key("x")
    assert hand.bench.state.patches == ()


def test_the_actions_keep_a_patch_in_the_picture_and_its_name_its_own():
    state = patch_actions.add_patch(BenchState(), ((-0.1, 0.2), (0.4, 0.2), (0.4, 0.5)))
    assert state.chosen_patch == Patch("Patch 1", "custom", ((0.0, 0.2), (0.4, 0.2), (0.4, 0.5)))
    assert patch_actions.move_patch(state, 5.0, -5.0).chosen_patch.corners == ((0.6, 0.0), (1.0, 0.0), (1.0, 0.3))
    state = patch_actions.add_patch(state, ((0.1, 0.1), (0.2, 0.1), (0.2, 0.2)))
    assert patch_actions.rename_patch(state, " Face ").chosen_patch.name == "Face"
    with pytest.raises(WrongCall, match=r"^another patch is called 'Patch 1'; choose another name$"):
        patch_actions.rename_patch(state, "Patch 1")
    with pytest.raises(WrongCall, match=r"^a patch needs a name; type one$"):
        patch_actions.rename_patch(state, " ")


def click_on(hand, name, *shares):
    """Click on places of a widget, each 0..1 of its size."""
    for x, y in shares:
        place = hand.place(name)
        hand.move(place.left + x * place.width, place.top + y * place.height)
        for is_down in (True, False):
            imgui.get_io().add_mouse_button_event(0, is_down)
            hand.frames(1)
        hand.frames()


TRIANGLE = ((0.3, 0.3), (0.7, 0.35), (0.45, 0.8))


@pytest.mark.parametrize("end", ["first corner", "M"])
def test_clicks_mark_a_polygon_with_the_figures_of_what_is_inside(hand, end):
    hand.key("m")
    click_on(hand, "picture 2", *TRIANGLE)
    assert len(hand.bench.shown.corners) == 3
    assert hand.bench.state.patches == ()
    if end == "M":
        hand.key("m")
    else:
        click_on(hand, "picture 2", TRIANGLE[0])
    hand.move(5, 5)
    (patch,) = hand.bench.state.patches
    assert not hand.bench.shown.is_marking
    place, placement, picture = hand.place("picture 2"), hand.bench.placement, hand.picture
    wanted = [placement.to_picture(x * place.width, y * place.height) for x, y in TRIANGLE]
    found = [(x * picture.columns, y * picture.rows) for x, y in patch.corners]
    assert np.array(found) == pytest.approx(np.array(wanted), abs=0.5)
    mask, light = patch.mask(picture.rows, picture.columns), decode(picture.samples, picture.encoding)
    assert hand.bench.patch_of_master() == master_figures(mask, light, picture.encoding)
    box = np.ptp(np.array(found), axis=0).prod()
    assert 0.3 * box < mask.sum() < 0.6 * box, "it is not a triangle"


def test_a_polygon_is_taken_inside_and_not_beside(hand):
    hand.key("m")
    click_on(hand, "picture master", *TRIANGLE)
    hand.key("m")
    hand.bench.do(patch_actions.choose_patch, None)
    click_on(hand, "picture master", (0.33, 0.75))  # within its bounds, outside its outline
    assert hand.bench.state.patch is None
    click_on(hand, "picture master", (0.48, 0.5))
    assert hand.bench.state.patch == 0
    before = hand.bench.state.patches[0].corners
    hand.drag("picture master", (0.48, 0.5), (0.53, 0.55))
    after = hand.bench.state.patches[0].corners
    assert np.diff(np.array([before, after]), axis=0).min() > 0.01


def test_esc_leaves_a_polygon_and_two_corners_are_none(hand):
    hand.key("m")
    click_on(hand, "picture master", *TRIANGLE)
    hand.key("escape")
    hand.frames()
    assert (hand.bench.shown.is_marking, hand.bench.shown.corners, hand.bench.state.patches) == (False, (), ())
    hand.key("m")
    click_on(hand, "picture master", *TRIANGLE[:2])
    hand.key("m")
    assert (hand.bench.shown.is_marking, hand.bench.state.patches) == (False, ())


def test_name_and_kind_are_chosen_beside_the_patch(hand):
    draw_patch(hand, (0.3, 0.4), (0.5, 0.8))
    hand.type("patch name", "forehead")
    assert hand.bench.state.chosen_patch.name == "forehead"
    hand.click("patch kind")
    hand.click("patch kind=skin")
    assert hand.bench.state.chosen_patch.kind == "skin"
    draw_patch(hand, (0.6, 0.4), (0.7, 0.8))
    hand.type("patch name", "forehead")
    assert hand.bench.state.chosen_patch.name == "Patch 1"
    assert hand.bench.notice.text == "another patch is called 'forehead'; choose another name"


def test_a_patch_that_comes_back_by_an_undo_or_a_redo_is_the_chosen_one(hand):
    draw_patch(hand, (0.1, 0.4), (0.3, 0.8))
    draw_patch(hand, (0.5, 0.4), (0.7, 0.8))
    hand.key("x")
    assert hand.bench.state.chosen_patch is None
    hand.bench.undo()
    assert hand.bench.state.chosen_patch.name == "Patch 2"
    hand.bench.undo()
    hand.bench.redo()
    assert hand.bench.state.chosen_patch.name == "Patch 2"
    hand.key("k")
    assert [patch.kind for patch in hand.bench.state.patches] == ["custom", "skin"]


def test_patches_of_a_still_are_its_own_and_make_no_shot(hand, tmp_path, pictures, host):
    hand.bench.folder = tmp_path / "state"
    hand.bench.open(pictures / "master.dpx")
    draw_patch(hand, (0.3, 0.4), (0.5, 0.8))
    hand.key("k")
    sheet = hand.bench.state.sheet
    assert sheet.shots == ()
    assert sheet.masters[0].patches == hand.bench.state.patches
    hand.bench.save_as(tmp_path / "still.trims")
    hand.bench.undo()
    assert hand.bench.said == "undone: patch 'Patch 1'"
    hand.bench.undo()
    assert hand.bench.state.patches == ()
    hand.bench.redo()
    hand.bench.redo()
    hand.bench.end()
    saved = load(tmp_path / "still.trims")
    assert saved.shots == ()
    assert [(patch.name, patch.kind) for patch in saved.masters[0].patches] == [("Patch 1", "skin")]
    again = Bench(host, starter_renditions(), WISHES, tmp_path / "state")
    open_first(again, tmp_path / "still.trims")
    assert again.state.patches == saved.masters[0].patches
    again.end()


def test_a_sheet_of_a_still_that_has_a_shot_already_goes_on_with_it(hand, tmp_path, pictures):
    corners = ((0.1, 0.1), (0.4, 0.1), (0.4, 0.4))
    still = enter_master(pictures / "master.dpx", tmp_path, WISHES)
    save(TrimSheet((still,), shots=(Shot("1", 0, 0, patches=(Patch("face", "skin", corners),)),)), tmp_path / "a.trims")
    open_first(hand.bench, tmp_path / "a.trims")
    hand.frames(3)
    draw_patch(hand, (0.3, 0.4), (0.5, 0.8))
    assert [patch.name for patch in hand.bench.state.sheet.shot("1").patches] == ["face", "Patch 1"]
    assert hand.bench.state.sheet.masters[0].patches == ()
    hand.bench.end()


@pytest.mark.parametrize("count", [4, 8])
@pytest.mark.parametrize("size", [(640, 360), (640, 480), (1280, 720)], ids=str)
def test_name_and_kind_of_a_patch_are_seen_whole_in_a_small_window(hand, size, count):
    hand.bench.shown.panel = False
    hand.surface.resize(*size)
    for _ in range(count - 4):
        hand.key("a")
    hand.frames(3)
    draw_patch(hand, (0.7, 0.3), (0.95, 0.8))
    hand.key("k")
    hand.frames(2)
    tile = hand.place("picture master")
    name, kind = hand.place("patch name"), hand.place("patch kind")
    for field in (name, kind):
        assert tile.left <= field.left < field.right <= tile.right
        assert tile.top <= field.top < field.bottom <= tile.bottom
    widest = max(hand.app.ui.width_of(words) for words in KINDS.values())
    assert kind.width > widest + 1.2 * hand.app.ui.em  # with the arrow
    assert name.width > hand.app.ui.width_of("Patch 10")
    hand.click("patch kind")
    hand.click("patch kind=sky")
    assert hand.bench.state.chosen_patch.kind == "sky"
