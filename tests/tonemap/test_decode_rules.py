"""The one place where non-finite and negative light are treated: decode, for every encoding and every bit pattern."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tonemap.colorimetry import PRIMARIES, conversion_matrix, convert
from tonemap.encoding import LIGHT_CEILING, TRANSFERS, Encoding, decode, encode, signal_to_light
from tonemap.signal_range import BIT_DEPTHS, RANGES, expand, quantise

STEADY = settings(max_examples=120, derandomize=True, database=None)

NASTY = np.array(
    [
        np.nan,
        np.inf,
        -np.inf,
        -0.0,
        1e-45,
        -1e-45,
        1.2e-38,
        3.4e38,
        -3.4e38,
        65504.0,
        65520.0,
        -65504.0,
        5.0,
        1.0,
        -1.0,
    ],
    np.float32,
)

# 0, or from a fifteenth of a 16-bit code upwards, dark signals as often as bright ones: further down, HLG's guard
# against dividing by black takes over.
SIGNAL = st.one_of(st.just(0.0), st.floats(1e-6, 1.0), st.floats(-6.0, 0.0).map(lambda power: 10.0**power))


def encodings(transfers=tuple(TRANSFERS)):
    """Return encodings as a user may state them: every transfer, all primaries that it admits, any display."""
    return st.builds(
        lambda transfer, primaries, peak, contrast, unit: Encoding(
            transfer,
            "bt2020" if transfer == "hlg" else primaries,
            peak=peak,
            black=peak * contrast,
            unit=unit,
        ),
        transfer=st.sampled_from(transfers),
        primaries=st.sampled_from(sorted(PRIMARIES)),
        peak=st.sampled_from([1.0, 48.0, 100.0, 203.0, 400.0, 1000.0, 2000.0, 4000.0, 10000.0]),
        contrast=st.sampled_from([0.0, 5e-6, 1e-3, 0.01]),
        unit=st.sampled_from([1e-3, 1.0, 100.0, 10000.0]),
    )


def patterns(pixels=8):
    """Return arrays of arbitrary float32 bit patterns, each channel swapped for a nasty one at times."""
    plain = st.binary(min_size=12 * pixels, max_size=12 * pixels).map(lambda raw: np.frombuffer(raw, np.float32))
    chosen = st.lists(st.integers(0, 2 * len(NASTY) - 1), min_size=3 * pixels, max_size=3 * pixels)

    def mixed(pair):
        samples, picks = pair[0].copy(), np.array(pair[1])
        nasty = picks < len(NASTY)
        samples[nasty] = NASTY[picks[nasty]]
        return samples.reshape(pixels, 3)

    return st.tuples(plain, chosen).map(mixed)


@settings(STEADY, max_examples=400)
@given(samples=patterns(), encoding=encodings())
def test_decoded_light_is_finite_and_within_0_and_the_ceiling(samples, encoding):
    light = decode(samples, encoding)
    assert light.dtype == np.float64
    assert light.shape == samples.shape
    assert np.all(np.isfinite(light))
    assert light.min() >= 0.0
    assert light.max() <= LIGHT_CEILING


@pytest.mark.parametrize("transfer", TRANSFERS)
@pytest.mark.parametrize("peak", [1.0, 100.0, 1000.0, 10000.0])
def test_every_triple_of_nasty_values_decodes_to_finite_light(transfer, peak):
    grid = np.stack(np.meshgrid(NASTY, NASTY, NASTY, indexing="ij"), axis=-1)
    light = decode(grid, Encoding(transfer, peak=peak, black=0.001))
    assert light.shape == grid.shape
    assert np.all((light >= 0.0) & (light <= LIGHT_CEILING))


@pytest.mark.parametrize("dtype", [np.float16, np.float32, np.float64])
def test_linear_light_follows_the_rule_to_the_letter(dtype):
    samples = np.array([[np.nan, np.inf, -np.inf], [-5.0, 65504.0, 0.25], [-0.0, np.nan, 100.0]], dtype)
    assert decode(samples, Encoding("linear")).tolist() == [
        [0.0, 65504.0, 0.0],
        [0.0, 65504.0, 0.25],
        [0.0, 0.0, 100.0],
    ]


def test_light_above_the_ceiling_is_read_as_the_ceiling():
    samples = np.array([65505.0, 1e10, 3.4e38], np.float32)
    assert decode(samples, Encoding("linear")).tolist() == [LIGHT_CEILING] * 3
    assert decode(np.array([655.05, 1e10, 600.0]), Encoding("linear", unit=100.0)).tolist() == [
        65504.0,
        65504.0,
        60000.0,
    ]


def test_the_ceiling_is_in_nits_whatever_the_unit_of_a_linear_file():
    """A unit below 1 cd/m2 leaves infinity and the ceiling where they are."""
    light = decode(np.array([np.inf, 1e9, 100.0]), Encoding("linear", unit=0.01))
    np.testing.assert_allclose(light, [LIGHT_CEILING, LIGHT_CEILING, 1.0], rtol=1e-12)


@pytest.mark.parametrize("transfer", TRANSFERS)
@pytest.mark.parametrize("peak", [100.0, 1000.0, 4000.0])
def test_infinity_is_as_bright_as_the_transfer_goes(transfer, peak):
    """Three channels of +Inf: the ceiling, but for PQ, which ends at 10 000 cd/m2."""
    light = decode(np.full(3, np.inf), Encoding(transfer, peak=peak))
    np.testing.assert_allclose(light, 10000.0 if transfer == "pq" else LIGHT_CEILING, rtol=1e-12)


@pytest.mark.parametrize("transfer", TRANSFERS)
def test_nan_and_minus_infinity_decode_like_signal_0(transfer):
    """And only in their own channel: a lost sample doesn't take its neighbours along."""
    encoding = Encoding(transfer, black=0.01)
    lost = decode(np.array([[np.nan, 0.5, 0.75], [0.5, -np.inf, 0.75]]), encoding)
    assert np.array_equal(lost, decode(np.array([[0.0, 0.5, 0.75], [0.5, 0.0, 0.75]]), encoding))


