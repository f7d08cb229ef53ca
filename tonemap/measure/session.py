"""A measurement of a master and its renditions: streamed, stopped, saved, and gone on with to the same result."""

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from itertools import chain as joined
from pathlib import Path
from typing import Any

from .. import __version__
from ..arrays import Array, Codes
from ..colorimetry import PRIMARIES
from ..errors import TrimbenchError, WrongCall
from ..media.ahead import ahead
from ..media.master import STILL, Frame, Master
from ..media.whole_file import whole_file
from ..parity import Engine
from ..picture import Picture
from ..rendition import Chain
from ..settings import settings_of
from .active_area import Rectangle, whole_frame
from .baseline import MASTER, Baseline, difference_map
from .frame import light_of
from .master_figures import MasterFigures, area_of
from .metadata import named_primaries
from .patch_difference import patch_difference
from .patch_table import patch_rows
from .patches import Patch
from .profile import Profile
from .profile_check import ProfileCheck
from .rendition_figures import Rendered, RenditionFigures, rendered, structure_picture
from .skin import propose_skin
from .structure import MasterStructure

FORMAT = 2
FRAMES_FOR_AREA = 9
"""Frames, spread evenly over what is measured, on which the active area is settled before the measurement begins."""


@dataclass(frozen=True)
class Plan:
    """What is to be measured.

    Attributes
    ----------
    first, last, step : the frames, counted from 0
    area : the active area; None to find it
    profile : a delivery profile, or None
    patches : regions to measure
    find_skin : whether to propose regions of skin and to measure them too
    patch_frame : the frame on which, counted from 0; None for the first one that can be read
    against, below : as in `Baseline`: what the renditions are compared with
    """

    first: int
    last: int
    step: int = 1
    area: Rectangle | None = None
    profile: Profile | None = None
    patches: tuple[Patch, ...] = ()
    find_skin: bool = False
    patch_frame: int | None = None
    against: str = MASTER
    below: float | None = None

    @property
    def indices(self) -> range:
        """The frames."""
        return range(self.first, self.last + 1, self.step)


