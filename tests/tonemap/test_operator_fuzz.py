"""The door, fuzzed: whatever an author declares or a user gives is taken and works, or is refused in one sentence."""

import dataclasses
import math
import re
import textwrap
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonemap.declaration import check_declaration
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.glsl_words import KEYWORDS, RESERVED
from tonemap.host import checked_value, evaluate_parameters, find_operators, glsl_arguments
from tonemap.operator import Choice, Levels, Operator, Parameter, Switch

HOST = find_operators()
LEVELS = Levels(0.0, 1000.0, 0.0, 100.0)

names = st.one_of(
    st.from_regex(r"[a-z][a-z0-9_]{0,8}", fullmatch=True),
    st.sampled_from(["light", "levels", "volume", "gl_x", "a__b", "", "Knee", "9a", "naïve", "x y"]),
)
numbers = st.one_of(st.floats(-1e4, 1e4), st.sampled_from([math.nan, math.inf, -math.inf, 0.0, 1e-40, 1e39]))
values = st.one_of(numbers, st.integers(), st.booleans(), st.none(), st.text(max_size=6), st.just([1.0]), names)

anything = st.one_of(values, st.sampled_from([1j, (), {}, {"a": 1}, ["a"], ("slope",), np.float32(0.5), np.nan]))
own_names = st.from_regex(r"[a-z][a-z0-9]{0,6}", fullmatch=True).filter(
    lambda name: name not in {"light", "levels", "volume"} | KEYWORDS | RESERVED
)
words = st.sampled_from(["Wärme", "of the light.", "x" * 500])


@st.composite
def sound_parameters(draw: st.DrawFn, name: str) -> Parameter | Choice | Switch:
    """Draw a parameter with nothing wrong."""
    sort = draw(st.sampled_from([Parameter, Choice, Switch]))
    if sort is Switch:
        return Switch(name=name, default=draw(st.booleans()), help=draw(words))
    if sort is Choice:
        options = draw(st.dictionaries(own_names, words, min_size=1, max_size=3))
        return Choice(name=name, default=draw(st.sampled_from(sorted(options))), options=options, help=draw(words))
    scale: Any = draw(st.sampled_from(["linear", "log", "stops"]))
    minimum = draw(st.floats(1e-3, 1e4) if scale == "log" else st.floats(-1e4, 1e4))
    maximum = minimum + draw(st.floats(1e-2, 1e4))
    inside = st.floats(minimum, maximum)
    return Parameter(
        name=name,
        unit=draw(st.sampled_from(["", "cd/m²", "stops"])),
        default=draw(inside),
        minimum=minimum,
        maximum=maximum,
        help=draw(words),
        scale=scale,
        neutral=draw(st.one_of(st.none(), inside)),
    )


