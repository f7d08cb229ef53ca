"""Narrow and full range against Recommendation ITU-R BT.2100-3 (Table 9), BT.709-6 (item 5.4), EBU R 103 v3.0."""

import numpy as np
import pytest

from tonemap.errors import WrongCall
from tonemap.signal_range import BIT_DEPTHS, RANGES, expand, quantise, scale_and_offset

ALL = [(bits, signal_range) for bits in BIT_DEPTHS for signal_range in RANGES]

# Bits, black, white, 50 %, 75 % in narrow range, 50 % in full range: from BT.2100-3, Table 9 (10 and 12 bits) and
# BT.709-6, item 5.4 (8 bits); black and white are printed, the rest and the 16-bit row are computed from the formula.
LEVELS = [
    (8, 16, 235, 126, 180, 128),
    (10, 64, 940, 502, 721, 512),
    (12, 256, 3760, 2008, 2884, 2048),
    (16, 4096, 60160, 32128, 46144, 32768),
]

# EBU R 103 v3.0, Table 1, as printed: bits, preferred minimum and maximum, which it calls -5 % and 105 %.
R103 = [(8, 5, 246), (10, 20, 984), (12, 80, 3936), (16, 1280, 62976)]


@pytest.mark.parametrize(("bits", "black", "white", "half", "three_quarters", "full_half"), LEVELS)
def test_code_values_match_bt2100_table_9(bits, black, white, half, three_quarters, full_half):
    signal = np.array([0.0, 1.0, 0.5, 0.75])
    assert quantise(signal, bits, "narrow").tolist() == [black, white, half, three_quarters]
    assert quantise(signal[:3], bits, "full").tolist() == [0, 2**bits - 1, full_half]


@pytest.mark.parametrize(("bits", "lowest", "highest"), R103)
def test_preferred_range_of_ebu_r103_is_5_percent_beyond_nominal(bits, lowest, highest):
    """Exactly -5.023 % and 105.023 % (computed), at every bit depth but for the rounding of the limits."""
    signal = expand(np.array([lowest, highest], np.uint16), bits, "narrow")
    np.testing.assert_allclose(signal, [-0.05023, 1.05023], rtol=0, atol=5e-6)


@pytest.mark.parametrize(("bits", "signal_range"), ALL)
def test_every_code_value_survives_expand_and_quantise(bits, signal_range):
    codes = np.arange(2**bits, dtype=np.uint16)
    signal = expand(codes, bits, signal_range)
    assert signal.dtype == np.float64
    back = quantise(signal, bits, signal_range)
    assert back.dtype == np.uint16
    assert np.array_equal(back, codes)


@pytest.mark.parametrize(("bits", "signal_range"), ALL)
def test_every_code_value_survives_in_float32(bits, signal_range):
    codes = np.arange(2**bits, dtype=np.uint16)
    signal = expand(codes.astype(np.float32), bits, signal_range)
    assert signal.dtype == np.float32
    assert np.array_equal(quantise(signal, bits, signal_range), codes)


@pytest.mark.parametrize(("bits", "signal_range"), ALL)
def test_half_a_code_is_rounded_away_from_zero(bits, signal_range):
    """BT.2100-3, Table 9, note: Round(x) = Sign(x) Floor(|x| + 0.5); half-even would lose every second one."""
    scale, offset = scale_and_offset(bits, signal_range)
    codes = np.arange(2**bits - 1)
    signal = (codes + 0.5 - offset) / scale
    exact = signal * scale + offset == codes + 0.5  # the halves that float64 can state
    assert np.count_nonzero(exact) > 0.5 * len(codes)
    assert np.array_equal(quantise(signal[exact], bits, signal_range), codes[exact] + 1)


def test_three_eighths_is_393_in_10_bits_where_half_even_gives_392(colour):
    """0.375 * 876 + 64 = 392.5, exactly; colour-science rounds half to even."""
    assert int(quantise(np.array(0.375), 10, "narrow")) == 393
    assert int(colour.models.full_to_legal(0.375, 10, in_int=False, out_int=True)) == 392


@pytest.mark.parametrize("bits", BIT_DEPTHS)
def test_narrow_range_matches_colour_science(colour, bits):
    """Worst measured: 2.2e-16 for expansion; code values are equal, for no random signal lies at a half."""
    codes = np.arange(2**bits, dtype=np.uint16)
    theirs = colour.models.legal_to_full(codes.astype(np.int64), bits, in_int=True, out_int=False)
    np.testing.assert_allclose(expand(codes, bits, "narrow"), theirs, rtol=0, atol=1e-15)
    signal = np.random.default_rng(103).random(5000)
    assert np.array_equal(
        quantise(signal, bits, "narrow"), colour.models.full_to_legal(signal, bits, in_int=False, out_int=True)
    )


@pytest.mark.parametrize("bits", BIT_DEPTHS)
def test_narrow_range_keeps_what_lies_beyond_nominal_as_far_as_codes_exist(bits):
    top = 2**bits - 1
    assert quantise(np.array([-10.0, 10.0]), bits, "narrow").tolist() == [0, top]
    assert quantise(np.array([-10.0, 1.001, 10.0]), bits, "full").tolist() == [0, top, top]
    # 10 % beyond black lies above code 0 nowhere (-16 / 219 is -7.3 %), 5 % does.
    assert quantise(np.array([-0.1]), bits, "narrow").tolist() == [0]
    assert 0 < int(quantise(np.array(-0.05), bits, "narrow")) < 16 * 2 ** (bits - 8)
    assert 235 * 2 ** (bits - 8) < int(quantise(np.array(1.05), bits, "narrow")) < top


@pytest.mark.parametrize("shape", [(), (3,), (5, 3), (2, 4, 3)])
@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_quantise_and_expand_keep_the_shape(shape, dtype):
    codes = quantise(np.full(shape, 0.75, dtype), 10, "narrow")
    assert np.shape(codes) == shape
    assert codes.dtype == np.uint16
    assert np.shape(expand(codes, 10, "narrow")) == shape
    assert np.shape(expand(codes.astype(dtype), 10, "narrow")) == shape


def test_8_bit_samples_expand_without_overflow():
    """Files hand 8-bit samples on as uint8: 0 - 16 must not wrap."""
    signal = expand(np.array([0, 16, 235, 255], np.uint8), 8, "narrow")
    np.testing.assert_allclose(signal, [-16.0 / 219.0, 0.0, 1.0, 239.0 / 219.0], rtol=1e-15)


def test_unknown_bits_and_ranges_are_refused_in_a_sentence():
    with pytest.raises(WrongCall) as bits:
        scale_and_offset(9, "narrow")
    assert str(bits.value) == "9 bits are not supported; choose one of 8, 10, 12, 16"
    with pytest.raises(WrongCall) as near:
        scale_and_offset(10, "fulll")
    assert str(near.value) == "signal range 'fulll' is not known; did you mean 'full'?"
    with pytest.raises(WrongCall) as far:
        scale_and_offset(10, "video")
    assert str(far.value) == "signal range 'video' is not known; choose one of full, narrow"
