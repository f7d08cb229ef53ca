"""Flash caution on synthetic sequences, as numbers only: nothing here is ever shown on a screen."""

import json
from dataclasses import asdict

import numpy as np
import pytest

from demo.make_scene import FRAME_RATE
from tonemap.colorimetry import conversion_matrix, convert
from tonemap.encoding import Encoding, sdr_target
from tonemap.errors import TrimbenchError, WrongCall
from tonemap.measure.flash import CAUTION, NOTHING_FOUND, FlashMeter, reference_display
from tonemap.measure.flash_changes import LuminanceChanges, is_flash_step, redness

ROWS, COLUMNS = 36, 64


def frame(nits: float, area: float = 1.0, around: float = 10.0) -> np.ndarray:
    """Return a grey frame whose upper part has a level."""
    light = np.full((ROWS, COLUMNS, 3), around)
    light[: round(area * ROWS)] = nits
    return light


def square_wave(flashes: float, seconds: float, rate: float, high: float = 100.0, low: float = 10.0, area: float = 1.0):
    """Yield frames of a level that is high for half of each period, beginning dark."""
    for number in range(round(seconds * rate)):
        yield frame(high if int(2.0 * flashes * number / rate + 1e-9) % 2 else low, area)


def measured(frames, rate: float):
    meter = FlashMeter(rate)
    for light in frames:
        meter.add(light)
    return meter.report()


def red(nits: float, sort: str = "bt709") -> np.ndarray:
    """Return a frame of the pure red of some primaries with a luminance of about `nits`."""
    share = {"bt709": 0.2126, "bt2020": 0.2627}[sort]
    colour = convert(np.array([nits / share, 0.0, 0.0]), conversion_matrix(sort, "bt2020"))
    return np.ones((ROWS, COLUMNS, 3)) * colour


@pytest.mark.parametrize("rate", [24.0, 25.0, 29.97, 50.0, 60.0, 120.0])
def test_three_flashes_a_second_are_allowed_and_four_are_flagged(rate):
    """BT.1702-3: not more than three flashes in any second."""
    assert not measured(square_wave(3.0, 3.0, rate), rate).is_flagged
    found = measured(square_wave(4.0, 2.0, rate), rate)
    assert {span.kind for span in found.spans} == {"general"}
    assert found.spans[0].flashes in (3.5, 4.0)
    assert found.spans[0].area == 1.0


def test_a_burst_is_placed_in_time():
    """Four flashes in the third second of ten: flagged from their seventh change on, for less than a second."""
    rate = 24.0
    frames = [frame(10.0)] * 48 + list(square_wave(4.0, 1.0, rate)) + [frame(10.0)] * 168
    (span,) = measured(frames, rate).spans
    assert 48 + 18 <= span.first_frame <= 48 + 24
    assert span.last_frame <= 48 + 24 + 24
    assert span.start == pytest.approx(span.first_frame / rate)
    assert span.end == pytest.approx(span.last_frame / rate)


def test_single_double_and_triple_flashes_are_allowed():
    dark, bright = [frame(10.0)] * 2, [frame(200.0)] * 2
    for flashes in (1, 2, 3):
        assert not measured((dark + bright) * flashes + dark * 20, 24.0).is_flagged
    assert measured((dark + bright) * 4 + dark * 20, 24.0).is_flagged


@pytest.mark.parametrize(("area", "flagged"), [(0.2, False), (0.25, False), (0.3, True)])
def test_a_quarter_of_the_screen_is_allowed(area, flagged):
    """BT.1702-3: flashes that occur together may cover up to 25 % of the screen; 9 of 36 rows are just that."""
    assert measured(square_wave(5.0, 2.0, 30.0, area=area), 30.0).is_flagged is flagged


@pytest.mark.parametrize(
    ("low", "high", "flagged"),
    [
        (50.0, 69.0, False),
        (50.0, 71.0, True),
        (159.0, 178.0, False),
        (200.0, 222.0, False),
        (200.0, 227.0, True),
        (800.0, 880.0, False),
        (800.0, 910.0, True),
    ],
)
def test_contrast_below_the_threshold_is_allowed(low, high, flagged):
    """20 cd/m2 below 160 cd/m2, and a Michelson contrast of 1/17 above, where 200 asks for 225 and 800 for 900."""
    assert measured(square_wave(5.0, 2.0, 30.0, high=high, low=low), 30.0).is_flagged is flagged


