"""Planes of a movie on the card: chroma brought to every pixel there gives what the reference makes of the picture."""

import numpy as np
import pytest

from tests.render.conftest import HOST
from tonemap.encoding import Encoding, quantise_signal
from tonemap.media.master import open_master
from tonemap.media.movie_output import codec_for
from tonemap.media.planes import Coding, Planes
from tonemap.reference import ReferenceEngine
from tonemap.render.forms import rendered_by
from tonemap.render.movie_output import MovieOutput
from tonemap.render.programme import MasterProgramme
from tonemap.rendition import Rendition, chain_of
from viewer.engine import MAIN_COMPUTE, MAIN_FRAGMENT, GpuEngine
from viewer.vectors.engine import VectorEngine

PQ = Encoding("pq", "bt2020")
CODINGS = [
    Coding(10, "narrow", "bt2020", (2, 2), "topleft"),
    Coding(10, "narrow", "bt2020", (2, 2), "left"),
    Coding(12, "narrow", "bt2020", (2, 1), "left"),
    Coding(10, "full", "bt709", (1, 1)),
    Coding(10, "narrow"),
]
ROWS, COLUMNS = 270, 480


def planes_of(coding: Coding) -> Planes:
    """Return ramps and soft colours, with noise of a few codes."""
    random = np.random.default_rng(3)
    top = 1 << coding.bits
    across, down = coding.subsampling
    luma = np.linspace(0.07, 0.75, COLUMNS) * top + random.normal(0.0, 0.004 * top, (ROWS, COLUMNS))
    shape = (-(-ROWS // down), -(-COLUMNS // across)) if coding.matrix else (ROWS, COLUMNS)
    others = [
        (0.5 if coding.matrix else 0.4) * top + random.normal(0.0, 0.02 * top, shape) + place for place in (0.0, 9.0)
    ]
    one, two, three = (np.clip(plane, 0, top - 1).astype(np.uint16) for plane in (luma, *others))
    return Planes((one, two, three), coding)


@pytest.mark.parametrize("main", [MAIN_COMPUTE, MAIN_FRAGMENT, "cpu"])
@pytest.mark.parametrize("coding", CODINGS, ids=lambda coding: coding.title)
def test_planes_on_the_card_meet_the_bar_against_the_reference(coding, main):
    """The bar of parity: fewer than 100 of a million codes differ, by one at most."""
    planes, engine = planes_of(coding), VectorEngine() if main == "cpu" else GpuEngine(main)
    chain = chain_of(Rendition("EETF", "bt2390", "gamut_clip"), PQ, HOST)
    exact = ReferenceEngine().signal(planes.picture(PQ), chain)
    assert engine.takes(planes, "codes")
    steps = np.abs(engine.rendered(planes, chain, "codes").astype(int) - quantise_signal(exact, chain.rendition.target))
    assert steps.max() <= 1
    assert 1e6 * (steps > 0).mean() < 100
    np.testing.assert_allclose(engine.rendered(planes, chain, "signal"), exact, atol=2e-4)
    engine.close()


def test_a_movies_planes_go_to_the_card_as_they_are(film, tmp_path, monkeypatch):
    programme = MasterProgramme(open_master(film.path), Rendition("EETF", "bt2390", "gamut_clip"), HOST)
    path = tmp_path / "o.mov"
    output = MovieOutput(path, codec_for(path, None), programme)
    engine = GpuEngine()
    monkeypatch.setattr(Planes, "picture", None)  # no picture is made of them on the way
    frame = next(programme.frames([3]))
    found = rendered_by(engine, frame, programme.chain_at(3), "codes")
    monkeypatch.undo()
    exact = ReferenceEngine().codes(frame.picture, programme.chain_at(3))
    steps = np.abs(found.astype(int) - exact)
    assert steps.max() <= 1
    assert 1e6 * (steps > 0).mean() < 100
    output.close()
    engine.close()
