"""A picture against a profile: what passes, and what fails, where, by how much and on which frames."""

import json

import numpy as np
import pytest

from tonemap.encoding import Encoding, decode, sdr_target
from tonemap.measure.frame_ranges import FrameRanges
from tonemap.measure.gamut_share import measure_gamut
from tonemap.measure.legality import measure_legality
from tonemap.measure.light_levels import measure_light
from tonemap.measure.profile import Profile, load_profile
from tonemap.measure.profile_check import ProfileCheck, nearest_code_light
from tonemap.picture import Picture

PQ10 = Encoding("pq", "bt2020", "narrow", 10)
LINEAR = Encoding("linear", "bt2020")


def checked(profile, frames, encoding=PQ10):
    """Check frames of light, by number."""
    check = ProfileCheck(profile, encoding)
    for frame, light in frames.items():
        gamut = measure_gamut(light, profile.within, frame=frame) if profile.within else None
        check.add(measure_light(light, frame=frame), gamut)
    return check


def named(check, name):
    return next(item for item in check.checks if item.name == name)


def flat(nits, bright=None):
    light = np.full((4, 5, 3), nits)
    if bright:
        light[2, 3] = bright
    return light


def test_a_picture_within_all_limits_passes():
    check = checked(load_profile("hdr-1000-p3"), {1: flat(100.0, 900.0), 2: flat(50.0)})
    assert check.passes
    assert [item.sentence for item in check.checks] == [
        "transfer: pass, PQ (ST 2084) (limit: PQ (ST 2084))",
        "primaries: pass, BT.2020 (limit: BT.2020)",
        "signal range: pass, narrow (limit: narrow)",
        "bit depth: pass, 10 bits (limit: at least 10 bits)",
        "peak: pass, 900.0 cd/m2 (limit: 1000 cd/m2, or 1004.2, the light of the nearest 10-bit code)",
        "colour outside P3-D65: pass, 0 % (limit: 0 %)",
    ]


def test_a_peak_that_is_too_high_is_named_with_place_and_frames():
    frames = {number: flat(100.0, 1100.0 if 12 <= number <= 40 else None) for number in range(10, 90)}
    frames[77] = flat(100.0, 1204.3)
    check = checked(Profile("ours", "Ours", "hdr", peak=1000.0), frames)
    assert not check.passes
    peak = named(check, "peak")
    assert peak.sentence == (
        "peak: fail, 1204.3 cd/m2 (limit: 1000 cd/m2, or 1004.2, the light of the nearest 10-bit code) "
        "at frame 77, row 2, column 3; fails on 30 of 80 frames: 12-40, 77"
    )
    assert (peak.frame, peak.row, peak.column, peak.frames, peak.unit) == (77, 2, 3, "12-40, 77", "cd/m2")
    assert peak.excess == pytest.approx(204.3)


def test_frame_average_light_is_checked():
    check = checked(Profile("ours", "Ours", "hdr", max_fall=180.0), {1: flat(180.0), 2: flat(180.5), 3: flat(10.0)})
    assert [item.sentence for item in check.checks] == [
        "frame-average light: fail, 180.5 cd/m2 (limit: 180 cd/m2) at frame 2; fails on 1 of 3 frames: 2"
    ]
    assert checked(Profile("ours", "Ours", "hdr", max_fall=180.0), {1: flat(180.0)}).passes


def test_colour_outside_is_named_with_its_hue():
    profile = load_profile("hdr-1000-p3")
    check = checked(profile, {5: flat(100.0), 6: flat(100.0, (0.0, 100.0, 0.0)), 7: flat(100.0)})
    gamut = named(check, "gamut")
    assert gamut.sentence == (
        "colour outside P3-D65: fail, 5 % (limit: 0 %) at frame 6, row 2, column 3, "
        "farthest a green of 67.8 cd/m2, 0.0439 beyond in u'v'; fails on 1 of 3 frames: 6"
    )
    assert gamut.source == "common practice, no source"
    allowed = Profile("ours", "Ours", "hdr", within="p3-d65", outside_share=0.05)
    assert checked(allowed, {6: flat(100.0, (0.0, 100.0, 0.0))}).passes


def test_the_code_nearest_to_the_peak_is_allowed_and_the_next_is_not():
    """1000 cd/m2 is PQ code 722.6 in 10 bits: 723 (1004.2 cd/m2) is what a master at 1000 holds."""
    assert nearest_code_light(1000.0, PQ10) == pytest.approx(1004.2, abs=0.05)
    assert nearest_code_light(1000.0, LINEAR) == 1000.0
    assert nearest_code_light(1000.0, Encoding("hlg", "bt2020", "narrow", 10)) == pytest.approx(1000.0)
    profile = Profile("ours", "Ours", "hdr", peak=1000.0)
    for code, passes in ((723, True), (724, False)):
        light = decode(np.full((2, 2, 3), code, np.uint16), PQ10)
        assert checked(profile, {0: light}).passes == passes
        assert checked(profile, {0: light.astype(np.float32)}).passes == passes
    assert not checked(profile, {0: flat(1000.1)}, LINEAR).passes
    exact = checked(profile, {0: flat(1000.0)}, LINEAR)
    assert exact.passes
    assert named(exact, "peak").sentence == "peak: pass, 1000.0 cd/m2 (limit: 1000 cd/m2)"


