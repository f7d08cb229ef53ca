"""Shapes of people: heads, hair and clothes as smooth distance fields, and the paint on them.

Head coordinates: x to the figure's left, y up, z out of the face, origin between the ears, decimetres.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from .shading import Surface
from .solids import (
    Point,
    Vector,
    capsule,
    clamp,
    ellipsoid,
    guarded,
    mix,
    smooth_cut,
    smooth_union,
    smoothstep,
)
from .texture import noise3

# How far light creeps past the terminator in skin: red furthest.
SKIN_SOFTNESS = (0.32, 0.15, 0.09)
SHORT_HAIRLINE = 0.72


@dataclass(frozen=True)
class Face:
    """Proportions of a head; 1.0 is the common form."""

    width: float = 1.0
    jaw: float = 1.0
    nose: float = 1.0
    bridge: float = 1.0
    lips: float = 1.0
    brow: float = 1.0
    cheek: float = 1.0


def _mirrored(p: Vector) -> Vector:
    return np.sqrt(p[0] * p[0] + 4e-4), p[1], p[2]


def head(p: Vector, face: Face) -> Any:
    """Distance to a head with neck, eyes lowered."""
    rough = ellipsoid(p, (0.0, 0.05, 0.0), (0.90 * face.width, 1.30, 1.20))
    rough = np.minimum(rough, capsule(p, (0.0, -0.5, -0.2), (0.0, -2.0, -0.50), 0.56 * face.width)) * 0.85 - 0.03
    return guarded(p, rough, 0.10, lambda near: _head(near, face))


def _head(p: Vector, face: Face) -> Any:
    q = _mirrored(p)
    w, jaw, full = face.width, face.jaw, face.lips
    shape = ellipsoid(q, (0.0, 0.42, -0.17), (0.74 * w, 0.78, 0.94))
    shape = smooth_union(shape, ellipsoid(q, (0.0, -0.16, 0.22), (0.60 * w, 0.80, 0.60)), 0.28)
    shape = smooth_union(shape, capsule(q, (0.44 * w * jaw, -0.46, 0.02), (0.15, -0.80, 0.56), 0.16, 0.13), 0.34)
    shape = smooth_union(shape, ellipsoid(q, (0.0, -0.85, 0.66), (0.20 * jaw, 0.15, 0.15)), 0.22)
    shape = smooth_union(shape, ellipsoid(q, (0.40 * w, -0.13, 0.54), (0.22, 0.18, 0.20 * face.cheek)), 0.30)
    shape = smooth_union(shape, capsule(q, (0.0, 0.27, 0.76), (0.40 * w, 0.29, 0.59), 0.10 * face.brow, 0.09), 0.18)
    shape = smooth_cut(shape, ellipsoid(q, (0.30 * w, 0.09, 0.93), (0.20, 0.12, 0.20)), 0.17)
    shape = smooth_union(shape, ellipsoid(q, (0.29 * w, 0.070, 0.650), (0.165, 0.130, 0.15)), 0.045)
    wide = face.nose
    tip = 0.955 + 0.05 * face.bridge
    shape = smooth_union(shape, capsule(q, (0.0, 0.20, 0.77), (0.0, -0.13, tip - 0.01), 0.075, 0.085 * wide), 0.17)
    shape = smooth_union(shape, ellipsoid(q, (0.0, -0.165, tip), (0.10 * wide, 0.09, 0.095)), 0.08)
    shape = smooth_union(shape, ellipsoid(q, (0.105 * wide, -0.205, 0.895), (0.070 * wide, 0.062, 0.095)), 0.075)
    shape = smooth_cut(shape, ellipsoid(q, (0.060 * wide, -0.275, 0.955), (0.026, 0.035, 0.045)), 0.04)
    shape = smooth_union(shape, ellipsoid(q, (0.0, -0.47, 0.65), (0.29, 0.20, 0.19)), 0.20)
    upper = capsule(q, (0.045, -0.425, 0.825), (0.215, -0.475, 0.725), 0.044 * full, 0.018)
    lower = capsule(q, (0.0, -0.535, 0.818), (0.170, -0.512, 0.745), 0.060 * full, 0.022)
    shape = smooth_union(shape, upper, 0.05)
    shape = smooth_union(shape, lower, 0.05)
    shape = smooth_cut(shape, capsule(q, (0.0, -0.474, 0.895), (0.235, -0.488, 0.755), 0.010, 0.006), 0.04)
    shape = smooth_cut(shape, capsule(q, (0.0, -0.30, 0.93), (0.0, -0.38, 0.90), 0.012), 0.05)
    ear = ellipsoid(q, (0.735 * w, 0.0, -0.12), (0.085, 0.25, 0.16))
    ear = smooth_cut(ear, ellipsoid(q, (0.83 * w, 0.03, -0.08), (0.07, 0.15, 0.08)), 0.05)
    shape = smooth_union(shape, ear, 0.06)
    neck = capsule(p, (0.0, -0.50, -0.22), (0.0, -2.0, -0.50), 0.46 * w, 0.52 * w)
    return smooth_union(shape, neck, 0.20)


def _band(p: Vector, start: tuple[float, float], end: tuple[float, float], sag: float, width: float) -> Any:
    """Soft stroke painted on the front of the face, mirrored."""
    x, y = np.abs(p[0]), p[1]
    share = clamp((x - start[0]) / (end[0] - start[0]))
    line = start[1] + (end[1] - start[1]) * share + sag * 4.0 * share * (1.0 - share)
    off = np.hypot(y - line, np.maximum(np.maximum(start[0] - x, x - end[0]), 0.0))
    return smoothstep(width, 0.35 * width, off) * (p[2] > 0.35)


def skin_surface(
    p: Vector, tone: Point, face: Face, lip: Point, brow: Point, gloss: float, beard: float = 0.0
) -> Surface:
    """Skin: warm blush, lips, brows and lashes over a base reflectance, with an oily and a matt sheen."""
    w = face.width
    mottled = noise3(p[0] * 2.3 + 7.0, p[1] * 2.3, p[2] * 2.3)
    fine = noise3(p[0] * 21.0, p[1] * 21.0 + 3.0, p[2] * 21.0)
    x = np.abs(p[0])
    cheek = np.exp(-(((x - 0.42 * w) / 0.24) ** 2 + ((p[1] + 0.20) / 0.22) ** 2)) * (p[2] > 0.2)
    tip = np.exp(-((p[0] / 0.16) ** 2 + ((p[1] + 0.16) / 0.13) ** 2)) * (p[2] > 0.75)
    ear = smoothstep(0.66 * w, 0.78 * w, x) * smoothstep(0.5, 0.2, np.abs(p[1]))
    flush = clamp(0.9 * cheek + 0.6 * tip + 0.7 * ear)
    eyelid = np.exp(-(((x - 0.29 * w) / 0.17) ** 2 + ((p[1] - 0.12) / 0.10) ** 2)) * (p[2] > 0.4)
    mouth = _band(p, (0.0, -0.480), (0.185, -0.486), 0.0, 0.086 * face.lips)
    seam = _band(p, (0.0, -0.478), (0.232, -0.490), 0.004, 0.013)
    strands = 0.75 + 0.25 * noise3(p[0] * 16.0 + p[1] * 9.0, p[1] * 26.0, p[2] * 3.0)
    eyebrow = _band(p, (0.115, 0.285), (0.47 * w, 0.265), 0.060, 0.062) * strands
    lash = _band(p, (0.165 * w, 0.022), (0.435 * w, 0.030), -0.040, 0.026)
    crease = _band(p, (0.17 * w, 0.165), (0.44 * w, 0.135), 0.025, 0.020)
    stubble = 0.0
    if beard:
        shaved = smoothstep(-0.13, 0.01, over_hairline(p, SHORT_HAIRLINE, 0.0)) * smoothstep(0.71 * w, 0.66 * w, x)
        region = smoothstep(-0.24, -0.42, p[1] + 0.10 * smoothstep(0.35, 0.62, x) * -1.6)
        clean = np.exp(-(((p[0] / 0.20) ** 2 + ((p[1] + 0.49) / 0.10) ** 2) ** 2))
        stubble = beard * region * (1.0 - clean) * smoothstep(-1.35, -1.05, p[1]) * smoothstep(-0.15, 0.1, p[2])
        stubble = np.maximum(stubble, shaved)
    albedo = []
    for k in range(3):
        warm = (1.05, 0.80, 0.76)[k]
        base = tone[k] * (1.0 + 0.07 * mottled + 0.05 * fine) * (1.0 + (warm - 1.0) * flush)
        base = base * (1.0 - 0.16 * eyelid * (1.0, 1.1, 1.0)[k])
        base = mix(base, lip[k], 0.85 * mouth)
        base = base * (1.0 - 0.72 * seam) * (1.0 - 0.38 * crease)
        base = mix(base, brow[k], clamp(0.9 * eyebrow + 0.95 * lash + stubble * (0.72 + 0.28 * fine)))
        albedo.append(base)
    oily = np.exp(-((p[0] / 0.42) ** 2)) * (1.0 - 0.5 * eyelid) + 0.7 * cheek + mouth
    hairy = clamp(eyebrow + lash + stubble)
    dry = np.exp(-(((x - 0.28 * w) / 0.20) ** 2 + ((p[1] + 0.02) / 0.11) ** 2))
    sheen = (
        (1.0 - 0.8 * dry) * gloss * (0.013 + 0.015 * clamp(oily, 0.0, 1.3)) * (1.0 + 0.30 * fine) * (1.0 - 0.6 * hairy)
    )
    alpha = 0.135 - 0.045 * clamp(oily) + 0.15 * hairy
    return Surface(tuple(albedo), alpha, sheen, soft=SKIN_SOFTNESS)


def skin_relief(p: Vector) -> Any:
    """Pores and faint unevenness, in decimetres."""
    return 0.0011 * noise3(p[0] * 19.0, p[1] * 19.0, p[2] * 19.0) + 0.0012 * noise3(p[0] * 5.0, p[1] * 5.0, p[2] * 5.0)


def apron(p: Vector) -> Any:
    """Cover 0..1 of an apron's bib and straps over the chest, body coordinates."""
    x = np.abs(p[0])
    bib = smoothstep(0.03, -0.03, np.maximum(x - 0.62 - 0.22 * clamp(-2.2 - p[1], 0.0, 1.5), p[1] + 2.05))
    strap = smoothstep(0.02, -0.02, np.abs(x - 0.50 - 0.10 * (p[1] + 2.0)) - 0.085) * smoothstep(-2.15, -2.05, p[1])
    return np.maximum(bib * (p[2] > -0.1), strap)


