"""The line-up patterns against the Recommendations' codes and colour-science's transfer functions.

The mode check is read as a screen shows it: light by colour-science, two lines as one. Codes of BT.814-4 and BT.2111-3
are as quoted in public material; the documents themselves were not at hand.
"""

import colour
import numpy as np
import pytest

from tonemap.encoding import Encoding, sdr_target
from tonemap.line_up import black_level, mode_check, primaries, steps
from tonemap.line_up.patterns import PATTERNS, draw_pattern
from tonemap.line_up.plate import GROUND, INK, Plate
from viewer.line_up import set_type

PQ = Encoding("pq", "bt2020", "narrow", 10)
PQ_FULL = Encoding("pq", "bt2020", "full", 10)
SDR = sdr_target()
SDR_8 = Encoding("bt1886", "bt709", "full", 8, 100.0)

SCREENS = {
    "PQ": colour.models.eotf_ST2084,
    "HLG": lambda signal: colour.models.eotf_BT2100_HLG(
        np.repeat(signal[..., np.newaxis], 3, axis=-1), 0.0, 1000.0, 1.2, method="ITU-R BT.2100-2"
    )[..., 0],
    "2.4": lambda signal: colour.models.eotf_BT1886(signal, L_B=0.0, L_W=100.0),
    "2.2": lambda signal: 100.0 * signal**2.2,
    "sRGB": lambda signal: 100.0 * colour.models.eotf_sRGB(signal),
}
SUNK, READS = 0.01, 0.35
"""Weber contrast: near the threshold of the eye, and plain. Common practice, no source."""


def signal_of(codes, encoding):
    top = 2**encoding.bits
    if encoding.signal_range == "full":
        return codes / (top - 1.0)
    return np.clip((codes - top / 16.0) / (219.0 * top / 256.0), 0.0, None)  # BT.2100-3, Table 9


