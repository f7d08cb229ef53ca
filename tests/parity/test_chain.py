"""Parity of the rest of the chain: decode of every encoding, input adjustments, targets, CDL and quantisation."""

from dataclasses import replace

import numpy as np
import pytest

from tonemap.adjustments import InputAdjustments
from tonemap.cdl import Cdl
from tonemap.encoding import TRANSFERS, Encoding
from tonemap.parity import compare, compare_chain, stress_pictures
from tonemap.picture import Picture
from tonemap.rendition import Rendition, chain_of

CODED = [
    Encoding(transfer, primaries, signal_range, bits)
    for transfer in TRANSFERS
    for primaries, signal_range, bits in (("bt2020", "narrow", 10), ("bt2020", "full", 12), ("p3-d65", "full", 16))
    if transfer != "hlg" or primaries == "bt2020"
] + [Encoding("pq", "ap1", "full", 16), Encoding("pq", "p3-dci", "narrow", 12), Encoding("pq", "ap0", "full", 12)]
RENDITION = Rendition("trial", "reinhard_extended", "gamut_clip")


@pytest.mark.parametrize("encoding", CODED, ids=lambda encoding: encoding.title)
def test_decode_of_code_values_agrees(encoding, host, reference, engine):
    random = np.random.default_rng(3)
    samples = random.integers(0, 2**encoding.bits, (300, 1000, 3)).astype(np.uint16)
    picture = Picture(samples, replace(encoding, unit=2000.0) if encoding.transfer == "linear" else encoding)
    agreement = compare(reference, engine, picture, chain_of(RENDITION, picture.encoding, host))
    assert agreement.passes, str(agreement)


@pytest.mark.parametrize("transfer", TRANSFERS)
@pytest.mark.parametrize("black", [0.0, 0.05])
def test_decode_of_odd_samples_agrees(transfer, black, host, reference, engine):
    picture = Picture(stress_pictures(1000)["odd"].samples, Encoding(transfer, black=black))
    agreement = compare(reference, engine, picture, chain_of(RENDITION, picture.encoding, host))
    assert agreement.passes, str(agreement)


@pytest.mark.parametrize(
    "adjustments",
    [
        InputAdjustments(exposure=1.7),
        InputAdjustments(exposure=-2.3),
        InputAdjustments(contrast=1.6, pivot=40.0),
        InputAdjustments(contrast=0.6),
        InputAdjustments(saturation=1.8),
        InputAdjustments(saturation=0.0),
        InputAdjustments(0.7, 1.2, 10.0, 0.8),
    ],
    ids=str,
)
def test_input_adjustments_agree(adjustments, host, reference, engine):
    chain = chain_of(replace(RENDITION, input=adjustments), Encoding("linear"), host)
    agreement = compare_chain(reference, engine, stress_pictures(200_000), chain)
    assert agreement.passes, str(agreement)


TARGETS = [
    Encoding("bt1886", "bt709", "narrow", 10, peak=100.0, black=0.1),
    Encoding("bt1886", "bt2020", "full", 10, peak=203.0),
    Encoding("gamma2.2", "p3-d65", "full", 10, peak=120.0),
    Encoding("gamma2.6", "p3-dci", "full", 10, peak=48.0),
    Encoding("srgb", "bt709", "full", 10, peak=100.0),
    Encoding("pq", "p3-d65", "narrow", 10, peak=600.0),
    Encoding("hlg", "bt2020", "narrow", 10, peak=1000.0),
]


@pytest.mark.parametrize("target", TARGETS, ids=lambda target: target.title)
def test_targets_agree(target, host, reference, engine):
    chain = chain_of(replace(RENDITION, target=target), Encoding("linear", peak=4000.0), host)
    agreement = compare_chain(reference, engine, stress_pictures(200_000), chain)
    assert agreement.passes, str(agreement)


CDLS = [
    Cdl(slope=(1.2, 1.0, 0.8), offset=(0.05, -0.02, 0.0), power=(1.1, 0.9, 1.0), saturation=0.8),
    Cdl(slope=(0.9, 0.95, 1.1), offset=(0.02, 0.01, 0.03), power=(0.8, 1.2, 1.3), saturation=1.2),
]


@pytest.mark.parametrize("cdl", CDLS, ids=str)
def test_output_adjustments_agree(cdl, host, reference, engine):
    chain = chain_of(replace(RENDITION, output=cdl), Encoding("linear"), host)
    agreement = compare_chain(reference, engine, stress_pictures(200_000), chain)
    assert agreement.passes, str(agreement)


@pytest.mark.parametrize("bits", [8, 10, 12, 16])
@pytest.mark.parametrize("signal_range", ["narrow", "full"])
def test_codes_are_the_rounded_signal(bits, signal_range, host, engine):
    """The card's quantiser is checked on the card's own signal, where no rounding error hides."""
    from tonemap.signal_range import scale_and_offset

    target = Encoding("bt1886", "bt709", signal_range, bits, 100.0)
    chain = chain_of(replace(RENDITION, target=target), Encoding("linear"), host)
    picture = stress_pictures(100_000)["random"]
    scale, offset = scale_and_offset(bits, signal_range)
    signal = engine.signal(picture, chain)
    expected = np.floor(signal * np.float32(scale) + np.float32(offset) + np.float32(0.5)).astype(np.uint16)
    codes = engine.codes(picture, chain)
    assert np.abs(codes.astype(int) - expected.astype(int)).max() <= (1 if bits == 16 else 0)


@pytest.mark.parametrize("main", ["fragment", "compute"])
def test_a_picture_larger_than_a_block_is_seamless(main, host, reference, engines, monkeypatch):
    engine = engines[main]
    monkeypatch.setattr(engine, "_block", 64)
    columns, rows = 150, 130
    ramp = np.linspace(0.0, 65535.0, rows * columns * 3).reshape(rows, columns, 3).astype(np.uint16)
    picture = Picture(ramp, Encoding("pq", "bt2020", "full", 16))
    agreement = compare(reference, engine, picture, chain_of(RENDITION, picture.encoding, host))
    assert agreement.passes, str(agreement)


@pytest.mark.parametrize("shape", [(1, 1), (1, 4097), (4097, 1), (3, 5)])
def test_odd_shapes_agree(shape, host, reference, engine):
    samples = np.random.default_rng(5).integers(0, 65536, (*shape, 3)).astype(np.uint16)
    picture = Picture(samples, Encoding("pq", "bt2020", "full", 16))
    agreement = compare(reference, engine, picture, chain_of(RENDITION, picture.encoding, host))
    assert agreement.passes, str(agreement)