def placket(p: Vector) -> Any:
    """Distance from the button line of a shirt, body coordinates."""
    return np.abs(p[0] + 0.02 * np.sin(2.0 * p[1])) + np.maximum(-p[2], 0.0) * 10.0


def cloth_surface(p: Vector, colour: Point, cut: str, weave: float = 0.10) -> Surface:
    """Woven cloth, cut as a ribbed 'knit', a garment with an 'apron' or a buttoned 'shirt'."""
    thread = noise3(p[0] * 13.0, p[1] * 31.0, p[2] * 13.0) + noise3(p[0] * 31.0, p[1] * 11.0, p[2] * 31.0)
    worn = noise3(p[0] * 1.7, p[1] * 1.3, p[2] * 1.7)
    tone = 1.0 + weave * thread + 0.08 * worn
    albedo = [c * tone for c in colour]
    sheen, alpha = 0.022, 0.55
    if cut == "apron":
        cover = apron(p)
        stitch = smoothstep(0.25, 0.5, cover) * smoothstep(0.75, 0.5, cover)
        leather = (0.082, 0.036, 0.014)
        albedo = [
            mix(a, c * (1.0 + 0.25 * worn + 0.05 * thread) * (1.0 - 0.6 * stitch), cover)
            for a, c in zip(albedo, leather, strict=True)
        ]
        sheen, alpha = sheen + 0.012 * cover, alpha - 0.22 * cover
    elif cut == "knit":
        groove = 0.5 + 0.5 * np.cos(p[0] * 34.0 + 0.8 * np.sin(3.0 * p[1]))
        albedo = [a * (0.80 + 0.28 * groove) for a in albedo]
    elif cut == "shirt":
        line = placket(p)
        seam = smoothstep(0.018, 0.006, np.abs(line - 0.11))
        along_line = np.mod(p[1], 0.46) - 0.23
        button = smoothstep(0.055, 0.042, np.hypot(line, along_line))
        albedo = [mix(a * (1.0 - 0.55 * seam), c, button) for a, c in zip(albedo, (0.10, 0.065, 0.04), strict=True)]
    return Surface(tuple(albedo), alpha, sheen, soft=(0.12, 0.12, 0.12), fuzz=0.5)