@pytest.mark.parametrize(
    ("encoding", "failed"),
    [
        (PQ10, {}),
        (Encoding("hlg", "bt2020", "narrow", 10), {"transfer": "HLG (BT.2100)"}),
        (Encoding("pq", "p3-d65", "narrow", 12), {"primaries": "P3-D65"}),
        (Encoding("pq", "bt2020", "full", 12), {"range": "full"}),
        (Encoding("pq", "bt2020", "narrow", 8), {"bits": "8 bits"}),
        (
            LINEAR,
            {"transfer": "linear light", "range": "floating-point samples", "bits": "floating-point samples"},
        ),
    ],
)
def test_an_encoding_that_is_not_the_deliverys_fails(encoding, failed):
    check = checked(load_profile("hdr-1000-p3"), {0: flat(100.0)}, encoding)
    assert {item.name: item.measured for item in check.checks if item.status == "fail"} == failed
    assert check.passes == (not failed)


def test_the_display_of_an_sdr_encoding_is_checked():
    profile = load_profile("sdr-709-graded")
    assert named(ProfileCheck(profile, sdr_target()), "display_peak").status == "pass"
    assert named(ProfileCheck(profile, sdr_target(203.0)), "display_peak").sentence == (
        "peak of the display: fail, 203 cd/m2 (limit: 100 cd/m2)"
    )


def sdr_check(name, frames):
    profile = load_profile(name)
    check = ProfileCheck(profile, sdr_target())
    for frame, codes in frames.items():
        picture = Picture(codes, sdr_target())
        light = decode(codes, sdr_target())
        check.add(measure_light(light, frame=frame), None, measure_legality(picture, profile.legality))
    return check


def test_sdr_signal_is_checked_by_the_range_of_the_profile():
    codes = np.full((20, 50, 3), 500, np.uint16)
    codes[:, 25:, 0] = 980
    frames = {3: np.full((20, 50, 3), 500, np.uint16), 4: codes, 5: codes}
    graded, live = sdr_check("sdr-709-graded", frames), sdr_check("sdr-709-live", frames)
    assert live.passes
    # 500 + 480 x (10, 13, 15, 16) / 16 from column 25 on: 940 is passed at column 27, so on 23 of 50 columns.
    assert named(graded, "legality").sentence == (
        "signal outside the nominal range: fail, 46 % (limit: 1 %) at frame 4, row 0, column 28, "
        "worst R at 104.6 %, code 980; fails on 2 of 3 frames: 4-5"
    )
    assert named(graded, "reserved").status == "pass"


def test_a_reserved_code_fails_without_any_area():
    codes = np.full((20, 50, 3), 500, np.uint16)
    codes[3, 4, 1] = 1023
    check = sdr_check("sdr-709-live", {8: codes})
    assert named(check, "legality").status == "pass"
    assert named(check, "reserved").sentence == (
        "codes reserved for timing: fail, 1 sample (limit: none) at frame 8; fails on 1 of 1 frames: 8"
    )


def test_what_was_not_measured_neither_passes_nor_fails():
    check = ProfileCheck(load_profile("hdr-1000-p3"), PQ10)
    check.add(measure_light(flat(100.0)))
    assert named(check, "gamut").sentence == "colour outside P3-D65: not measured, nothing (limit: 0 %)"
    assert check.passes


def test_a_check_that_was_stopped_goes_on_from_its_file():
    profile = load_profile("hdr-1000-p3")
    frames = {number: flat(100.0, (0.0, 900.0 + 50.0 * number, 0.0)) for number in range(6)}
    once = checked(profile, frames)
    first = checked(profile, {number: frames[number] for number in (0, 1, 2)})
    resumed = ProfileCheck(profile, PQ10)
    resumed.resume(json.loads(json.dumps(first.to_dict())))
    for number in (3, 4, 5):
        light = frames[number]
        resumed.add(measure_light(light, frame=number), measure_gamut(light, "p3-d65", frame=number))
    assert resumed.checks == once.checks
    saved = json.loads(json.dumps([item.to_dict() for item in once.checks]))
    assert saved[4]["sentence"] == once.checks[4].sentence
    assert named(once, "peak").frames == "3-5"


def test_of_equal_frames_the_first_is_named():
    check = checked(Profile("ours", "Ours", "hdr", peak=1000.0), {4: flat(1200.0), 2: flat(1200.0), 3: flat(1200.0)})
    assert (named(check, "peak").frame, named(check, "peak").frames) == (2, "2-4")


@pytest.mark.parametrize("seed", range(8))
def test_ranges_hold_what_a_set_holds(seed):
    rng = np.random.default_rng(seed)
    numbers = rng.integers(0, 60, 40).tolist()
    ranges, other = FrameRanges(), FrameRanges()
    for number in numbers[:25]:
        ranges.add(number)
    for number in numbers[25:]:
        other.add(number)
    ranges.merge(other)
    held = [number for first, last in ranges.ranges for number in range(first, last + 1)]
    assert held == sorted(set(numbers))
    assert ranges.count == len(held)
    assert all(one[1] + 1 < other[0] for one, other in zip(ranges.ranges, ranges.ranges[1:], strict=False))
    assert FrameRanges(ranges.ranges).ranges == ranges.ranges


def test_ranges_read_as_text():
    assert FrameRanges().text == ""
    assert FrameRanges([(77, 77), (12, 40), (41, 41), (5, 5)]).text == "5, 12-41, 77"
    assert FrameRanges([(1, 3), (8, 9), (2, 8)]).text == "1-9"