@st.composite
def sound_declarations(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a declaration with nothing wrong."""
    own = draw(st.lists(own_names, min_size=1, max_size=7, unique=True))
    return {
        "name": own[0],
        "title": draw(words),
        "kind": draw(st.sampled_from(["tone", "gamut"])),
        "source": draw(words),
        "interface_version": 1,
        "parameters": tuple(draw(sound_parameters(name)) for name in own[1:5]),
        "needs": draw(st.sampled_from([(), ("peak_nits",), ("median_nits", "average_nits")])),
        "derived": tuple(own[5:6]),
        "tables": tuple(own[6:7]),
    }


@st.composite
def spoilt_declarations(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a declaration of which one thing is anything at all, an attribute or what a parameter says."""
    declared = draw(sound_declarations())
    if declared["parameters"] and draw(st.booleans()):
        first, *others = declared["parameters"]
        role = draw(st.sampled_from([field.name for field in dataclasses.fields(first)]))
        return {**declared, "parameters": (dataclasses.replace(first, **{role: draw(anything)}), *others)}
    return {**declared, draw(st.sampled_from(sorted(declared))): draw(anything)}


def check_sentence(fault: TrimbenchError, names: str = "") -> None:
    """Fail unless a fault is one sentence, with the name in it that is asked for."""
    text = str(fault)
    assert 8 < len(text) < 400
    assert "\n" not in text
    assert "Traceback" not in text
    assert names in text


def operator_of(declared: dict[str, Any]) -> Operator:
    def apply(self: Operator, light: np.ndarray, p: Any) -> np.ndarray:
        return light

    def derive(self: Operator, p: Any) -> dict[str, float]:
        return dict.fromkeys(self.derived, 1.0)

    def tabulate(self: Operator, p: Any) -> dict[str, np.ndarray]:
        return {name: np.array([0.0, 1.0]) for name in self.tables}

    members = {**declared, "apply": apply, "derive": derive, "tabulate": tabulate}
    return type("Tried", (Operator,), members)()


@settings(max_examples=200)
@given(sound_declarations())
def test_a_sound_declaration_is_taken_and_works(declared):
    operator = operator_of(declared)
    check_declaration(operator)
    check_works(operator)


@settings(max_examples=600)
@given(spoilt_declarations())
def test_a_declaration_works_or_is_refused_in_one_sentence(declared):
    operator = operator_of(declared)
    try:
        check_declaration(operator)
    except TrimbenchError as fault:
        check_sentence(fault)
        return
    check_works(operator)


def check_works(operator: Operator) -> None:
    """Fail unless what is made of a declaration is sound: values, arguments in their order, and words."""
    evaluated = evaluate_parameters(operator, {}, LEVELS)
    arguments = glsl_arguments(operator, evaluated)
    assert list(arguments) == [
        *(parameter.name for parameter in operator.parameters), *operator.needs, *operator.derived, *operator.tables
    ]  # fmt: skip
    for kind, value in arguments.values():
        assert type(value) is {"float": float, "int": int, "bool": bool, "sampler2D": np.ndarray}[kind]
        assert kind != "float" or np.isfinite(np.float32(value))
    for parameter in operator.parameters:
        assert checked_value(operator, parameter.name, parameter.default) == parameter.default
        assert f"{parameter.range_text} {parameter.help}".isprintable()


@settings(max_examples=400)
@given(st.data())
def test_any_value_of_any_parameter_is_in_its_range_or_refused(data):
    operator = HOST.get(data.draw(st.sampled_from(sorted(HOST.operators))))
    known = [parameter.name for parameter in operator.parameters]
    name = data.draw(st.one_of(st.sampled_from(known), names) if known else names)
    value = data.draw(values)
    volume = chain_volume() if operator.kind == "gamut" else None
    try:
        evaluated = evaluate_parameters(operator, {name: value}, LEVELS, volume)
    except WrongCall as fault:
        check_sentence(fault, operator.name)
        return
    parameter = next(item for item in operator.parameters if item.name == name)
    result = getattr(evaluated, name)
    if isinstance(parameter, Parameter):
        low, high = np.float32(parameter.minimum), np.float32(parameter.maximum)
        assert low <= result <= high
    elif isinstance(parameter, Choice):
        assert result in parameter.options
    else:
        assert isinstance(result, bool)
    for kind, number in glsl_arguments(operator, evaluated).values():
        assert kind != "float" or np.isfinite(np.float32(number))


def chain_volume() -> Any:
    from tonemap.encoding import Encoding
    from tonemap.rendition import Rendition, chain_of

    return chain_of(Rendition("any", "linear_scale"), Encoding("linear"), HOST).volume


@settings(max_examples=60)
@given(level=st.floats(0.0, 1.0), black=st.floats(0.0, 0.5), peak=st.floats(1.0, 4000.0), data=st.data())
def test_every_operator_is_finite_at_any_levels_and_settings(level, black, peak, data):
    """Light that decode can give, any levels of master and target, and any settings in their ranges."""
    operator = HOST.get(data.draw(st.sampled_from(sorted(HOST.operators))))
    chosen: dict[str, Any] = {}
    for parameter in operator.parameters:
        if isinstance(parameter, Parameter):
            chosen[parameter.name] = data.draw(st.floats(parameter.minimum, parameter.maximum))
        elif isinstance(parameter, Choice):
            chosen[parameter.name] = data.draw(st.sampled_from(sorted(parameter.options)))
        else:
            chosen[parameter.name] = data.draw(st.booleans())
    levels = Levels(0.01 * black, peak * (1.0 + 9.0 * level), black * min(1.0, 0.01 * peak), peak)
    volume = chain_volume() if operator.kind == "gamut" else None
    try:
        evaluated = evaluate_parameters(operator, chosen, levels, volume)
    except WrongCall as fault:
        check_sentence(fault)
        return
    light = np.concatenate([np.zeros((1, 3)), np.random.default_rng(1).random((64, 3)) ** 4 * 10_000.0])
    result = operator.apply(light, evaluated)
    assert np.isfinite(result).all()
    greys = operator.apply(np.repeat(np.geomspace(1e-3, 1e4, 50)[:, np.newaxis], 3, axis=1), evaluated)
    assert greys.max() <= levels.target_peak * (1.0 + 1e-6)


BROKEN = {
    "bad_import": ("import no_such_module", r"No module named .no_such_module. \(.*bad_import\.py:1\)"),
    "bad_syntax": ("def (:", r"bad_syntax\.py.*(invalid syntax|SyntaxError)"),
    "bad_exit": ("raise SystemExit(3)", r"bad_exit\.py.*SystemExit"),
    "bad_version": ("{head}\n    interface_version = 7\n{apply}", r"was made for operator interface 7"),
    "bad_kind": ("{head}\n    kind = 'look'\n{apply}", r"its kind 'look' is neither 'tone' nor 'gamut'"),
    "bad_nothing": ("x = 1", r"bad_nothing"),
    "bad_parameters": ("{head}\n    parameters = ('slope')\n{apply}", r"its parameters are not a tuple"),
    "bad_apply": ("{head}", r"it has no apply method"),
}
HEAD = """
from tonemap.operator import Operator

class Bad(Operator):
    interface_version = 1
    name, title, kind, source = "{name}", "Bad", "tone", "a test"
"""
APPLY = "    def apply(self, light, p):\n        return light\n"


@pytest.mark.parametrize("name", BROKEN)
def test_each_kind_of_broken_file_costs_only_itself_and_is_one_sentence(name, tmp_path: Path):
    text, sentence = BROKEN[name]
    text = text.replace("{head}", HEAD.replace("{name}", name)).replace("{apply}", APPLY)
    (tmp_path / f"{name}.py").write_text(textwrap.dedent(text))
    (tmp_path / f"{name}.glsl").write_text(f"vec3 {name}(vec3 light, Levels levels) {{ return light; }}\n")
    host = find_operators([tmp_path])
    with pytest.raises(TrimbenchError) as caught:
        host.get(name)
    check_sentence(caught.value)
    assert re.search(sentence, str(caught.value)), caught.value
    assert host.get("knee").name == "knee"
    assert name not in host.operators
