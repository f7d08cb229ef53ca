"""The view through the workshop window: an evening sky, hills, boats and the low sun on the water."""

import math
from typing import Any

import numpy as np

from .solids import Vector, mix, smoothstep
from .texture import layered2, noise2

SUN_AZIMUTH = -0.118
SUN_ELEVATION = 0.024
SUN_RADIUS = 0.0125

# Chromaticity and level of the sky as BT.2020 linear light, 1.0 = 203 nits after the OOTF.
ZENITH = (0.020, 0.060, 0.170)
MIDDLE = (0.100, 0.095, 0.165)
HORIZON = (0.80, 0.275, 0.066)
SUN = (52.0, 26.0, 7.5)
EMBER = (1.7, 0.55, 0.095)


def _sky(azimuth: Any, elevation: Any, phase: float) -> list[Any]:
    rise = np.maximum(elevation, 0.0)
    low = np.exp(-rise / 0.034)
    mid = np.exp(-rise / 0.085)
    near = np.hypot((azimuth - SUN_AZIMUTH) * 0.55, elevation - SUN_ELEVATION)
    halo = np.exp(-near / 0.035)
    streak = layered2(azimuth * 9.0 + 3.0 + 0.02 * math.sin(phase), elevation * 75.0, 4)
    cloud = smoothstep(0.02, 0.55, streak) * smoothstep(0.0, 0.05, rise) * (0.4 + 0.6 * low)
    disc = smoothstep(SUN_RADIUS * 1.06, SUN_RADIUS * 0.94, np.hypot(azimuth - SUN_AZIMUTH, elevation - SUN_ELEVATION))
    result = []
    for k in range(3):
        base = mix(ZENITH[k], MIDDLE[k], mid)
        base = mix(base, HORIZON[k], low) + EMBER[k] * halo
        lit = 1.2 * EMBER[k] * (0.10 + 0.55 * halo) + 0.35 * base
        base = mix(base, lit, 0.75 * cloud)
        result.append(base + SUN[k] * disc)
    return result


def view(direction: Vector, phase: float) -> Vector:
    """Light that arrives from outside along a direction.

    Parameters
    ----------
    direction : Vector
        Unit world direction, looking out of the window (+z).
    phase : float
        Angle of the loop of motion in radians; the water shimmers with it.

    Returns
    -------
    Vector
        BT.2020 linear light, 1.0 = diffuse white.
    """
    ahead = np.maximum(direction[2], 1e-3)
    azimuth = direction[0] / ahead
    elevation = direction[1] / ahead
    sky = _sky(azimuth, elevation, phase)

    ridge = (
        0.012 + 0.009 * noise2(azimuth * 7.0 + 40.0, np.zeros_like(azimuth)) + 0.022 * smoothstep(0.02, 0.34, azimuth)
    )
    hill = smoothstep(0.0015, -0.0015, elevation - ridge) * (elevation > 0.0)
    haze = (0.25, 0.105, 0.075)
    result = [
        mix(s, h * (0.35 + 0.65 * np.exp(-np.abs(azimuth - SUN_AZIMUTH) / 0.12)), hill)
        for s, h in zip(sky, haze, strict=True)
    ]

    depth = np.maximum(-elevation, 5e-4)
    scale = 0.5 * depth + 0.0025
    dash_x, dash_y = azimuth / scale, 11.0 * np.log(depth)
    ripple = noise2(0.9 * dash_x + 0.14 * math.sin(phase), dash_y + 0.14 * math.cos(phase))
    ripple = ripple + 0.5 * noise2(2.1 * dash_x + 0.16 * math.cos(phase), 1.9 * dash_y + 0.16 * math.sin(phase) + 9.0)
    lifted = depth * 0.9 + 0.012 * np.abs(ripple) + 0.004
    mirrored = _sky(azimuth + 0.004 * ripple, lifted, phase)
    path = np.exp(-(((azimuth - SUN_AZIMUTH) / (0.009 + 0.16 * depth)) ** 2))
    sparkle = smoothstep(0.05, 0.85, ripple) * path * np.exp(-depth / 0.11)
    fresnel = 0.22 + 0.5 * np.exp(-depth / 0.035)
    tint = (0.004, 0.010, 0.014)
    water = elevation < 0.0
    for k in range(3):
        sheet = mirrored[k] * fresnel + tint[k] + 0.5 * SUN[k] * sparkle + 0.28 * EMBER[k] * path
        result[k] = np.where(water, np.minimum(sheet, SUN[k]), result[k])

    for place, top, lean, width in (
        (-0.262, 0.150, 0.004, 0.0016),
        (-0.215, 0.105, -0.003, 0.0013),
        (0.035, 0.125, 0.003, 0.0015),
        (0.062, 0.085, -0.002, 0.0012),
        (0.20, 0.11, 0.003, 0.0015),
    ):
        sway = 0.0012 * math.sin(phase + place * 40.0) * np.maximum(elevation, 0.0) / 0.1
        mast = np.abs(azimuth - place - lean * elevation / 0.1 - sway) < width * (1.3 - elevation / top * 0.6)
        mast = mast & (elevation < top) & (elevation > -0.012)
        stay = np.abs(np.abs(azimuth - place) - (top - elevation) * 0.28) < 0.0005
        stay = stay & (elevation < top) & (elevation > 0.0)
        hull_shape = ((azimuth - place) / 0.040) ** 4 + ((elevation + 0.010) / 0.010) ** 2
        dark = mast | stay | (hull_shape < 1.0)
        for k, shade in enumerate((0.020, 0.013, 0.014)):
            result[k] = np.where(dark, shade, result[k])
    return tuple(result)