class Session:
    """One measurement: `run` goes through the frames, `to_dict` and `resume` carry it over an interruption.

    Attributes
    ----------
    done : number of frames that have been gone through
    faults : the user's number and the sentence of each frame that could not be read
    patches : rows as `patch_rows` makes them, and on which frame
    keeps_codes : whether the renditions of the frame with MaxCLL are kept, for `codes_of`
    """

    def __init__(self, master: Master, plan: Plan, chains: Sequence[Chain] = (), engine: Engine | None = None) -> None:
        profile, facts = plan.profile, master.facts
        if profile is not None and profile.kind == "sdr" and not chains:
            raise WrongCall(f"delivery profile '{profile.name}' is for SDR; give a rendition to check, with --tone")
        self.master, self.plan, self.chains, self.engine = master, plan, tuple(chains), engine
        is_continuous = facts.kind != STILL and plan.step == 1 and len(plan.indices) > 1
        rate = float(facts.rate) if facts.rate and is_continuous else None
        hdr_check = ProfileCheck(profile, facts.stored) if profile and profile.kind == "hdr" else None
        self.area = plan.area or whole_frame(facts.rows, facts.columns)
        self.area.checked(facts.rows, facts.columns)
        self.mastering_gamut = named_primaries(facts.mastering_display, PRIMARIES) if facts.mastering_display else None
        self.figures = MasterFigures(
            self.area, rate, hdr_check, (self.mastering_gamut,) if self.mastering_gamut else ()
        )
        self.renditions = [
            RenditionFigures(
                rate,
                ProfileCheck(profile, chain.rendition.target) if profile and profile.kind == "sdr" else None,
            )
            for chain in chains
        ]
        self.baseline = Baseline(plan.against, plan.below).checked(self.chains, engine)
        if plan.patch_frame is not None and plan.patch_frame not in plan.indices:
            raise WrongCall(
                f"{facts.path}: frame {master.number(plan.patch_frame)} for the patches is not among those to be "
                "measured; choose one that is, with --patch-frame"
            )
        self.done = 0
        self.faults: list[tuple[int, str]] = []
        self.patches: list[dict[str, Any]] = []
        self.patch_frame: int | None = None
        self.skin_sentence: str | None = None
        self.keeps_codes = False
        self._kept: tuple[int, list[Codes]] | None = None

    def run(
        self,
        after_frame: Callable[[Frame], None] = lambda frame: None,
        is_stopped: Callable[[], bool] = lambda: False,
    ) -> bool:
        """Go through the frames that are left; returns whether all were, or `is_stopped` said so in between."""
        indices = self.plan.indices
        if self.done == 0 and self.plan.area is None:
            self._find_area()
        if self.done == len(indices):
            return True
        if is_stopped():
            return False
        with closing(ahead(self.master.frames(indices[self.done], indices[-1], self.plan.step))) as frames:
            for frame in frames:
                self._take(frame)
                self.done += 1
                after_frame(frame)
                if self.done < len(indices) and is_stopped():
                    return False
        return True

    def _find_area(self) -> None:
        facts, indices = self.master.facts, self.plan.indices
        step = max(1, len(indices) // FRAMES_FOR_AREA)
        starts = dict.fromkeys(self.master.nearest_start(index) for index in indices[step // 2 :: step])
        frames = joined.from_iterable(self.master.frames(index, index) for index in starts)
        self.area = area_of(frames, facts.rows, facts.columns, facts.encoding.black)
        self.figures.area = self.area

    def _take(self, frame: Frame) -> None:
        number = self.master.number(frame.index)
        if frame.fault is not None:
            self.faults.append((number, frame.fault))
            self.figures.skip()
            for rendition in self.renditions:
                rendition.skip()
            return
        self.figures.add(frame, number)
        is_patch_frame = self.plan.patch_frame in (None, frame.index) and self.patch_frame is None
        wants_patches = is_patch_frame and (self.plan.patches or self.plan.find_skin)
        if not wants_patches and not self.chains:
            return
        light, picture = light_of(frame), frame.picture
        patches: list[Patch] = []
        if wants_patches:
            signals = [self._engine.signal(picture, chain) for chain in self.chains]
            patches = self._measure_patches(light, list(zip(self.chains, signals, strict=True)), number)
        if self.chains:
            structure = MasterStructure(structure_picture(light))
            codes: list[Codes] = []
            for place, (shown, other) in enumerate(self.compared(picture, light)):
                codes.append(shown.codes)
                difference = self.baseline.statistics(shown, other, light, self.area)
                self.renditions[place].add(shown, difference, structure, self.area, number)
                self._compare_patches(patches, place, shown, other, light)
            if self.keeps_codes and self.figures.levels.brightest.frame == number:
                self._kept = (frame.index, codes)

    def codes_of(self, frame: Frame) -> list[Codes]:
        """Return the code values of each rendition of a frame: those kept, else rendered."""
        if self._kept is not None and self._kept[0] == frame.index:
            return self._kept[1]
        return [self._engine.codes(frame.picture, chain) for chain in self.chains]

    def compared(
        self, picture: Picture, light: Array, codes: Sequence[Codes] | None = None
    ) -> Iterator[tuple[Rendered, Array | None]]:
        """Yield each rendition of a frame with the light that it is compared with: one at a time, in order.

        Parameters
        ----------
        light : of the picture (rows, columns, 3), BT.2020, cd/m2
        codes : code values of each rendition, as `codes_of` gives them; None to render them, each when its turn comes
        """

        def shown_as(place: int) -> Rendered:
            chain = self.chains[place]
            return rendered(self._engine.codes(picture, chain) if codes is None else codes[place], chain)

        is_the_other = [chain.rendition.name == self.baseline.name for chain in self.chains]
        others = [shown_as(place) for place, is_other in enumerate(is_the_other) if is_other]
        for place, (chain, is_other) in enumerate(zip(self.chains, is_the_other, strict=True)):
            shown = others[0] if is_other else shown_as(place)
            yield shown, self.baseline.light(picture, light, chain, others)

    def difference_map(self, shown: Rendered, other: Array | None) -> Array | None:
        """Return Delta E ITP (rows, columns) of the active area at all levels; None without another picture."""
        return None if other is None else difference_map(other[self.area.slices], shown.light[self.area.slices])

    @property
    def _engine(self) -> Engine:
        assert self.engine is not None  # the caller gives one with the renditions
        return self.engine

    def _measure_patches(self, light: Array, renditions: list[tuple[Chain, Array]], number: int) -> list[Patch]:
        patches = list(self.plan.patches)
        if self.plan.find_skin:
            proposal = propose_skin(light)
            self.skin_sentence = proposal.sentence
            patches += [region.patch(f"skin {place}") for place, region in enumerate(proposal.regions, 1)]
        rows = patch_rows(patches, light, self.master.encoding, renditions)
        for place, row in enumerate(rows):
            row["proposed"] = place >= len(self.plan.patches)
        self.patches, self.patch_frame = rows, number
        return patches

    def _compare_patches(
        self, patches: list[Patch], place: int, shown: Rendered, other: Array | None, light: Array
    ) -> None:
        """Add to the rows of patches how far the rendition of that place lies from what it is compared with."""
        limit, white = self.baseline.limit(shown.chain), shown.chain.rendition.target.peak
        for patch, row in zip(patches, self.patches if patches else [], strict=True):
            mask = patch.mask(light.shape[0], light.shape[1])
            found = patch_difference(mask, shown.light, other, light, limit, white)
            row["renditions"][place]["difference"] = asdict(found)

    @property
    def words(self) -> dict[str, Any]:
        """What a saved state must agree with to be gone on with."""
        facts, plan = self.master.facts, self.plan
        return {
            "program": __version__,
            "master": [facts.kind, facts.format, facts.stored.title, facts.coding, facts.rows, facts.columns],
            "number of frames": facts.count,
            "frames": [plan.first, plan.last, plan.step],
            "area": plan.area.to_dict() if plan.area else None,
            "profile": plan.profile.to_dict() if plan.profile else None,
            "patches": [asdict(patch) for patch in plan.patches],
            "skin": plan.find_skin,
            "frame of the patches": plan.patch_frame,
            "comparison": [plan.against, plan.below],
            "engine": self.engine.name if self.engine and self.chains else None,
            "renditions": [
                [
                    chain.rendition.name,
                    chain.rendition.tone,
                    chain.rendition.gamut,
                    settings_of(chain.rendition, chain.host),
                ]
                for chain in self.chains
            ],
        }

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for JSON, to go on later with `resume`."""
        return {
            "trimbench measurement": FORMAT,
            "words": self.words,
            "done": self.done,
            "area": self.area.to_dict(),
            "faults": [list(fault) for fault in self.faults],
            "patches": self.patches,
            "patch frame": self.patch_frame,
            "skin sentence": self.skin_sentence,
            "figures": self.figures.to_dict(),
            "renditions": [rendition.to_dict() for rendition in self.renditions],
        }

    def save(self, path: Path) -> None:
        """Write the state, whole or not at all, over an older one."""
        with whole_file(path, overwrite=True) as part:
            part.write_text(json.dumps(self.to_dict(), separators=(",", ":")), encoding="utf-8")

    def resume(self, path: Path) -> None:
        """Go on from a state that `save` wrote.

        Raises
        ------
        TrimbenchError
            If the file can't be read, or is no saved measurement.
        WrongCall
            If it belongs to another measurement.
        """
        try:
            values = json.loads(path.read_text(encoding="utf-8"))
        except OSError as error:
            raise TrimbenchError(
                f"{path}: can't be read: {error.strerror}; check the name and its permissions"
            ) from error
        except ValueError as error:
            raise TrimbenchError(f"{path}: this is not a saved measurement; measure from the beginning") from error
        if not isinstance(values, dict) or values.get("trimbench measurement") != FORMAT:
            raise TrimbenchError(f"{path}: this is not a saved measurement; measure from the beginning")
        words = json.loads(json.dumps(self.words))
        differ = [name for name, value in words.items() if values["words"].get(name) != value]
        if differ:
            raise WrongCall(
                f"{path}: it belongs to another measurement, which differs in its {', '.join(differ)}; "
                "give the same words as then, or measure from the beginning"
            )
        self.done, self.area = values["done"], Rectangle(**values["area"])
        self.faults = [(number, sentence) for number, sentence in values["faults"]]
        self.patches, self.patch_frame = values["patches"], values["patch frame"]
        self.skin_sentence = values["skin sentence"]
        self.figures.resume(values["figures"])
        for rendition, saved in zip(self.renditions, values["renditions"], strict=True):
            rendition.resume(saved)
