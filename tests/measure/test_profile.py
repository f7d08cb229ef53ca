"""Delivery profiles: the ones that are shipped, a user's own, and what is said of a wrong one."""

import json

import pytest

from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.profile import Profile, built_in_profiles, load_profile

HEAD = 'format = 1\nkind = "hdr"\n'


def test_generic_profiles_are_shipped():
    assert built_in_profiles() == ("hdr-1000-hlg", "hdr-1000-p3", "hdr-4000-p3", "sdr-709-graded", "sdr-709-live")


@pytest.mark.parametrize("name", built_in_profiles())
def test_every_shipped_profile_loads_and_says_where_its_limits_come_from(name):
    profile = load_profile(name)
    assert (profile.name, profile.kind) == (name, name[:3])
    assert profile.title
    assert profile.sources["signal"]
    assert (profile.peak is None) == (profile.kind == "sdr")
    assert json.loads(json.dumps(profile.to_dict()))["title"] == profile.title


def test_shipped_profiles_state_the_limits_of_their_names():
    hdr = load_profile("hdr-1000-p3")
    assert (hdr.peak, hdr.container, hdr.within, hdr.outside_share) == (1000.0, "bt2020", "p3-d65", 0.0)
    assert (hdr.transfers, hdr.signal_range, hdr.bits, hdr.max_fall) == (("pq",), "narrow", 10, None)
    assert hdr.sources["light"] == "common practice, no source"
    assert load_profile("hdr-4000-p3").peak == 4000.0
    assert load_profile("hdr-1000-hlg").transfers == ("hlg",)
    graded, live = load_profile("sdr-709-graded"), load_profile("sdr-709-live")
    assert (graded.legality, live.legality) == ("nominal", "preferred")
    assert graded.area_tolerance == live.area_tolerance == 0.01
    assert (graded.container, graded.display_peak, graded.signal_range) == ("bt709", 100.0, "narrow")


