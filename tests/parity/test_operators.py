"""Parity of every operator that the host finds, at the bar of tonemap/parity.py. No list to edit."""

from dataclasses import replace

import numpy as np
import pytest

from tonemap.host import find_operators
from tonemap.operator import Parameter
from tonemap.parity import compare_chain, parameter_sets, stress_pictures, trial_chains
from tonemap.picture import Picture
from tonemap.settings import with_setting

HOST = find_operators()
TRIALS = [
    pytest.param(chain, id=f"{name}-{label}")
    for name in HOST.operators
    for label, chain in trial_chains(HOST.get(name), HOST)
]


@pytest.fixture(scope="module")
def pictures() -> dict[str, Picture]:
    return dict(stress_pictures())


def test_every_operator_is_found_and_none_is_refused():
    assert HOST.refused == []
    assert len(HOST.operators) >= 13


@pytest.mark.parametrize("chain", TRIALS)
def test_operator_agrees_with_the_reference(chain, pictures, reference, engines):
    for engine in engines:
        agreement = compare_chain(reference, engine, pictures, chain)
        assert agreement.passes, f"{engine.main}: {agreement}"


def test_both_mains_give_the_same_picture(pictures, host, engines):
    fragment, compute = engines
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
    base = next(chain for label, chain in trial_chains(operator, host) if label == "away")
    for parameter in operator.parameters:
        kept = dict(parameter_sets(operator)["away"])
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
