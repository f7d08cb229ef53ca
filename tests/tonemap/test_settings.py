"""Settings by their paths: what is changed, what is refused and in which words, what is read back."""

from dataclasses import fields

import pytest

from tonemap.cdl import Cdl
from tonemap.encoding import Encoding
from tonemap.errors import WrongCall
from tonemap.host import Host, find_operators
from tonemap.operator import GAMUT, TONE, Parameter
from tonemap.parity import parameter_sets
from tonemap.rendition import Rendition, chain_of
from tonemap.settings import (
    INPUT_PARAMETERS,
    OUTPUT_PARAMETERS,
    changed_settings,
    settings_of,
    with_setting,
)

HOST = find_operators()
RENDITION = Rendition("trial", "knee", "gamut_hue")


def changed(*changes: tuple[str, object], rendition: Rendition = RENDITION, host: Host = HOST) -> Rendition:
    for path, value in changes:
        rendition = with_setting(rendition, path, value, host)
    return rendition


def refusal(path: str, value: object) -> str:
    with pytest.raises(WrongCall) as fault:
        with_setting(RENDITION, path, value, HOST)
    assert fault.value.exit_status == 2
    return str(fault.value)


def test_settings_are_listed_in_the_order_of_the_chain():
    paths = list(settings_of(RENDITION, HOST))
    stages = [path.partition(".")[0] for path in paths]
    assert list(dict.fromkeys(stages)) == ["input", "tone", "gamut", "output", "target"]
    assert stages == sorted(stages, key=["input", "tone", "gamut", "output", "target"].index)
    assert [path for path in paths if path.startswith("tone.")] == [
        f"tone.{parameter.name}" for parameter in HOST.get("knee").parameters
    ]
    assert "target.range" in paths
    assert "target.signal_range" not in paths


def test_every_setting_of_every_operator_can_be_set_by_its_path():
    for name, installed in HOST.operators.items():
        kind = installed.operator.kind
        base = Rendition("trial", name) if kind == TONE else Rendition("trial", "hard_clip", name)
        for label, settings in parameter_sets(installed.operator).items():
            rendition = changed(*((f"{kind}.{key}", value) for key, value in settings.items()), rendition=base)
            listed = settings_of(rendition, HOST)
            assert {key: listed[f"{kind}.{key}"] for key in settings} == settings, (name, label)
            assert chain_of(rendition, Encoding("linear"), HOST)


def test_text_gives_the_same_as_numbers():
    for path, text, value in (
        ("tone.start", "55.5", 55.5),
        ("tone.application", "luminance", "luminance"),
        ("gamut.threshold", "0.7", 0.7),
        ("input.exposure", "-1.25", -1.25),
        ("output.saturation", "0.9", 0.9),
        ("output.slope", "1.1", (1.1, 1.1, 1.1)),
        ("output.offset", "0.1,0,-0.1", (0.1, 0.0, -0.1)),
        ("target.peak", "203", 203.0),
        ("target.bits", "12", 12),
        ("target.range", "full", "full"),
        ("target.primaries", "p3-d65", "p3-d65"),
    ):
        assert settings_of(changed((path, text)), HOST)[path] == value
        assert settings_of(changed((path, value)), HOST)[path] == value


def test_a_switch_is_set_by_on_and_off():
    rendition = Rendition("trial", "bt2390")
    assert settings_of(changed(("tone.adjust_knee", "on"), rendition=rendition), HOST)["tone.adjust_knee"] is True
    assert settings_of(changed(("tone.adjust_knee", "off"), rendition=rendition), HOST)["tone.adjust_knee"] is False


def test_setting_leaves_everything_else_and_the_given_rendition_alone():
    before = settings_of(RENDITION, HOST)
    after = settings_of(changed(("gamut.threshold", 0.6)), HOST)
    assert settings_of(RENDITION, HOST) == before
    assert {path for path in after if after[path] != before[path]} == {"gamut.threshold"}


def test_changed_settings_are_those_that_differ_from_the_defaults():
    assert changed_settings(RENDITION, HOST) == {}
    default = HOST.get("knee").parameters[0].default
    rendition = changed(("tone.start", default), ("input.exposure", -1.0), ("target.peak", 203.0))
    assert changed_settings(rendition, HOST) == {"input.exposure": -1.0, "target.peak": 203.0}


def test_what_is_listed_can_be_set_again():
    rendition = changed(
        ("tone.softness", 0.25), ("output.power", "1.1,1,0.9"), ("target.range", "full"), ("gamut.reach", 2.0)
    )
    again = changed(*changed_settings(rendition, HOST).items())
    assert settings_of(again, HOST) == settings_of(rendition, HOST)


