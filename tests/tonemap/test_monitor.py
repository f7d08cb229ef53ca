"""A monitor's description: its signal for light, what it refuses, and how it is kept."""

import numpy as np
import pytest

from tonemap.encoding import Encoding, sdr_target
from tonemap.errors import WrongCall
from tonemap.monitor import Monitor, monitor_signal


def outside(start: str) -> str:
    return f"{start} cd/m2; choose a value in that range"


PQ = Monitor("pq", "bt2020", 1000.0, bits=10)


def test_levels_on_a_pq_monitor_are_those_of_st_2084():
    """Report ITU-R BT.2408-9, Table 1: reference white 203 cd/m2 is 58 % of PQ; others by ST 2084:2014."""
    signal = monitor_signal(np.array([0.0, 10.0, 100.0, 203.0, 1000.0, 4000.0])[:, np.newaxis] * np.ones(3), PQ)
    expected = [0.0, 0.299699, 0.508078, 0.580689, 0.751827, 0.751827]
    assert signal[:, 0] == pytest.approx(expected, abs=1e-6)
    assert signal[:, 1:] == pytest.approx(np.repeat(signal[:, :1], 2, axis=1), abs=1e-12)


def test_colours_are_those_that_colour_science_makes_of_them():
    import colour

    light = np.array([[300.0, 120.0, 60.0], [20.0, 180.0, 90.0]])
    spaces = colour.RGB_COLOURSPACES
    p3 = colour.RGB_to_RGB(light, spaces["ITU-R BT.2020"], spaces["P3-D65"], chromatic_adaptation_transform=None)
    expected = colour.models.eotf_inverse_ST2084(np.clip(p3, 0.0, 600.0))
    assert monitor_signal(light, Monitor("pq", "p3-d65", 600.0)) == pytest.approx(expected, abs=1e-4)


def test_an_sdr_monitor_passes_what_is_made_for_its_kind_and_shows_every_white_as_its_own():
    sdr = Monitor(peak=120.0)
    assert sdr.passes(sdr_target())
    assert not sdr.passes(Encoding("bt1886", "p3-d65"))
    assert not Monitor(transfer="gamma2.2").passes(sdr_target())
    assert sdr.gain_for(sdr_target(203.0)) == pytest.approx(120.0 / 203.0)
    assert not PQ.passes(sdr_target())
    assert PQ.gain_for(sdr_target()) == 1.0


def test_the_white_of_sdr_pictures_is_the_targets_unless_it_is_set():
    assert PQ.display_of(sdr_target(120.0, 0.01)) == sdr_target(120.0, 0.01)
    shown = Monitor("pq", "bt2020", 1000.0, sdr_white=203.0).display_of(sdr_target(100.0, 0.01))
    assert (shown.peak, shown.black) == (203.0, 0.01)
    assert Monitor(sdr_white=203.0).display_of(sdr_target()) == sdr_target()


@pytest.mark.parametrize(
    ("entries", "sentence"),
    [
        ({"signal": "hlg"}, "monitor: signal = hlg is not known; choose one of sdr, pq"),
        ({"primaries": "ap0"}, "monitor: primaries = ap0 is not known; choose one of bt709, p3-d65, bt2020"),
        ({"bits": 12}, "monitor: bits = 12 is not known; choose one of 8, 10"),
        ({"transfer": "pq"}, "monitor: transfer = pq is not known; choose one of bt1886, gamma2.2, gamma2.4, srgb"),
        ({"peak": 20}, outside("monitor: peak = 20 is outside 40..1000")),
        ({"signal": "pq", "peak": 12000}, outside("monitor: peak = 12000 is outside 100..10000")),
        ({"black": 2.0}, outside("monitor: black = 2 is outside 0..1")),
        ({"sdr_white": 5}, outside("monitor: sdr_white = 5 is outside 20..500")),
        ({"interface_white": float("nan")}, outside("monitor: interface_white = nan is outside 20..500")),
        ({"peak": "bright"}, "monitor: peak = bright is not a number; give cd/m2"),
        ({"bits": True}, "monitor: bits = True is not known; choose one of 8, 10"),
        ({"pekk": 100}, "monitor: 'pekk' is not known; did you mean 'peak'?"),
    ],
    ids=lambda value: "" if isinstance(value, str) else next(iter(value)),
)  # fmt: skip
def test_what_is_no_screen_is_refused_in_one_sentence(entries, sentence):
    with pytest.raises(WrongCall) as caught:
        Monitor.from_dict(entries)
    assert str(caught.value) == sentence


def test_it_survives_being_kept_and_says_what_it_is():
    assert Monitor.from_dict({k: v for k, v in PQ.to_dict().items() if v is not None}) == PQ
    assert PQ.title == "PQ, BT.2020, to 1000 cd/m\u00b2"
    assert Monitor().title == "SDR, BT.1886, BT.709, white 100 cd/m\u00b2"
    assert PQ.sentence.endswith(
        "HDR is shown at its own light, clipped above the peak; SDR pictures with their own target's white; "
        "the interface with white at 100 cd/m\u00b2."
    )
