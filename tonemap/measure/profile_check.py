"""A picture against a delivery profile: frame by frame, in bounded memory, to a list of checks."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from ..colorimetry import PRIMARIES
from ..encoding import TRANSFERS, Encoding, light_to_signal, quantise_signal, signal_to_light
from ..signal_range import expand
from .frame_ranges import FrameRanges
from .gamut_share import GamutShare
from .legality import Legality
from .light_levels import FrameLevels
from .profile import Profile

PASS, FAIL, NOT_MEASURED = "pass", "fail", "not measured"
FRAME_CHECKS = ("peak", "max_fall", "gamut", "legality", "reserved")
ROUNDING = 1e-6  # relative: what float32 can't tell from the limit is within it


@dataclass(frozen=True)
class Check:
    """One check of a profile and its result.

    Attributes
    ----------
    name : 'transfer', 'primaries', 'range', 'bits', 'display_peak', 'peak', 'max_fall', 'gamut',
        'legality' or 'reserved'
    title : what a page shows
    status : 'pass', 'fail' or 'not measured'
    limit, measured : text with unit, as a person reads it
    excess : how much the worst frame is beyond the limit, in `unit`; None where there is nothing to subtract
    unit : 'cd/m2', '%', 'samples' or ''
    frame, row, column : where the worst is; None where it has no place
    frames : the frames that fail, as '12-40, 77'; empty for none, and for what is not of frames
    failed_frames, measured_frames : how many
    detail : what else is known of the worst place, as a clause
    source : where the limit comes from
    """

    name: str
    title: str
    status: str
    limit: str
    measured: str
    excess: float | None = None
    unit: str = ""
    frame: int | None = None
    row: int | None = None
    column: int | None = None
    frames: str = ""
    failed_frames: int = 0
    measured_frames: int = 0
    detail: str = ""
    source: str = ""

    @property
    def sentence(self) -> str:
        """The result as one line."""
        words = f"{self.title}: {self.status}, {self.measured} (limit: {self.limit})"
        if self.status != FAIL or not self.frames:
            return words
        place = f"frame {self.frame}" + (f", row {self.row}, column {self.column}" if self.row is not None else "")
        detail = f", {self.detail}" if self.detail else ""
        return (
            f"{words} at {place}{detail}; fails on {self.failed_frames} of {self.measured_frames} frames: {self.frames}"
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, the sentence among them."""
        return {**asdict(self), "sentence": self.sentence}


@dataclass
class _Worst:
    """The worst frame so far of one check, and the frames that fail."""

    value: float = -1.0
    frame: int = 0
    row: int | None = None
    column: int | None = None
    detail: str = ""
    count: int = 0
    failed: list[tuple[int, int]] = field(default_factory=list)

    def take(
        self,
        value: float,
        limit: float,
        frame: int,
        place: tuple[int | None, int | None] = (None, None),
        detail: str = "",
    ) -> None:
        self.count += 1
        if (value, -frame) > (self.value, -self.frame):
            self.value, self.frame, self.detail = value, frame, detail
            self.row, self.column = place
        if value > limit * (1.0 + ROUNDING):
            frames = FrameRanges(self.failed)
            frames.add(frame)
            self.failed = frames.ranges


