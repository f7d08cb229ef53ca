"""The three who work at the bench: where they stand, how they look, what they wear."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from . import figures
from .figures import Face
from .shading import Surface
from .solids import Frame, Point, Solid, Vector, ellipsoid, mix, rotation, smoothstep, sphere

# The body's shape is drawn for a larger head; this factor fits it to the heads.
BUILD = 0.86
HEAD_BLOCKERS = ((0.0, 0.40, -0.15, 0.82), (0.0, -0.35, 0.20, 0.60))
TORSO_BLOCKERS = (
    (0.0, -2.8, -0.4, 1.1),
    (1.4, -2.6, -0.4, 0.5),
    (-1.4, -2.6, -0.4, 0.5),
    (0.0, -4.0, -0.3, 1.1),
)

GOLD = Surface((0.05, 0.03, 0.005), 0.10, 0.75, mirror=0.5, tint=(1.0, 0.68, 0.24))
CORAL = Surface((0.42, 0.035, 0.022), 0.12, 0.045)
SCARF = (0.012, 0.060, 0.24)
AUBURN = (0.155, 0.050, 0.016)
BLACK_HAIR = (0.020, 0.014, 0.010)


@dataclass(frozen=True)
class Person:
    """One person.

    Attributes
    ----------
    name : str
        Prefix of the names of the solids.
    place : tuple
        World point between the ears.
    yaw, pitch, roll, body_yaw : float
        Degrees; at 180 a person faces the camera.
    face : Face
        Proportions of the head.
    skin, lip, brow, garment : tuple
        Reflectances, linear BT.2020.
    gloss : float
        Strength of the highlights on the skin.
    girth : float
        Width of the body.
    cut : str
        Kind of garment: 'knit', 'apron' or 'shirt'.
    beard : float
        Density of a short beard.
    """

    name: str
    place: Point
    yaw: float
    pitch: float
    roll: float
    body_yaw: float
    face: Face
    skin: Point
    lip: Point
    brow: Point
    garment: Point
    gloss: float
    girth: float
    cut: str
    beard: float = 0.0

    @property
    def head(self) -> Frame:
        """Axes of the head."""
        return Frame(self.place, rotation(self.yaw, self.pitch, self.roll))

    @property
    def body(self) -> Frame:
        """Axes of the body."""
        return Frame(self.place, rotation(self.body_yaw, 0.0))

    def on_head(
        self,
        part: str,
        bound: tuple[Point, float],
        distance: Callable[[Vector], Any],
        surface: Callable[[Vector, Vector, Vector], Surface],
        relief: Callable[[Vector], Any] | None = None,
    ) -> Solid:
        """Make hair or cloth that moves with the head and shades the face."""
        return Solid(f"{self.name}.{part}", self.head, bound, distance, surface, relief, (), True, 0.007)


def _shrunk(p: Vector) -> Vector:
    return p[0] * (1.0 / BUILD), p[1] * (1.0 / BUILD), p[2] * (1.0 / BUILD)


def _flesh_and_cloth(person: Person) -> tuple[Solid, ...]:
    """Head, clothes and hands."""
    face = person.face
    head = Solid(
        f"{person.name}.head",
        person.head,
        ((0.0, -0.25, 0.0), 1.62),
        lambda p: figures.head(p, face),
        lambda p, _n, _v: figures.skin_surface(
            p, person.skin, face, person.lip, person.brow, person.gloss, person.beard
        ),
        figures.skin_relief,
        HEAD_BLOCKERS,
        True,
        0.005,
    )
    clothes = Solid(
        f"{person.name}.clothes",
        person.body,
        ((0.0, -3.55, 0.1), 2.75),
        lambda p: figures.torso(_shrunk(p), person.girth) * BUILD,
        lambda p, _n, _v: figures.cloth_surface(p, person.garment, person.cut),
        lambda p: figures.cloth_relief(p, person.cut),
        TORSO_BLOCKERS,
        True,
        0.012,
    )
    hands = Solid(
        f"{person.name}.hands",
        person.body,
        ((0.0, -4.58, 2.1), 1.5),
        lambda p: figures.hands(_shrunk(p)) * BUILD,
        lambda _p, _n, _v: Surface(person.skin, 0.16, 0.024 * person.gloss, soft=figures.SKIN_SOFTNESS),
        figures.skin_relief,
    )
    return head, clothes, hands


def _left(phase: float) -> tuple[Solid, ...]:
    """Build a woman in a ribbed sweater, with a blue head scarf, coral beads and gold earrings."""
    person = Person(
        name="left",
        place=(-4.95, 15.35 + 0.025 * math.sin(phase), 4.0),
        yaw=141.0 + 0.8 * math.sin(phase),
        pitch=8.0,
        roll=3.0,
        body_yaw=146.0,
        face=Face(nose=1.25, bridge=0.5, lips=1.40, brow=0.9, cheek=1.1, jaw=0.98),
        skin=(0.1385, 0.0847, 0.0548),
        lip=(0.135, 0.050, 0.042),
        brow=(0.012, 0.008, 0.006),
        garment=(0.27, 0.145, 0.024),
        gloss=0.95,
        girth=0.97,
        cut="knit",
    )
    scarf = person.on_head(
        "scarf",
        ((0.0, 0.55, -0.4), 1.45),
        lambda p: figures.wrap_shape(p, person.face),
        lambda p, _n, _v: _scarf(p),
    )
    beads = Solid(
        "left.beads",
        person.body,
        ((0.0, -1.7, -0.1), 1.25),
        lambda p: figures.beads(p) * 0.8,
        lambda _p, _n, _v: CORAL,
        fineness=0.015,
    )
    rings = (_earring(person, 0.80), _earring(person, -0.80))
    return (*_flesh_and_cloth(person), scarf, beads, *rings)


def _middle(phase: float) -> tuple[Solid, ...]:
    """Build a man with short black hair and a leather apron, who looks down at the lantern."""
    person = Person(
        name="middle",
        place=(0.45, 15.6 - 0.025 * math.sin(phase), 4.9),
        yaw=184.0 + 0.6 * math.cos(phase),
        pitch=17.0 + 0.5 * math.sin(phase),
        roll=-3.0,
        body_yaw=181.0,
        face=Face(width=1.04, jaw=1.06, nose=1.08, bridge=1.2, brow=1.1),
        skin=(0.285, 0.185, 0.118),
        lip=(0.225, 0.105, 0.080),
        brow=(0.016, 0.011, 0.008),
        garment=(0.040, 0.085, 0.110),
        gloss=1.1,
        girth=1.08,
        cut="apron",
        beard=0.75,
    )
    hair = person.on_head(
        "hair",
        ((0.0, 0.3, -0.25), 1.45),
        lambda p: figures.cap_of_hair(p, person.face, 0.075, figures.SHORT_HAIRLINE, 0.0, -0.66),
        lambda p, _n, _v: figures.hair_surface(p, BLACK_HAIR, (1.0, 0.1, 0.3), 0.014),
        figures.curl_relief,
    )
    return (*_flesh_and_cloth(person), hair)


def _right(phase: float) -> tuple[Solid, ...]:
    """Build a woman in a linen shirt, auburn hair in a bun."""
    person = Person(
        name="right",
        place=(5.35, 15.15 + 0.025 * math.sin(phase), 3.9),
        yaw=219.0 + 0.7 * math.cos(phase),
        pitch=9.0,
        roll=-4.0,
        body_yaw=214.0,
        face=Face(width=0.97, jaw=0.86, nose=0.90, bridge=0.9, lips=1.15, brow=0.75, cheek=1.05),
        skin=(0.4623, 0.3251, 0.2359),
        lip=(0.40, 0.165, 0.135),
        brow=(0.13, 0.055, 0.022),
        garment=(0.44, 0.39, 0.31),
        gloss=1.0,
        girth=0.92,
        cut="shirt",
    )
    hair = person.on_head(
        "hair",
        ((0.0, 0.3, -0.25), 1.5),
        lambda p: figures.cap_of_hair(p, person.face, 0.15, 0.66, -0.12, -0.62),
        lambda p, _n, _v: figures.hair_surface(p, AUBURN, (0.5, 0.8, 0.1), 0.026),
        lambda p: figures.hair_relief(p, (0.5, 0.8, 0.1), 0.03),
    )
    bun = person.on_head(
        "bun",
        ((0.0, 1.28, -0.72), 0.65),
        lambda p: ellipsoid(p, (0.0, 1.28, -0.72), (0.46, 0.38, 0.46)),
        lambda p, _n, _v: figures.hair_surface(p, AUBURN, (0.2, 0.7, 0.7), 0.026),
        lambda p: figures.hair_relief(p, (0.2, 0.7, 0.7), 0.03),
    )
    return (*_flesh_and_cloth(person), hair, bun)


def _scarf(p: Vector) -> Surface:
    """Deep blue cloth with gold bands."""
    band = np.sin(17.0 * (p[1] - 0.35 * p[2]) + 2.2 * np.sin(2.0 * p[0]))
    gold = smoothstep(0.90, 0.97, band)
    red, green, blue = (mix(b, g, gold) for b, g in zip(SCARF, (0.50, 0.27, 0.03), strict=True))
    return Surface((red, green, blue), 0.30, 0.05 + 0.12 * gold, soft=(0.1, 0.1, 0.1), fuzz=0.7)


def _earring(person: Person, side: float) -> Solid:
    centre = (side, -0.40, -0.08)
    return Solid(
        f"{person.name}.earring{side:+.1f}",
        person.head,
        (centre, 0.08),
        lambda p: sphere(p, centre, 0.075),
        lambda _p, _n, _v: GOLD,
    )


def people(phase: float) -> tuple[Solid, ...]:
    """Set up all three for an angle of the loop of motion, in radians: they breathe and nod a little."""
    return (*_left(phase), *_middle(phase), *_right(phase))