def cloth_relief(p: Vector, cut: str) -> Any:
    """Folds and, by its cut, ribs or hems of a garment, in decimetres."""
    warp = noise3(p[0] * 0.55, p[1] * 0.35, p[2] * 0.55 + 4.0)
    fold = np.sin(2.2 * p[1] + 3.0 * np.abs(p[0]) + 4.5 * warp)
    height = 0.030 * fold * (0.35 + 0.65 * np.abs(warp)) + 0.003 * noise3(p[0] * 16.0, p[1] * 16.0, p[2] * 16.0)
    if cut == "knit":
        rib = np.cos(p[0] * 34.0 + 0.8 * np.sin(3.0 * p[1])) * (0.75 + 0.25 * np.cos(p[1] * 40.0))
        height = height + 0.010 * rib
    elif cut == "apron":
        height = height + 0.02 * apron(p)
    return height


def torso(p: Vector, girth: float = 1.0) -> Any:
    """Distance to a clothed upper body whose arms reach forward and down to the bench."""
    q = (np.abs(p[0]), p[1], p[2])
    rough = capsule(q, (0.4, -3.4, -0.5), (0.4, -6.5, -0.4), 1.72 * girth)
    rough = np.minimum(rough, capsule(q, (1.5 * girth, -2.6, -0.5), (1.95 * girth, -4.6, 0.2), 0.75))
    rough = np.minimum(rough, capsule(q, (1.98 * girth, -4.5, 0.15), (1.0, -5.3, 2.1), 0.48))
    return guarded(
        p,
        np.minimum(rough, ellipsoid(q, (0.0, -2.0, -0.5), (1.7, 0.75, 1.0)) * 0.8) - 0.02,
        0.12,
        lambda near: _torso(near, girth),
    )