def test_a_users_profile_is_loaded_by_its_path(tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text(
        'format = 1\nkind = "hdr"\ntitle = "Ours"\n[light]\npeak = 600\nmax_fall = 180.5\n'
        '[colour]\nwithin = "bt709"\noutside_percent = 0.5\n[signal]\ntransfer = ["pq", "hlg"]\narea_percent = 2\n'
        '[sources]\nlight = "contract, page 3"\n'
    )
    assert load_profile(path) == load_profile(str(path))
    assert load_profile(path) == Profile(
        "ours",
        "Ours",
        "hdr",
        peak=600.0,
        max_fall=180.5,
        within="bt709",
        outside_share=0.005,
        transfers=("pq", "hlg"),
        area_tolerance=0.02,
        sources={"light": "contract, page 3"},
    )


def test_what_is_left_out_is_not_checked_but_an_hdr_peak_is_1000(tmp_path):
    path = tmp_path / "least.toml"
    path.write_text(HEAD)
    assert load_profile(path) == Profile(
        "least", "least", "hdr", peak=1000.0, sources={"light": "common practice, no source"}
    )
    path.write_text('format = 1\nkind = "sdr"\n')
    assert load_profile(path) == Profile("least", "least", "sdr")


WRONG = [
    ('format = 2\nkind = "hdr"', "format = 2 is not one that this version reads; write 1"),
    ("format = 1", 'the kind is missing; write kind = "hdr" or kind = "sdr"'),
    ('format = 1\nkind = "hrd"', "kind = 'hrd' is not known; did you mean 'hdr'?"),
    (HEAD + "titel = 3", "'titel' is not known; did you mean 'title'?"),
    (HEAD + "title = 3", "title = 3 is not text; put it in quotation marks"),
    (HEAD + "light = 3", "light = 3 is not a table; begin it with [light]"),
    (HEAD + "[light]\npeek = 1000", "light.peek is not known; did you mean 'peak'?"),
    (HEAD + "[light]\nnits = 1000", "light.nits is not known; choose one of max_fall, peak"),
    (HEAD + '[light]\npeak = "high"', "light.peak = 'high' is not a number; give one in 1..10000 cd/m2"),
    (HEAD + "[light]\npeak = true", "light.peak = True is not a number; give one in 1..10000 cd/m2"),
    (
        HEAD + "[light]\npeak = 20000",
        "light.peak = 20000 is outside 1..10000 cd/m2; choose a value in that range",
    ),
    (HEAD + "[light]\npeak = nan", "light.peak = nan is outside 1..10000 cd/m2; choose a value in that range"),
    (
        HEAD + "[colour]\noutside_percent = -1",
        "colour.outside_percent = -1 is outside 0..100 %; choose a value in that range",
    ),
    (HEAD + '[colour]\nwithin = "p3-d60"', "colour.within = 'p3-d60' is not known; did you mean 'p3-d65' or 'p3-dci'?"),
    (HEAD + "[colour]\ncontainer = 2020", "colour.container = 2020 is not text; put it in quotation marks"),
    (
        HEAD + '[signal]\ntransfer = "pq"',
        "signal.transfer = 'pq' is not a list of names; write for example [\"pq\"]",
    ),
    (HEAD + '[signal]\ntransfer = ["hgl"]', "signal.transfer = 'hgl' is not known; did you mean 'hlg'?"),
    (HEAD + '[signal]\nrange = "video"', "signal.range = 'video' is not known; choose one of full, narrow"),
    (HEAD + "[signal]\nbits = 9", "signal.bits = 9 is not a bit depth; choose one of 8, 10, 12, 16"),
    (HEAD + "[signal]\nbits = [10]", "signal.bits = [10] is not a bit depth; choose one of 8, 10, 12, 16"),
    (
        HEAD + '[signal]\nlegality = "nominel"',
        "signal.legality = 'nominel' is not known; did you mean 'nominal'?",
    ),
    ('formt = 1\nkind = "hdr"', "'formt' is not known; did you mean 'format'?"),
    ('kind = "hdr"', "the format is missing; write format = 1"),
    ('format = 1\nkinf = "hdr"', "'kinf' is not known; did you mean 'kind'?"),
    (HEAD + "[light]\npaek = 1000", "light.paek is not known; did you mean 'peak'?"),
    (HEAD + "[sources]\nlight = 3", "sources.light = 3 is not text; put it in quotation marks"),
]


@pytest.mark.parametrize(("text", "sentence"), WRONG)
def test_a_wrong_profile_is_refused_in_one_sentence(tmp_path, text, sentence):
    path = tmp_path / "ours.toml"
    path.write_text(text)
    with pytest.raises(WrongCall) as error:
        load_profile(path)
    assert str(error.value) == f"{path}: {sentence}"
    assert error.value.exit_status == 2


def test_a_file_that_is_not_toml_is_refused_with_the_line(tmp_path):
    path = tmp_path / "ours.toml"
    path.write_text("format = 1\nkind = hdr\n")
    with pytest.raises(WrongCall) as error:
        load_profile(path)
    assert str(error.value) == f"{path}: this is not TOML: Invalid value (at line 2, column 8); correct that line"


def test_a_file_that_cannot_be_read_is_named(tmp_path):
    with pytest.raises(TrimbenchError) as missing:
        load_profile(tmp_path / "none.toml")
    assert str(missing.value) == (
        f"{tmp_path / 'none.toml'}: can't be read: No such file or directory; check the name and its permissions"
    )
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(TrimbenchError) as no_text:
        load_profile(binary)
    assert str(no_text.value) == f"{binary}: this is not a text file in UTF-8; name a delivery profile"


def test_an_unknown_name_suggests_near_ones():
    with pytest.raises(WrongCall) as near:
        load_profile("hdr-1000-p4")
    assert str(near.value).startswith(
        "delivery profile 'hdr-1000-p4' is neither the path of a .toml file nor known; did you mean 'hdr-1000-p3'"
    )
    with pytest.raises(WrongCall) as far:
        load_profile("cinema")
    assert str(far.value) == (
        "delivery profile 'cinema' is neither the path of a .toml file nor known; "
        "choose one of hdr-1000-hlg, hdr-1000-p3, hdr-4000-p3, sdr-709-graded, sdr-709-live"
    )
