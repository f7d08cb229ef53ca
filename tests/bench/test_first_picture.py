"""The first pictures of a master: there at once, near what follows; and a card that has no room for what follows."""

import numpy as np
import pytest

from tests.bench.conftest import write_picture
from tonemap.signal_range import quantise
from tonemap.transfer import pq_eotf_inverse
from viewer.bench import pyramid
from viewer.gl.texture import Texture

ROWS, COLUMNS = 720, 1280


@pytest.fixture(scope="module")
def smooth(tmp_path_factory):
    """Return a master without fine detail, of which a few samples under a pixel say all."""
    y, x = np.mgrid[0:ROWS, 0:COLUMNS]
    light = 200.0 * (1.2 + np.sin(x / 90.0) * np.cos(y / 70.0))[..., np.newaxis] * [1.0, 0.8, 0.6]
    codes = quantise(pq_eotf_inverse(light), 10, "full")
    return write_picture(tmp_path_factory.mktemp("smooth") / "smooth.dpx", codes << 6, "uint16", oiio__BitsPerSample=10)


def test_a_still_is_seen_in_the_first_frame_and_exact_when_it_rests(hand, smooth):
    hand.bench.open(smooth)
    hand.app.frame()
    assert not hand.app.tiles.pyramid.is_whole
    first = hand.surface.codes().astype(int)
    hand.settle()
    assert hand.app.tiles.pyramid.is_whole
    assert not hand.app.tiles.pyramid._samples._textures, "a still needs its samples no more"
    exact = hand.surface.codes().astype(int)
    for key in (None, *hand.bench.state.keys):
        place = hand.place("picture master" if key is None else f"picture {key}")
        part = np.s_[place.top : place.bottom, place.left : place.right]
        assert np.ptp(exact[part]) > 300
        assert np.abs(first[part] - exact[part]).max() <= 8


def test_a_card_without_room_for_the_light_says_so_and_the_master_before_comes_back(hand, smooth, monkeypatch):
    from OpenGL.error import GLError

    def without_room(internal_format, columns, rows):
        if columns == COLUMNS:
            raise GLError(0x0505)  # out of memory
        return Texture(internal_format, columns, rows)

    hand.settle()
    before = hand.tile(1)
    monkeypatch.setattr(pyramid, "Texture", without_room)
    hand.bench.open(smooth)
    hand.settle()
    assert hand.bench.notice.text == (
        f"{smooth}: the card has no room for a picture of {COLUMNS} x {ROWS}; close other programs or scale it"
    )
    assert hand.bench.state.master.path.name == "master.dpx"
    assert (hand.tile(1) == before).all()