def _torso(p: Vector, girth: float) -> Any:
    q = (np.sqrt(p[0] * p[0] + 0.02), p[1], p[2])
    chest = ellipsoid(q, (0.0, -3.5, -0.55), (1.55 * girth, 1.9, 0.95 * girth))
    belly = capsule(q, (0.0, -4.0, -0.5), (0.0, -6.5, -0.4), 1.25 * girth)
    shape = smooth_union(chest, belly, 0.6)
    shape = smooth_union(shape, capsule(q, (0.25, -1.98, -0.55), (1.55 * girth, -2.45, -0.60), 0.44, 0.50), 0.5)
    shape = smooth_union(shape, capsule(q, (1.62 * girth, -2.55, -0.55), (1.98 * girth, -4.5, 0.15), 0.50, 0.40), 0.25)
    shape = smooth_union(shape, capsule(q, (1.98 * girth, -4.5, 0.15), (1.0, -5.3, 2.1), 0.40, 0.30), 0.15)
    collar = (
        np.hypot(
            np.hypot(q[0], q[2] + 0.42 + 0.25 * (q[1] + 1.7)) - 0.58 * girth,
            (q[1] + 1.72 - 0.30 * q[2]) * 0.8,
        )
        - 0.11
    )
    return smooth_union(shape, collar, 0.16)


def hands(p: Vector) -> Any:
    """Distance to two resting hands at the ends of the arms of `torso`."""
    q = (np.abs(p[0]), p[1], p[2])
    shape = ellipsoid(q, (0.86, -5.32, 2.42), (0.26, 0.15, 0.34))
    shape = smooth_union(shape, capsule(q, (1.02, -5.27, 2.0), (0.92, -5.30, 2.3), 0.20), 0.12)
    for root, tip in (
        ((0.74, 2.62), (0.36, 2.72)),
        ((0.72, 2.74), (0.34, 2.90)),
        ((0.78, 2.80), (0.46, 3.06)),
        ((0.90, 2.76), (0.66, 3.12)),
    ):
        shape = smooth_union(shape, capsule(q, (root[0], -5.30, root[1]), (tip[0], -5.43, tip[1]), 0.098, 0.075), 0.05)
    thumb = capsule(q, (0.70, -5.25, 2.40), (0.40, -5.36, 2.50), 0.10, 0.08)
    return smooth_union(shape, thumb, 0.08)


def beads(p: Vector) -> Any:
    """Distance to a string of beads that lies around the neck."""
    angle = np.arctan2(p[0], p[2] + 0.25)
    count = 34.0 / (2.0 * np.pi)
    nearest = np.round(angle * count) / count
    radius = 0.70 + 0.16 * np.cos(nearest)
    drop = -1.55 - 0.42 * np.maximum(np.cos(nearest), 0.0)
    x, y, z = p[0] - radius * np.sin(nearest), p[1] - drop, p[2] + 0.25 - radius * np.cos(nearest)
    return np.sqrt(x * x + y * y + z * z) - 0.075


