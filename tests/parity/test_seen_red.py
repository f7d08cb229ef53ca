"""Parity has been seen red: one sign or constant of each operator's GLSL, changed on purpose, must make it fail.

The change is made in a copy of the file, which the host is given in the place of the operator's own.
"""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from tonemap.arrays import Array, Codes
from tonemap.encoding import quantise_signal
from tonemap.host import Host, find_operators
from tonemap.parity import Agreement, compare_chain, stress_pictures, trial_chains
from tonemap.picture import Picture
from tonemap.rendition import Chain
from viewer.engine import GpuEngine
from viewer.vectors.engine import VectorEngine

HOST = find_operators()

# The trial that shows it, what stands in the file, and what is put in its place.
CHANGES = {
    "bt2390": [
        ("away", "u = 1.0 - t;", "u = 1.0 + t;"),
        ("application intensity, away", "u = 1.0lf - t;", "u = 1.0lf + t;"),
        ("application luminance, away", "vec3(0.2627, 0.6780, 0.0593)", "vec3(0.2627, 0.6779, 0.0594)"),
    ],
    "bt2446_a": [
        ("default", "0.7399", "0.7299"),
        ("default", "luma_sdr - max(0.1 * cr, 0.0)", "luma_sdr + max(0.1 * cr, 0.0)"),
    ],
    "bt2446_c": [
        ("away", "mixed - crosstalk * total", "mixed + crosstalk * total"),
        ("default", "min(top_gain * curve, levels.target_peak)", "top_gain * curve"),
    ],
    "exponential": [("away", "-exp_minus_one(-rate * u)", "-exp_minus_one(-1.001 * rate * u)")],
    "gamut_boundary": [
        ("default", "0.54110764436544170", "0.54210764436544170"),
        ("away", "on_edge - back * ray", "on_edge + back * ray"),
    ],
    "gamut_clip": [("default", "0.0, levels.target_peak", "0.001, levels.target_peak")],
    "gamut_hue": [
        ("default", "chroma = cone_root - lightness", "chroma = cone_root - 0.999 * lightness"),
        ("away", "edge * (1.0 - remaining_room", "edge * (1.0 + remaining_room"),
    ],
    "hard_clip": [("away", "min(drive, ceiling)", "max(drive, ceiling)")],
    "knee": [
        ("default", "signal - (point + half_width)", "signal - (point - half_width)"),
        ("away", "(4.0 * half_width)", "(4.001 * half_width)"),
    ],
    "linear_scale": [("away", "desaturation);\n", "-desaturation);\n")],
    "logarithmic": [("away", "log_one_plus(bend * u)", "log_one_plus(1.001 * bend * u)")],
    "michaelis_menten": [("away", "scale * (response", "0.9999 * scale * (response")],
    "reinhard_extended": [("default", "1.0 + u / (span * span)", "1.0 - u / (span * span)")],
}


class SignalAlone:
    """An engine whose codes are made of its signal, so that one program a change is enough."""

    def __init__(self, engine: GpuEngine | VectorEngine) -> None:
        self.engine, self.name, self.title = engine, engine.name, engine.title

    def signal(self, picture: Picture, chain: Chain) -> Array:
        return self.engine.signal(picture, chain)

    def codes(self, picture: Picture, chain: Chain) -> Codes:
        return quantise_signal(np.nan_to_num(self.signal(picture, chain).astype(np.float64)), chain.rendition.target)


@pytest.fixture(scope="module")
def pictures() -> Mapping[str, Picture]:
    """Return a thin selection of every stress picture."""
    whole = stress_pictures(4_000)
    steps = {"ramp": (16, 8), "corners": (3, 24), "near black": (8, 10), "random": (1, 1), "odd": (1, 1)}
    return {
        name: Picture(picture.samples[:: steps[name][0], :: steps[name][1]].copy(), picture.encoding)
        for name, picture in whole.items()
    }


def compared(name: str, label: str, host: Host, pictures, reference, engine: GpuEngine | VectorEngine) -> Agreement:
    """Compare an engine with the reference as parity does, at one of its trials."""
    chain = dict(trial_chains(host.get(name), host))[label]
    return compare_chain(reference, SignalAlone(engine), pictures, chain)


def changed_host(name: str, old: str, new: str, folder: Path) -> Host:
    """Return the host with one operator's GLSL changed at one place (at every one, where it stands several times)."""
    installed = HOST.installed(name)
    text = installed.glsl_file.read_text()
    assert old in text, f"{installed.glsl_file} has changed; give tests/parity/test_seen_red.py another place"
    copy = folder / installed.glsl_file.name
    copy.write_text(text.replace(old, new))
    return HOST.with_operator(installed.operator, installed.python_file, copy)


def test_every_built_in_operator_has_a_change():
    assert set(CHANGES) == set(HOST.operators)


@pytest.mark.parametrize("name", HOST.operators)
def test_operators_pass_here_as_they_are(name, pictures, reference, engine):
    """Otherwise a failure below would say nothing."""
    for label in {label for label, _, _ in CHANGES[name]}:
        agreement = compared(name, label, HOST, pictures, reference, engine)
        assert agreement.passes, str(agreement)


@pytest.mark.parametrize(
    ("name", "label", "old", "new"),
    [
        pytest.param(name, *change, id=f"{name}-{number}")
        for name, changes in CHANGES.items()
        for number, change in enumerate(changes)
    ],
)
def test_a_change_of_one_sign_or_constant_is_found(name, label, old, new, tmp_path, pictures, reference, engine):
    agreement = compared(name, label, changed_host(name, old, new, tmp_path), pictures, reference, engine)
    assert not agreement.passes, f"'{new}' in the place of '{old}' was not found by {engine.title}: {agreement}"
