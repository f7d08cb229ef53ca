"""A monitor in PQ: what the real bench puts on it, read back and compared with NumPy.

Levels in PQ are those of SMPTE ST 2084:2014, as Recommendation ITU-R BT.2100-3, Table 4, has them; 203 cd/m2 for
reference white is Report ITU-R BT.2408-9, Table 1.
"""

import numpy as np
import pytest

from tonemap.colorimetry import conversion_matrix, convert
from tonemap.difference import delta_e_itp
from tonemap.encoding import encode, signal_to_light
from tonemap.heat import heat_colours, heat_index
from tonemap.monitor import Monitor, monitor_signal
from tonemap.transfer import pq_eotf
from viewer.bench import state as actions
from viewer.bench import theme
from viewer.bench.interface_encoding import INTERFACE
from viewer.bench.layout import View
from viewer.bench.showing import Line

PQ = Monitor("pq", "bt2020", 1000.0, bits=10)
P3 = Monitor("pq", "p3-d65", 600.0, bits=10)
AT_203 = Monitor("pq", "bt2020", 1000.0, bits=10, sdr_white=203.0)


def shown_light(hand, key, monitor):
    """Return the light of a picture as the monitor's description says that it is shown, BT.2020, cd/m2."""
    if key is None:
        return hand.reference_light(None)
    signal, target = hand.reference_signal(key)
    white = target.peak if monitor.sdr_white is None else monitor.sdr_white
    light = white * np.clip(signal, 0.0, None) ** 2.4  # Recommendation ITU-R BT.1886, Annex 1, with a black of 0
    return convert(light, conversion_matrix(target.primaries, "bt2020"))


def wanted_codes(hand, key, monitor):
    return monitor_signal(shown_light(hand, key, monitor), monitor) * hand.top_code


@pytest.mark.parametrize("monitor", [PQ, P3, AT_203], ids=["BT.2020", "P3 to 600", "SDR at 203"])
@pytest.mark.parametrize("key", [None, 1])
def test_master_and_renditions_are_shown_at_their_own_light(hand, monitor, key):
    hand.bench.do(actions.with_monitor, monitor)
    shown = hand.at_pixels(layout="flip", first=key, second=3)
    wanted = wanted_codes(hand, key, monitor)
    hand.assert_rounded(shown, wanted)
    assert shown.max() == (pytest.approx(wanted.max(), abs=0.51))
    if key is None:
        assert np.count_nonzero(shown == round(monitor_signal(np.full(3, 1e4), monitor)[0] * hand.top_code)) > 40


def test_a_wipe_and_its_line_in_pq(hand):
    hand.bench.do(actions.with_monitor, PQ)
    shown = hand.at_pixels(layout="wipe", first=None, second=2, line=Line())
    rows = np.s_[:10]
    hand.assert_rounded(shown[rows, :56], wanted_codes(hand, None, PQ)[rows, :56])
    hand.assert_rounded(shown[rows, 64:], wanted_codes(hand, 2, PQ)[rows, 64:])


@pytest.mark.parametrize("monitor", [PQ, AT_203], ids=["own white", "203"])
def test_a_difference_is_of_the_light_that_is_shown_and_its_colours_are_the_interfaces(hand, monitor):
    hand.bench.do(actions.with_monitor, monitor)
    top = 50.0
    shown = hand.at_pixels(layout="difference", first=None, second=1, heat_top=top)
    index = heat_index(delta_e_itp(shown_light(hand, None, monitor), shown_light(hand, 1, monitor)), top)
    light = convert(heat_colours(monitor.interface_white), conversion_matrix("bt709", "bt2020"))
    colours = np.rint(monitor_signal(light, monitor) * hand.top_code)
    here = np.stack([np.abs(shown - colours[np.clip(index + step, 0, 255)]).max(axis=-1) for step in (-1, 0, 1)])
    assert (here.min(axis=0) <= 1).mean() > 0.999  # float32 may round to a neighbour in the table
    assert (here[1] <= 1).mean() > 0.98


def test_the_interface_has_the_luminance_that_is_set(hand):
    for white in (100.0, 50.0):
        monitor = Monitor("pq", "bt2020", 1000.0, bits=10, interface_white=white)
        hand.bench.do(actions.with_monitor, monitor)
        hand.frames(3)
        codes = hand.surface.codes()
        panel = codes[400, codes.shape[1] - round(23.5 * theme.TYPE_SIZE) + 3] / hand.top_code  # its margin
        assert (panel == panel[0]).all()
        assert pq_eotf(panel[0]) == pytest.approx(white * theme.PANEL**2.4, rel=0.03)
        text = pq_eotf(codes[5:30, :300].max() / hand.top_code)
        assert text == pytest.approx(white * theme.TEXT**2.4, rel=0.1)
        assert pq_eotf(codes.min() / hand.top_code) < 1.0


def test_below_one_to_one_the_light_on_the_monitor_is_averaged(hand):
    hand.bench.do(actions.with_monitor, PQ)
    hand.bench.do(actions.with_view, View(0.5, (60.0, 33.5)))
    hand.settle()
    for key in (None, 1):
        light = np.clip(shown_light(hand, key, PQ), 0.0, PQ.peak)[:66]
        mean = light.reshape(33, 2, 60, 2, 3).mean(axis=(1, 3))
        wanted = monitor_signal(mean, PQ) * hand.top_code
        top, left = hand.bench.placement.top, hand.bench.placement.left
        tile = hand.tile(key)[top : top + 33, left : left + 60].astype(int)
        difference = np.abs(tile - wanted)
        assert difference.max() <= 1.0
        assert np.count_nonzero(difference > 0.52) <= 2e-3 * difference.size


def test_an_sdr_monitor_of_another_kind_gets_its_own_signal(hand):
    monitor = Monitor("sdr", "p3-d65", 200.0, transfer="gamma2.2")
    hand.bench.do(actions.with_monitor, monitor)
    shown = hand.at_pixels(layout="flip", first=1, second=3)
    signal, target = hand.reference_signal(1)
    light = signal_to_light(np.clip(signal, 0.0, None), target) * (monitor.peak / target.peak)
    own = convert(light, conversion_matrix("bt709", "p3-d65"))
    hand.assert_rounded(shown, encode(own, monitor.encoding) * hand.top_code)
    assert hand.bench.state.window == 200.0
    assert INTERFACE.peak == 100.0
