"""The example operators, written against the public interface alone: published values outside it.

That each passes the check is in tests/parity/test_operators.py, beside the built-in ones.
"""

import importlib.util
import re
from pathlib import Path
from types import ModuleType

import numpy as np
import PyOpenColorIO as ocio
import pytest

from tonemap.anchors import neutral_result
from tonemap.encoding import Encoding, sdr_target
from tonemap.host import find_operators
from tonemap.rendition import Rendition, chain_of

FOLDER = Path(__file__).resolve().parents[2] / "demo" / "operators"
NAMES = sorted(path.stem for path in FOLDER.glob("*.glsl"))
HOST = find_operators([FOLDER])


def module(name: str) -> ModuleType:
    """Import an example as a module, to reach its functions."""
    spec = importlib.util.spec_from_file_location(name, FOLDER / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    found = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found


def grey_nits(name: str, levels: np.ndarray, target_nits: float = 100.0, **settings: float) -> np.ndarray:
    """Return what an example makes of greys, in cd/m2."""
    rendition = Rendition(name, name, "gamut_clip", settings, target=sdr_target(target_nits))
    return neutral_result(levels, chain_of(rendition, Encoding("linear", peak=1000.0), HOST))[1]


def test_every_example_is_found_and_none_refused():
    assert HOST.refused == []
    assert len(NAMES) >= 3
    assert set(NAMES) <= set(HOST.operators)


@pytest.mark.parametrize("name", NAMES)
def test_examples_import_the_public_interface_alone(name):
    """What an author may use: the operator module, arrays, colour science and tables; nothing of the host."""
    text = (FOLDER / f"{name}.py").read_text()
    used = set(re.findall(r"^(?:from|import) (tonemap[\w.]*)", text, re.MULTILINE))
    assert used <= {
        "tonemap.operator",
        "tonemap.arrays",
        "tonemap.colorimetry",
        "tonemap.transfer",
        "tonemap.table",
        "tonemap.cube",
    }


# ACES 2 tonescale.


def test_aces_2_tonescale_is_the_published_one_for_greys():
    """Against OpenColorIO's built-in ACES 2 output transform, SDR of 100 cd/m2: neutral in, luminance out."""
    scene = np.geomspace(0.002, 20.0, 60)
    config = ocio.Config.CreateRaw()
    transform = ocio.BuiltinTransform("ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - SDR-100nit-REC709_2.0")
    cpu = config.getProcessor(transform).getDefaultCPUProcessor()
    pixels = np.repeat(scene[:, np.newaxis], 3, axis=1).astype(np.float32)
    cpu.applyRGB(pixels)
    found = grey_nits("aces2_tonescale", scene / 0.18 * 26.0)
    np.testing.assert_allclose(found, 100.0 * pixels[:, 1], rtol=2e-3, atol=2e-3)


def test_aces_2_tonescale_puts_scene_grey_where_it_is_published():
    """Scene grey, 0.18, is rendered at 10 cd/m2 of a peak of 100: ACES 2 documentation, tonescale (from memory)."""
    assert grey_nits("aces2_tonescale", np.array([26.0])) == pytest.approx([10.0], abs=0.01)


# The curve of the ACES Reference Gamut Compression.


def test_channel_distance_has_the_published_curve():
    """Against OpenColorIO's fixed function, at the published limits, thresholds and power of ACES 1.3."""
    limits, thresholds, power = (1.147, 1.264, 1.312), (0.815, 0.803, 0.880), 1.2
    function = ocio.FixedFunctionTransform(ocio.FIXED_FUNCTION_ACES_GAMUT_COMP_13, [*limits, *thresholds, power])
    cpu = ocio.Config.CreateRaw().getProcessor(function).getDefaultCPUProcessor()
    colours = np.random.default_rng(3).uniform(-0.3, 1.0, (4000, 3)).astype(np.float32)
    colours = colours[colours.max(axis=1) > 0.2]
    expected = colours.copy()
    cpu.applyRGB(expected)
    example = module("channel_distance")
    largest = colours.max(axis=1, keepdims=True).astype(np.float64)
    scales = [example.scale_of(threshold, limit, power) for threshold, limit in zip(thresholds, limits, strict=True)]
    kept = np.stack(
        [
            example.compressed((largest[:, 0] - colours[:, i]) / largest[:, 0], thresholds[i], scales[i], power)
            for i in range(3)
        ],
        axis=1,
    )
    np.testing.assert_allclose(largest - kept * largest, expected, atol=3e-6)
    assert np.abs(expected - colours).max() > 0.05


# Three handles.


def test_three_handles_go_through_their_points_and_both_ends():
    levels = np.array([0.0, 4.0, 26.0, 203.0, 1000.0])
    found = grey_nits("three_handles", levels, shadow=3.0, grey=15.0, white=60.0)
    np.testing.assert_allclose(found, [0.0, 3.0, 15.0, 60.0, 100.0], rtol=1e-6, atol=1e-6)


def test_three_handles_have_the_slopes_of_the_paper():
    """Against SciPy's cubic Hermite spline with the same slopes, and its test of monotony on any handles."""
    from scipy.interpolate import CubicHermiteSpline

    example = module("three_handles")
    random = np.random.default_rng(5)
    for _ in range(200):
        x, y = np.sort(random.random(5)), np.sort(random.random(5))
        slopes = example.monotone_slopes(x, y)
        spline = CubicHermiteSpline(x, y, slopes)
        places = np.linspace(x[0], x[-1], 400)
        assert np.diff(spline(places)).min() >= -1e-12
        index = 2
        inside = np.linspace(x[index], x[index + 1], 20)
        own = example.piece(inside, x[index], x[index + 1], y[index], y[index + 1], slopes[index], slopes[index + 1])
        np.testing.assert_allclose(own, spline(inside), atol=1e-12)


def test_handles_that_cross_never_make_the_curve_fall():
    found = grey_nits("three_handles", np.geomspace(0.1, 1000.0, 500), shadow=20.0, grey=5.0, white=2.0)
    assert np.diff(found).min() >= -1e-9
