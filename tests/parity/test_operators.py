"""Every operator that the host finds, and the examples in demo/operators, by `trimbench operators check`.

The command holds both mains and the cpu engine to the bar of tonemap/parity.py, and the operator to those of
tonemap/operator_check.py, at every set of parameters. No list to edit.
"""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tonemap.host import find_operators
from tonemap.operator import Parameter
from tonemap.parity import parameter_sets, stress_pictures, trial_chains
from tonemap.picture import Picture
from tonemap.settings import with_setting
from viewer.commands import main

HOST = find_operators()
EXAMPLES = Path(__file__).resolve().parents[2] / "demo" / "operators"
CHECKED = [
    *(pytest.param(name, [], 1_000_000, id=name) for name in HOST.operators),
    *(
        pytest.param(path.stem, ["--operators", str(EXAMPLES)], 100_000, id=path.stem)
        for path in sorted(EXAMPLES.glob("*.glsl"))
    ),
]
SANITY = ["finite", "black to black", "monotone", "within the peak", "neutral stays neutral", "continuous"]
ENGINES = ["parity, fragment", "parity, compute", "parity, cpu", "finite in GLSL"]


@pytest.fixture(scope="module")
def pictures() -> dict[str, Picture]:
    return dict(stress_pictures())


def test_every_operator_is_found_and_none_is_refused():
    assert HOST.refused == []
    assert len(HOST.operators) >= 13


@pytest.mark.parametrize(("name", "words", "pixels"), CHECKED)
def test_the_check_passes(name, words, pixels, capsys):
    status = main(["operators", "check", name, *words, "--pixels", str(pixels)])
    printed = capsys.readouterr()
    lines = printed.out.splitlines()
    passed = [line[8:30].strip() for line in lines if line.startswith("  pass  ")]
    assert (status, passed, printed.err) == (0, [*SANITY, *ENGINES], ""), printed.out
    assert not [line for line in lines if "FAIL" in line]
    assert lines[-1] == "every operator passes"
    for speed in ("reference", "gpu fragment", "gpu compute", "cpu"):
        assert re.search(rf"^        speed, {speed} +\d+ ms for a UHD frame", printed.out, re.MULTILINE)


def test_both_mains_give_the_same_picture(pictures, host, engines):
    fragment, compute = engines["fragment"], engines["compute"]
    picture = pictures["corners"]
    for name in host.operators:
        chain = next(chain for label, chain in trial_chains(host.get(name), host) if label == "away")
        first, second = fragment.signal(picture, chain), compute.signal(picture, chain)
        assert np.abs(first - second).max() <= 2e-6, name


@pytest.mark.parametrize("name", HOST.operators)
def test_every_parameter_changes_the_picture(name, host, reference, engine, pictures):
    """A parameter that is declared but not connected would pass every comparison; here it must move both engines."""
    operator = host.get(name)
    small = Picture(pictures["random"].samples[:40], pictures["random"].encoding)
    chains = dict(trial_chains(operator, host))
    state = "switched, away" if "switched, away" in chains else "away"
    base = chains[state]
    for parameter in operator.parameters:
        kept = dict(parameter_sets(operator)[state])
        if isinstance(parameter, Parameter):
            other = 0.5 * (float(kept[parameter.name]) + parameter.minimum)
        elif hasattr(parameter, "options"):
            other = next(option for option in parameter.options if option != parameter.default)
        else:
            other = not kept[parameter.name]
        rendition = with_setting(base.rendition, f"{operator.kind}.{parameter.name}", other, host)
        changed = replace(base, rendition=rendition)
        for which in (reference, engine):
            before, after = which.signal(small, base), which.signal(small, changed)
            assert np.abs(before - after).max() > 1e-4, f"{which.name}: {parameter.name} does nothing"