def field_on(screen, encoding, columns=1280, rows=720):
    """Return the light of the message's field, (rows / 2, columns), two lines as one; its left and right part."""
    codes = draw_pattern("mode-check", encoding, columns, rows, set_type)
    plate_rows = np.flatnonzero(codes[:, columns // 2, 0] == mode_check.message(encoding).bright)
    top = plate_rows[0]
    bottom = top + 2 * np.argmax(np.append(np.diff(plate_rows), 999) != 2) + 2
    light = SCREENS[screen](signal_of(codes[top:bottom, :, 0].astype(np.float64), encoding))
    inside = light[:, rows // 18 : columns - rows // 18]
    pairs = 0.5 * (inside[::2] + inside[1::2])
    return pairs[:, : columns * 3 // 10], pairs[:, columns * 3 // 10 :]


def contrast_in(part):
    ground = np.median(part[:4])
    return np.abs(part / ground - 1.0).max()


@pytest.mark.parametrize("encoding", [PQ, PQ_FULL], ids=["narrow", "full"])
@pytest.mark.parametrize("screen", SCREENS)
def test_the_message_for_pq_reads_right_on_pq_alone(encoding, screen):
    affirms, denies = (contrast_in(part) for part in field_on(screen, encoding))
    if screen == "PQ":
        assert affirms >= READS
        assert denies <= SUNK
    else:
        assert denies >= READS
        assert affirms <= 0.1


@pytest.mark.parametrize("encoding", [SDR, SDR_8], ids=["10 bits", "8 bits"])
@pytest.mark.parametrize("screen", ["PQ", "2.4", "2.2", "sRGB"])
def test_the_message_for_sdr_reads_right_on_sdr_alone(encoding, screen):
    affirms, denies = (contrast_in(part) for part in field_on(screen, encoding))
    if screen == "PQ":
        assert denies >= READS
        assert affirms <= SUNK
    else:
        assert affirms >= READS
        assert denies <= (SUNK if screen == "2.4" else 0.1)


@pytest.mark.parametrize(("transfer", "screen"), [("gamma2.2", "2.2"), ("srgb", "sRGB"), ("gamma2.4", "2.4")])
@pytest.mark.parametrize("primaries", ["bt709", "p3-d65"])
def test_the_message_for_a_computer_screen_reads_right_on_it(transfer, screen, primaries):
    encoding = Encoding(transfer, primaries, "full", 8, 100.0)
    for where, read, sunk in ((screen, 0, 1), ("PQ", 1, 0)):
        parts = [contrast_in(part) for part in field_on(where, encoding)]
        assert parts[read] >= READS
        assert parts[sunk] <= SUNK


def test_at_full_size_the_message_is_the_same():
    affirms, denies = (contrast_in(part) for part in field_on("PQ", PQ, 3840, 2160))
    assert affirms >= READS
    assert denies <= SUNK


def test_a_scaled_message_reads_both_ways():
    codes = draw_pattern("mode-check", PQ, 1280, 720, set_type).astype(np.float64)
    lines = mode_check.message(PQ)
    averaged = (lines.bright + lines.dark) / 2  # what a filter makes of two lines: the mean of the codes
    ground = SCREENS["PQ"](signal_of(np.array(averaged), PQ))
    assert set(lines.flat) <= set(codes[:, :, 0].ravel())
    for flat in lines.flat:
        assert SCREENS["PQ"](signal_of(np.array(float(flat)), PQ)) / ground - 1.0 > 1.0


@pytest.mark.parametrize("encoding", [PQ, PQ_FULL, SDR, SDR_8], ids=lambda each: each.title)
@pytest.mark.parametrize("screen", ["PQ", "HLG", "2.4", "2.2"])
def test_of_the_names_of_curves_only_that_of_the_screen_sinks(encoding, screen):
    lines = mode_check.names(encoding)
    dark, bright = (
        SCREENS[screen](signal_of(np.array([float(code)]), encoding))[0] for code in (lines.dark, lines.bright)
    )
    for name, flat in zip(mode_check.NAMES.values(), lines.flat, strict=True):
        seen = abs(SCREENS[screen](signal_of(np.array([float(flat)]), encoding))[0] / (0.5 * (dark + bright)) - 1.0)
        if name == screen:
            assert seen <= SUNK
        else:
            assert seen >= 0.05


def test_an_sdr_screen_whose_black_is_not_0_has_a_message_of_its_own():
    for black in (0.01, 0.05, 0.1):
        encoding = sdr_target(black=black)
        lines = mode_check.message(encoding)
        codes = np.array([lines.dark, lines.bright, lines.flat[0]], np.float64)
        dark, bright, denies = colour.models.eotf_BT1886(signal_of(codes, encoding), L_B=black, L_W=100.0)
        assert abs(denies / (0.5 * (dark + bright)) - 1.0) <= SUNK


def test_no_line_of_the_mode_check_is_brighter_than_any_hdr_screen_shows():
    message, names = mode_check.message(PQ), mode_check.names(PQ)
    assert SCREENS["PQ"](signal_of(np.array(float(message.bright)), PQ)) <= 125.0
    assert SCREENS["PQ"](signal_of(np.array(float(names.bright)), PQ)) <= 450.0


def test_steps_are_the_pq_codes_of_their_nits():
    # colour-science; the same ten-bit codes stand in BT.2408, where 203 cd/m2 is 58 %
    codes = draw_pattern("steps", PQ, 1280, 720, set_type)
    expected = [round(64 + 876 * float(colour.models.eotf_inverse_ST2084(nits))) for nits in steps.NITS]
    assert expected == [509, 573, 636, 674, 723, 768, 855]
    assert squares_in(codes, expected)


def test_steps_of_sdr_are_the_stair_of_bt2111():
    # BT.2111-3: the codes of 0, 10 ... 100 %
    expected = [64, 152, 239, 327, 414, 502, 590, 677, 765, 852, 940]
    codes = draw_pattern("steps", SDR, 1280, 720, set_type)
    assert squares_in(codes, expected)
    light = [nits for nits, _ in steps.levels(SDR)]
    np.testing.assert_allclose(light, colour.models.eotf_BT1886(np.linspace(0.0, 1.0, 11), L_B=0.0, L_W=100.0))


def squares_in(codes, expected):
    """Say whether some row of the picture goes through all codes in this order, each at least 40 pixels wide."""
    for row in codes[:, :, 0]:
        edges = np.flatnonzero(np.diff(row)) + 1
        runs = [part[0] for part in np.split(row, edges) if len(part) >= 40 and part[0] in expected]
        if runs == expected:
            return True
    return False


def test_black_level_has_the_codes_of_bt814():
    # BT.814-4: 64, 80, 48; the higher level 940 for SDR, 399 for HDR, in narrow range
    for encoding, high in ((PQ, 399), (SDR, 940)):
        codes = draw_pattern("black-level", encoding, 1920, 1080, set_type)[:, :, 0]
        assert codes[0, 0] == 64
        assert {80, 48} <= set(codes[:, 60].tolist())
        assert codes[540 - 20, 960] == high
        stripes = codes[:, 60]
        for code in (80, 48):
            starts = np.flatnonzero((stripes[1:] == code) & (stripes[:-1] == 64))
            assert len(starts) == black_level.STRIPES


def test_black_level_in_full_range_has_the_near_black_of_bt2111():
    # BT.2111-3, full range: 20 and 41 are 2 and 4 %
    codes = draw_pattern("black-level", PQ_FULL, 1920, 1080, set_type)[:, :, 0]
    assert {20, 41} <= set(codes[:, 60].tolist())
    assert codes.min() == 0


@pytest.mark.parametrize("encoding", [PQ, Encoding("pq", "p3-d65", "narrow", 10), SDR], ids=lambda each: each.title)
def test_squares_of_a_colour_have_one_luminance_and_the_chromaticities_of_their_set(encoding):
    spaces = {"bt2020": "ITU-R BT.2020", "p3-d65": "P3-D65", "bt709": "ITU-R BT.709"}

    def matrix(name):
        return colour.RGB_COLOURSPACES[spaces[name]]

    own = matrix(encoding.primaries)
    own.use_derived_matrix_RGB_to_XYZ = True
    assert primaries.sets_within(encoding) == tuple(spaces)[tuple(spaces).index(encoding.primaries) :]
    for colour_name, mixed in primaries.COLOURS.items():
        for name in primaries.sets_within(encoding):
            light, nits = primaries.light_of(colour_name, name, encoding)
            xyz = own.matrix_RGB_to_XYZ @ light
            space = matrix(name)
            space.use_derived_matrix_RGB_to_XYZ = True
            expected = space.matrix_RGB_to_XYZ @ np.array(mixed)
            assert xyz[1] == pytest.approx(nits, rel=1e-3)
            # P3's red lies outside BT.2020 by this much
            np.testing.assert_allclose(xyz[:2] / xyz.sum(), expected[:2] / expected.sum(), atol=1.5e-3)
            assert 0.0 <= light.min() <= light.max() <= 100.0


@pytest.mark.parametrize("encoding", [PQ, SDR], ids=["PQ", "SDR"])
@pytest.mark.parametrize("name", PATTERNS)
def test_a_note_stands_out_from_its_ground(name, encoding):
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1, here of light in cd/m2; 0.05 cd/m2 stand for a dark room's own."""
    bare, noted = (draw_pattern(name, encoding, 1280, 720, set_type, note)[..., 1] for note in ("", "HHHHHHHH"))
    written = noted[bare != noted].astype(np.float64)
    ground = bare[bare != noted].astype(np.float64)
    screen = SCREENS["PQ" if encoding is PQ else "2.4"]
    ink = np.extract(np.abs(written - ground) == np.abs(written - ground).max(), written)[:1]
    lights = sorted(float(screen(signal_of(codes, encoding))[0]) for codes in (ink, ground[:1]))
    assert (lights[1] + 0.05) / (lights[0] + 0.05) >= 4.5


@pytest.mark.parametrize("encoding", [PQ, SDR], ids=["PQ", "SDR"])
@pytest.mark.parametrize("name", ["mode-check", "steps", "primaries", "ramps"])
def test_words_on_the_grey_ground_can_be_read(name, encoding, monkeypatch):
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1, of light with 100 cd/m2 for white, whose flare is 5 % there."""
    lights = {}

    def write(plate, text, x, baseline, nits=INK, **more):
        lights[text] = nits

    monkeypatch.setattr(Plate, "write", write)
    draw_pattern(name, encoding, 1280, 720, set_type, "arrows")
    assert len(lights) >= 5
    assert {text: nits for text, nits in lights.items() if (nits + 5.0) / (GROUND + 5.0) < 4.5} == {}