class ProfileCheck:
    """Checks a picture's frames against a profile.

    Parameters
    ----------
    profile : the limits
    encoding : the picture's encoding

    Examples
    --------
    >>> from tonemap.measure.light_levels import measure_light
    >>> from tonemap.measure.profile import load_profile
    >>> check = ProfileCheck(load_profile("hdr-1000-p3"), Encoding("linear"))
    >>> check.add(measure_light(np.full((2, 2, 3), 1200.0), frame=7))
    >>> [item.sentence for item in check.checks if item.name == "peak"]
    ['peak: fail, 1200.0 cd/m2 (limit: 1000 cd/m2) at frame 7, row 0, column 0; fails on 1 of 1 frames: 7']
    """

    def __init__(self, profile: Profile, encoding: Encoding) -> None:
        self.profile = profile
        self.encoding = encoding
        self._worst = {name: _Worst() for name in FRAME_CHECKS}
        self._peak = nearest_code_light(profile.peak, encoding) if profile.peak is not None else 0.0

    def add(self, levels: FrameLevels, gamut: GamutShare | None = None, legality: Legality | None = None) -> None:
        """Check one frame.

        Parameters
        ----------
        levels : of the frame
        gamut : what lies outside `profile.within`; None if it was not measured
        legality : by `profile.legality`; None if it was not measured
        """
        profile, frame, active = self.profile, levels.frame, levels.active
        if profile.peak is not None:
            self._worst["peak"].take(active.maximum, self._peak, frame, (active.row, active.column))
        if profile.max_fall is not None:
            self._worst["max_fall"].take(active.average, profile.max_fall, frame)
        if profile.within is not None and gamut is not None:
            farthest = gamut.hues[0] if gamut.hues else None
            place = (farthest.row, farthest.column) if farthest else (None, None)
            detail = (
                f"farthest a {farthest.hue} of {farthest.nits:.3g} cd/m2, {farthest.distance_uv:.4f} beyond in u'v'"
                if farthest
                else ""
            )
            self._worst["gamut"].take(gamut.share, profile.outside_share, frame, place, detail)
        if profile.legality is not None and legality is not None:
            self._worst["legality"].take(legality.share, profile.area_tolerance, frame, *_worst_excursion(legality))
            self._worst["reserved"].take(legality.reserved, 0.0, frame)

    @property
    def checks(self) -> tuple[Check, ...]:
        """All that the profile states, each with its result."""
        return (*self._of_encoding(), *self._of_frames())

    @property
    def passes(self) -> bool:
        """Whether nothing fails; what was not measured does not fail."""
        return all(check.status != FAIL for check in self.checks)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `resume`."""
        return {name: asdict(worst) for name, worst in self._worst.items()}

    def resume(self, values: Mapping[str, Any]) -> None:
        """Go on from what `to_dict` wrote, with the same profile and encoding."""
        for name in self._worst:
            failed = [(first, last) for first, last in values[name]["failed"]]
            self._worst[name] = _Worst(**{**values[name], "failed": failed})

    def _of_encoding(self) -> Iterator[Check]:
        profile, encoding = self.profile, self.encoding
        source = profile.sources.get("signal", "")
        if profile.transfers:
            titles = " or ".join(TRANSFERS[name] for name in profile.transfers)
            ok = encoding.transfer in profile.transfers
            yield Check("transfer", "transfer", _status(ok), titles, TRANSFERS[encoding.transfer], source=source)
        if profile.container:
            limit, found = PRIMARIES[profile.container].title, PRIMARIES[encoding.primaries].title
            ok = encoding.primaries == profile.container
            yield Check("primaries", "primaries", _status(ok), limit, found, source=profile.sources.get("colour", ""))
        if profile.signal_range:
            found = encoding.signal_range if encoding.bits is not None else "floating-point samples"
            ok = found == profile.signal_range
            yield Check("range", "signal range", _status(ok), profile.signal_range, found, source=source)
        if profile.bits:
            found = f"{encoding.bits} bits" if encoding.bits is not None else "floating-point samples"
            ok = encoding.bits is not None and encoding.bits >= profile.bits
            yield Check("bits", "bit depth", _status(ok), f"at least {profile.bits} bits", found, source=source)
        if profile.display_peak:
            limit, found = f"{profile.display_peak:g} cd/m2", f"{encoding.peak:g} cd/m2"
            ok = abs(encoding.peak - profile.display_peak) <= ROUNDING * profile.display_peak
            yield Check("display_peak", "peak of the display", _status(ok), limit, found, source=source)

    def _of_frames(self) -> Iterator[Check]:
        profile = self.profile
        if profile.peak is not None:
            yield self._check("peak", "peak", profile.peak, "cd/m2", "light")
        if profile.max_fall is not None:
            yield self._check("max_fall", "frame-average light", profile.max_fall, "cd/m2", "light")
        if profile.within is not None:
            title = f"colour outside {PRIMARIES[profile.within].title}"
            yield self._check("gamut", title, 100.0 * profile.outside_share, "%", "colour")
        if profile.legality is not None:
            title = f"signal outside the {profile.legality} range"
            yield self._check("legality", title, 100.0 * profile.area_tolerance, "%", "signal")
            yield self._check("reserved", "codes reserved for timing", 0.0, "samples", "signal")

    def _check(self, name: str, title: str, limit: float, unit: str, table: str) -> Check:
        worst = self._worst[name]
        source = self.profile.sources.get(table, "")
        limit_text = _text(limit, unit, "g") + self._allowance(name)
        if not worst.count:
            return Check(name, title, NOT_MEASURED, limit_text, "nothing", unit=unit, source=source)
        value = 100.0 * worst.value if unit == "%" else worst.value
        failed = FrameRanges(worst.failed)
        return Check(
            name,
            title,
            _status(not failed.count),
            limit_text,
            _text(value, unit, ".3g" if unit == "%" else ".1f"),
            value - limit if failed.count else None,
            unit,
            worst.frame,
            worst.row,
            worst.column,
            failed.text,
            failed.count,
            worst.count,
            worst.detail,
            source,
        )

    def _allowance(self, name: str) -> str:
        """Say what is allowed beyond a limit, and why; nothing for most."""
        peak = self.profile.peak
        if name != "peak" or peak is None or not self._peak > peak * (1.0 + ROUNDING):
            return ""
        return f", or {self._peak:.1f}, the light of the nearest {self.encoding.bits}-bit code"


def nearest_code_light(peak: float, encoding: Encoding) -> float:
    """Return the light in cd/m2 that a peak may reach: that of the nearest code, for integers, which may lie above it.

    Examples
    --------
    >>> round(nearest_code_light(1000.0, Encoding("pq", "bt2020", "narrow", 10)), 1)
    1004.2
    """
    if encoding.bits is None:
        return peak
    codes = quantise_signal(light_to_signal(np.full(3, peak), encoding), encoding)
    light = signal_to_light(expand(codes, encoding.bits, encoding.signal_range), encoding)
    return max(peak, float(light.max()))


def _text(value: float, unit: str, number_format: str) -> str:
    """Return a value with its unit, as a person reads it."""
    if unit == "samples":
        return {0.0: "none", 1.0: "1 sample"}.get(value, f"{value:.0f} samples")
    return f"{value:{number_format}} {unit}"


def _status(is_met: bool) -> str:
    return PASS if is_met else FAIL


def _worst_excursion(legality: Legality) -> tuple[tuple[int | None, int | None], str]:
    """Return the place and the words for the worst excursion of any channel."""
    found = []
    for channel in legality.channels:
        for excursion, limit in ((channel.lowest, legality.low), (channel.highest, legality.high)):
            if excursion is not None:
                found.append((abs(excursion.code - limit), channel.channel, excursion))
    if not found:
        return (None, None), ""
    _, name, worst = max(found, key=lambda item: item[0])
    return (worst.row, worst.column), f"worst {name} at {worst.percent:.1f} %, code {worst.code:.0f}"