def test_declared_input_and_output_parameters_are_the_fields_of_the_adjustments():
    assert [p.name for p in INPUT_PARAMETERS] == [item.name for item in fields(RENDITION.input)]
    assert [p.name for p in OUTPUT_PARAMETERS] == [item.name for item in fields(Cdl)]
    for parameter in INPUT_PARAMETERS:
        assert parameter.default == getattr(RENDITION.input, parameter.name)
    for parameter in OUTPUT_PARAMETERS:
        assert getattr(RENDITION.output, parameter.name) in (parameter.default, (parameter.default,) * 3)


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        ("tone.sotfness", 0.5, "operator 'knee' has no parameter 'sotfness'; did you mean 'softness'?"),
        ("tone.start", 4000.0, "operator 'knee': start = 4000 is outside 1..400 cd/m2; choose a value in that range"),
        ("tone.start", "high", "operator 'knee': start = 'high' is not a number; give one in 1..400 cd/m2"),
        ("tone.application", "hue", "operator 'knee': application = 'hue' is not an option; "),
        (
            "gamut.threshold",
            2.0,
            "operator 'gamut_hue': threshold = 2 is outside 0.5..0.98; choose a value in that range",
        ),
        ("input.exposure", 9.0, "input.exposure = 9 is outside -8..8 stops; choose a value in that range"),
        ("input.exposure", "up", "input.exposure = 'up' is not a number; give one in -8..8 stops"),
        ("input.exposur", 1.0, "setting 'input.exposur' is not known; did you mean 'input.exposure'"),
        ("output.slope", 5.0, "output.slope = 5 is outside 0..4; choose a value in that range"),
        ("output.slope", "1,2", "output.slope = 1,2 has 2 numbers; give one, or three as r,g,b"),
        ("output.slope", "1,2,x", "output.slope = 'x' is not a number; give one in 0..4"),
        ("output.saturation", "1,1,1", "output.saturation = '1,1,1' is not a number; give one in 0..4"),
        ("output.gamma", 1.0, "setting 'output.gamma' is not known; "),
        ("target.peak", "bright", "target.peak = bright is not a number; give one"),
        ("target.peak", 0.0, "peak = 0 is outside 1..10000 cd/m2; give the display's peak luminance"),
        ("target.nits", 100.0, "setting 'target.nits' is not known; "),
        ("target.signal_range", "full", "setting 'target.signal_range' is not known; "),
        ("target.primaries", "bt70", "primaries 'bt70' are not known; did you mean 'bt709'"),
        ("tome.start", 1.0, "setting 'tome.start' is not known; did you mean 'tone.start'"),
        ("tone", 1.0, "setting 'tone' is not known; "),
        ("tone.", 1.0, "setting 'tone.' is not known; "),
        ("", 1.0, "setting '' is not known; "),
    ],
)
def test_a_wrong_setting_is_refused_in_one_sentence(path, value, sentence):
    said = refusal(path, value)
    is_whole = not sentence.endswith(("; ", "'"))  # what near names follow depends on all that there are
    assert (said == sentence) if is_whole else said.startswith(sentence)


@pytest.mark.parametrize("value", [10.7, "10.7", "ten", None])
def test_bits_that_are_no_whole_number_are_refused(value):
    """A wrong value is refused, never rounded in silence."""
    assert "target.bits" in refusal("target.bits", value)


@pytest.mark.parametrize("path", ["target.peak", "target.black", "target.unit"])
def test_a_target_number_that_is_none_is_refused(path):
    assert refusal(path, None) == f"{path} = None is not a number; give one"


def test_an_unknown_operator_is_said_when_a_setting_is_made():
    with pytest.raises(WrongCall) as fault:
        with_setting(Rendition("trial", "kneee"), "tone.start", 1.0, HOST)
    assert str(fault.value) == "tone operator 'kneee' is not known; did you mean 'knee'?"
    with pytest.raises(WrongCall) as fault:
        with_setting(Rendition("trial", "knee", "knee"), "gamut.threshold", 0.6, HOST)
    assert str(fault.value).startswith("gamut operator 'knee' is not known; choose one of gamut_boundary, ")


def test_numbers_of_every_operator_take_their_ends_and_nothing_beyond():
    for installed in HOST.operators.values():
        operator = installed.operator
        base = Rendition("trial", operator.name) if operator.kind == TONE else Rendition("t", "knee", operator.name)
        assert operator.kind in (TONE, GAMUT)
        for parameter in (item for item in operator.parameters if isinstance(item, Parameter)):
            path = f"{operator.kind}.{parameter.name}"
            for end, beyond in ((parameter.minimum, -1e-6), (parameter.maximum, 1e-6)):
                assert settings_of(changed((path, end), rendition=base), HOST)[path] == end
                with pytest.raises(WrongCall):
                    changed((path, end + beyond * max(abs(end), 1.0)), rendition=base)