def over_hairline(p: Vector, line: float, parting: float) -> Any:
    """Height above a ragged hairline that runs from the forehead past the ears to the nape."""
    q = _mirrored(p)
    temple = 0.075 * smoothstep(0.30, 0.62, q[0]) * smoothstep(0.20, 0.62, p[2])
    ragged = 0.012 * np.sin(31.0 * p[0] + 9.0 * p[2]) * np.sin(17.0 * p[0] - 23.0 * p[2])
    return p[1] - line + ragged - 0.86 * (p[2] - 0.68) - parting * p[0] + 0.4 * q[0] * q[0] + temple


def cap_of_hair(p: Vector, face: Face, volume: float, line: float, parting: float, nape: float) -> Any:
    """Distance to hair that grows from a hairline over skull and nape.

    Parameters
    ----------
    p : Vector
        Local points.
    face : Face
        Proportions of the head.
    volume : float
        Depth of the hair, reached a little above the hairline.
    line : float
        Height of the hairline over the forehead.
    parting : float
        Slant of the hairline across the forehead.
    nape : float
        Height at which it ends on the neck.
    """
    q = _mirrored(p)
    w = face.width
    above = over_hairline(p, line, parting)
    thick = 0.014 + volume * smoothstep(0.0, 0.5, above)
    skull = ellipsoid(q, (0.0, 0.42, -0.17), (0.75 * w, 0.79, 0.95))
    skull = smooth_union(skull, ellipsoid(q, (0.0, -0.18, -0.50), (0.56 * w, 0.55, 0.46)), 0.25)
    hair = smooth_cut(skull - thick, above * 0.7, 0.05)
    hair = smooth_cut(hair, ellipsoid(q, (0.80 * w, -0.03, -0.07), (0.20, 0.29, 0.19)), 0.08)
    return np.maximum(hair, nape - p[1]) * 0.85


def hair_surface(p: Vector, colour: Point, direction: Point, gloss: float = 0.05) -> Surface:
    """Hair: strands across the given direction carry light and dark."""
    across = p[0] * direction[0] + p[1] * direction[1] + p[2] * direction[2]
    strand = noise3(across * 34.0, p[1] * 2.2 + 5.0, p[2] * 2.2) + 0.7 * noise3(across * 11.0, p[1] * 1.4, p[2] * 1.4)
    tone = 1.0 + 0.40 * strand
    shine = gloss * np.maximum(0.45 + 0.75 * strand, 0.05)
    return Surface(tuple(c * tone for c in colour), 0.34, shine, soft=(0.2, 0.15, 0.12), fuzz=0.5)


def hair_relief(p: Vector, direction: Point, depth: float = 0.02) -> Any:
    """Locks and strands."""
    across = p[0] * direction[0] + p[1] * direction[1] + p[2] * direction[2]
    lock = noise3(across * 7.0, p[1] * 1.1, p[2] * 1.1)
    return depth * (lock + 0.35 * noise3(across * 22.0, p[1] * 2.0, p[2] * 2.0))


def curl_relief(p: Vector) -> Any:
    """Raise short curls."""
    return 0.050 * noise3(p[0] * 8.0, p[1] * 8.0, p[2] * 8.0) + 0.018 * noise3(p[0] * 19.0, p[1] * 19.0, p[2] * 19.0)


def wrap_shape(p: Vector, face: Face) -> Any:
    """Distance to a wound head scarf."""
    q = _mirrored(p)
    w = face.width
    body = ellipsoid(q, (0.0, 0.62, -0.28), (0.86 * w, 0.80, 1.02))
    back = ellipsoid(q, (0.0, 0.55, -1.05), (0.52, 0.50, 0.46))
    shape = smooth_union(body, back, 0.25)
    height = p[1] - 0.42 * p[2] * 0.0
    rolls = 0.030 * np.sin(8.5 * (height - 0.35 * p[2]) + 1.1 * np.sin(2.0 * p[0]))
    shape = shape - rolls
    cutter = p[1] - 0.30 * p[2] - 0.32 + 0.12 * np.abs(p[0])
    shape = smooth_cut(shape, cutter, 0.10)
    return shape * 0.8