def test_the_two_rules_meet_at_160_and_180():
    assert is_flash_step(np.array([160.0, 159.999, 160.0]), np.array([180.0, 179.999, 179.99])).tolist() == [
        True,
        True,
        False,
    ]


def test_slow_changes_and_a_cut_are_allowed():
    seconds = np.arange(240) / 24.0
    for period in (1.0, 2.0, 5.0):
        wave = 100.0 + 90.0 * np.sin(2.0 * np.pi * seconds / period)
        assert not measured((frame(float(nits)) for nits in wave), 24.0).is_flagged
    assert not measured([frame(5.0)] * 30 + [frame(500.0)] * 30, 24.0).is_flagged


def test_a_fast_fade_counts_like_a_cut():
    """A sine of 5 flashes a second reaches its turning points over several frames."""
    wave = 100.0 + 90.0 * np.sin(2.0 * np.pi * 5.0 * np.arange(120) / 60.0)
    assert measured((frame(float(nits)) for nits in wave), 60.0).is_flagged


def test_small_ripples_on_the_way_are_not_changes():
    changes = LuminanceChanges()
    levels = [10.0, 40.0, 35.0, 60.0, 50.0, 100.0, 95.0, 10.0]
    found = [int(changes.step(np.full((1, 3), level))[0]) for level in levels]
    assert found == [0, 1, 0, 0, 0, 0, 0, -1]


def test_fine_patterns_vanish_in_the_spatial_mean():
    """A checkerboard of single pixels turned about in every frame has a constant mean."""
    board = np.indices((144, 256)).sum(axis=0)[..., np.newaxis] % 2 * np.ones(3)
    assert not measured((200.0 * np.abs(board - number % 2) for number in range(48)), 24.0).is_flagged


def test_halves_that_swap_flash_twice_a_second_not_four_times():
    def swapped(number):
        light = frame(100.0, 0.5)
        return light if number // 6 % 2 else light[::-1]

    assert not measured((swapped(number) for number in range(96)), 24.0).is_flagged


def test_flashes_that_wander_are_found_together():
    """Each flash lights another third of the screen: no place flashes often, the screen does."""

    def lit(number):
        light = np.full((ROWS, COLUMNS, 3), 10.0)
        flash, on = divmod(number, 6)
        if on >= 3:
            light[12 * (flash % 3) : 12 * (flash % 3) + 12] = 200.0
        return light

    assert measured((lit(number) for number in range(96)), 30.0).is_flagged


def out_of_step(number: int) -> np.ndarray:
    """Return a frame of five bands that flash five times a second at 60 frames a second, each a frame after another."""
    light = np.full((ROWS, COLUMNS, 3), 10.0)
    for band in range(5):
        if (number - band) // 6 % 2:
            light[7 * band : 7 * band + 7] = 100.0
    return light


def test_flashes_out_of_step_are_found_by_place():
    """No frame changes more than a fifth of the screen, but each place flashes five times a second."""
    (span,) = measured((out_of_step(number) for number in range(120)), 60.0).spans
    assert span.area == pytest.approx(35 / 36)