def test_light_outside_bt2020_becomes_0_in_that_channel_alone():
    """Pure AP0 green lies outside BT.2020 in red and blue."""
    samples = np.array([0.0, 100.0, 0.0])
    unclipped = convert(samples, conversion_matrix("ap0", "bt2020"))
    assert unclipped.min() < -1.0
    assert np.array_equal(decode(samples, Encoding("linear", "ap0")), np.maximum(unclipped, 0.0))


@pytest.mark.parametrize("primaries", sorted(PRIMARIES))
@pytest.mark.parametrize("transfer", TRANSFERS)
def test_a_darker_display_channel_is_never_decoded_brighter(transfer, primaries):
    """Greys: monotone over twice the signal range, so that clipping doesn't fold a bright pixel over."""
    if transfer == "hlg":
        primaries = "bt2020"
    greys = np.repeat(np.linspace(-0.5, 20.0, 2051)[:, np.newaxis], 3, axis=1)
    light = decode(greys, Encoding(transfer, primaries))
    assert np.all(np.diff(light, axis=0) >= -1e-12 * light[1:])


@pytest.mark.parametrize("signal_range", RANGES)
@pytest.mark.parametrize("bits", BIT_DEPTHS)
@STEADY
@given(data=st.data(), encoding=encodings())
def test_integer_decode_is_the_float_decode_of_the_expanded_signal(bits, signal_range, data, encoding):
    raw = data.draw(st.lists(st.integers(0, 2**bits - 1), min_size=24, max_size=24))
    codes = np.array(raw, np.uint8 if bits == 8 else np.uint16).reshape(8, 3)
    integer = Encoding(
        encoding.transfer, encoding.primaries, signal_range, bits, encoding.peak, encoding.black, encoding.unit
    )
    assert np.array_equal(decode(codes, integer), decode(expand(codes, bits, signal_range), encoding))


@settings(STEADY, max_examples=300)
@given(data=st.data(), encoding=encodings())
def test_encode_inverts_decode_in_the_range_of_every_encoding(data, encoding):
    """Signals 0..1 whose light BT.2020 can hold; a grey is always among them.

    In light, relative to the pixel's brightest channel, worst measured: 9.4e-13 (PQ near black), 4e-15 for the others.
    In signal, with BT.2020 primaries, where no matrix mixes a dark channel with a bright one: 2.7e-14 from 1 % up.
    """
    values = data.draw(st.lists(SIGNAL, min_size=22, max_size=22))
    signal = np.array([*values[:21], values[21], values[21], values[21]]).reshape(8, 3)
    if encoding.transfer == "srgb":  # between the two breaks that IEC 61966-2-1 prints the curves don't meet
        signal[np.abs(signal - 0.04045) < 1e-6] = 0.0404
    own = signal_to_light(signal, encoding)
    held = convert(own, conversion_matrix(encoding.primaries, "bt2020"))
    inside = np.all((held >= 0.0) & (held <= LIGHT_CEILING), axis=1)
    signal, own = signal[inside], own[inside]
    back = convert(decode(signal, encoding), conversion_matrix("bt2020", encoding.primaries))
    coded = encode(back, encoding)
    brightest = np.abs(own).max(axis=1, keepdims=True)
    assert np.all(np.abs(signal_to_light(coded, encoding) - own) <= 1e-11 * brightest)
    if encoding.primaries == "bt2020":
        np.testing.assert_allclose(np.where(signal >= 0.01, coded, signal), signal, rtol=0, atol=2e-13)


@pytest.mark.parametrize("signal_range", RANGES)
@pytest.mark.parametrize("bits", BIT_DEPTHS)
@pytest.mark.parametrize("transfer", sorted(set(TRANSFERS) - {"linear"}))
def test_every_nominal_code_value_survives_decode_and_encode(transfer, bits, signal_range):
    """Greys and, beside a bright channel, dark ones, with the light of a reference display: not one code may move."""
    encoding = Encoding(transfer, "bt2020", signal_range, bits, peak=1000.0)
    scale = 2 ** (bits - 8)
    codes = np.arange(16 * scale, 235 * scale + 1) if signal_range == "narrow" else np.arange(2**bits)
    codes = codes.astype(np.uint16)
    grey = np.stack([codes, codes, codes], axis=-1)
    mixed = np.stack([codes, codes[::-1], np.full_like(codes, codes[len(codes) // 2])], axis=-1)
    for picture in (grey, mixed):
        assert np.array_equal(quantise(encode(decode(picture, encoding), encoding), bits, signal_range), picture)


def test_encode_clips_to_0_and_1():
    target = Encoding("bt1886", "bt709", peak=100.0, black=0.1)
    assert encode(np.array([0.0, 0.05, 200.0]), target).tolist() == [0.0, 0.0, 1.0]