@pytest.mark.parametrize("sort", ["bt709", "bt2020"])
def test_saturated_red_counts_below_the_luminance_step(sort):
    """WCAG 2.2: to or from R / (R + G + B) of 0.8, by more than 0.2 in u'v'; here at 15 cd/m2 against grey of 15."""
    frames = [red(15.0, sort) if number // 3 % 2 else frame(15.0) for number in range(72)]
    found = measured(frames, 24.0)
    assert {span.kind for span in found.spans} == {"red"}
    slow = [red(15.0, sort) if number // 6 % 2 else frame(15.0) for number in range(72)]
    assert not measured(slow, 24.0).is_flagged


def test_other_colours_and_pale_red_are_no_red_flashes():
    for colour in ([5.0, 20.0, 5.0], [5.0, 5.0, 60.0], [24.0, 12.0, 12.0]):
        light = np.ones((ROWS, COLUMNS, 3)) * np.array(colour)
        frames = [light if number // 3 % 2 else frame(15.0) for number in range(72)]
        assert not measured(frames, 24.0).is_flagged


def test_noise_in_black_is_no_red_flash():
    rng = np.random.default_rng(1702)
    frames = (rng.uniform(0.0, 0.3, (ROWS, COLUMNS, 3)) * rng.uniform(0.0, 1.0, 3) for _ in range(72))
    assert not measured(frames, 24.0).is_flagged


def test_redness_of_primaries():
    """CIE 1976 u'v' of the BT.709 red is 0.4507, 0.5229, and of D65 0.1978, 0.4683; the veil moves it a little."""
    pure = convert(np.array([[1e5, 0.0, 0.0]]), conversion_matrix("bt709", "bt2020"))
    share, place = redness(pure)
    assert share[0] == pytest.approx(1.0, abs=1e-4)
    np.testing.assert_allclose(place[0], [0.4507, 0.5229], atol=2e-4)
    assert redness(np.zeros((1, 3)))[0][0] == pytest.approx(1 / 3)


def test_sdr_is_judged_on_a_display_of_200_and_hlg_of_1000():
    """BT.1702-3: a flash of 10 % of an SDR signal near white is above 20 cd/m2 at 200, not at 100."""
    assert (reference_display(sdr_target()).peak, reference_display(sdr_target(100.0, 0.1)).black) == (200.0, 0.0)
    assert reference_display(Encoding("hlg", peak=600.0)).peak == 1000.0
    assert reference_display(Encoding("pq", peak=4000.0)) == Encoding("pq", peak=4000.0)


def test_the_demo_scene_is_not_flagged(demo_frame, demo_frame_opposite):
    """Jumping between the two ends of its motion six times a second moves more than the scene itself does."""
    frames = [demo_frame, demo_frame, demo_frame_opposite, demo_frame_opposite] * 8
    assert not np.array_equal(demo_frame, demo_frame_opposite)
    assert not measured(frames, FRAME_RATE).is_flagged


def test_memory_and_saved_state_do_not_grow():
    meter = FlashMeter(24.0)
    sizes = []
    for number, light in enumerate(square_wave(5.0, 20.0, 24.0)):
        meter.add(light)
        if number in (120, 479):
            sizes.append(len(json.dumps(meter.to_dict())))
    assert sizes[1] < 1.1 * sizes[0]


def test_a_meter_resumed_from_json_goes_on_as_if_never_stopped():
    reds = (red(15.0) if number // 6 % 2 else frame(15.0) for number in range(90))
    frames = [*square_wave(4.0, 2.0, 60.0), *reds, *(out_of_step(number) for number in range(90))]
    whole = FlashMeter(60.0)
    parted = FlashMeter(60.0)
    for number, light in enumerate(frames):
        whole.add(light)
        if number % 7 == 3:
            parted = FlashMeter.from_dict(json.loads(json.dumps(parted.to_dict())))
        parted.add(light)
    assert asdict(parted.report()) == asdict(whole.report())
    assert {span.kind for span in whole.report().spans} == {"general", "red"}


def test_a_skipped_frame_takes_its_time():
    """Three flashes, a second without a readable frame, three more: never more than three within a second."""
    burst = list(square_wave(6.0, 0.5, 24.0))
    with_gap, without = FlashMeter(24.0), FlashMeter(24.0)
    for light in burst:
        with_gap.add(light)
        without.add(light)
    for _ in range(24):
        with_gap.skip()
    for light in burst:
        with_gap.add(light)
        without.add(light)
    assert with_gap.report().frames == 48
    assert not with_gap.report().is_flagged
    assert without.report().is_flagged


def test_small_and_large_pictures_give_the_same():
    for shape in ((10, 10), (90, 160)):
        waves = (np.full((*shape, 3), 100.0 if number // 3 % 2 else 10.0) for number in range(48))
        assert measured(waves, 24.0).spans[0].area == 1.0


def test_report_says_what_it_is_not():
    quiet, loud = measured([frame(10.0)] * 3, 24.0), measured(square_wave(5.0, 2.0, 24.0), 24.0)
    assert (quiet.sentence, loud.sentence) == (NOTHING_FOUND, CAUTION)
    assert CAUTION == (
        "Possible flashing; have it checked by a certified method. This is a caution, not a certificate: delivery "
        "needs the authorised test of the territory."
    )
    assert "no certificate" in NOTHING_FOUND


def test_wrong_rate_and_broken_state_are_refused_in_one_sentence():
    with pytest.raises(WrongCall) as refused:
        FlashMeter(0.0)
    assert str(refused.value) == "rate = 0 is outside 1..1000 frames a second; give the rate of the sequence"
    with pytest.raises(TrimbenchError) as refused:
        FlashMeter.from_dict({"rate": 24.0})
    assert str(refused.value) == "the flash meter's saved state is not readable (KeyError('frames')); start again"
