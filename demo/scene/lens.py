"""What the lens does to light: defocus, veiling glare and the resampling they need; all linear in light.

Convolutions run in float64, so that the rounding of a 20 000-nit filament stays far below the darkest shadow.
"""

from typing import Any

import numpy as np


def _resize_axis(image: Any, size: int) -> Any:
    """Exact area average when shrinking, linear interpolation when enlarging, along the first axis."""
    count = image.shape[0]
    if size == count:
        return image
    if size < count:
        total = np.concatenate((np.zeros_like(image[:1]), np.cumsum(image, axis=0)))
        edge = np.arange(size + 1) * (count / size)
        low = np.minimum(edge.astype(int), count - 1)
        share = (edge - low).reshape(-1, *(1,) * (image.ndim - 1))
        integral = total[low] + (total[low + 1] - total[low]) * share
        return np.diff(integral, axis=0) * (size / count)
    place = np.clip((np.arange(size) + 0.5) * (count / size) - 0.5, 0.0, count - 1.0)
    low = np.minimum(place.astype(int), max(count - 2, 0))
    share = (place - low).reshape(-1, *(1,) * (image.ndim - 1))
    return image[low] + (image[np.minimum(low + 1, count - 1)] - image[low]) * share


def resize(image: Any, width: int, height: int) -> Any:
    """Resample an image (rows, columns, channels) to another size."""
    rows = _resize_axis(np.asarray(image, np.float64), height)
    return np.swapaxes(_resize_axis(np.swapaxes(rows, 0, 1), width), 0, 1)


def convolve(image: Any, kernel: Any) -> Any:
    """Convolve each channel with a centred kernel; the picture's border is held outwards."""
    reach = kernel.shape[0] // 2
    padded = np.pad(np.asarray(image, np.float64), ((reach, reach), (reach, reach), (0, 0)), mode="edge")
    shape = tuple(size + 2 * reach for size in padded.shape[:2])
    shape = tuple(1 << (size - 1).bit_length() if size < 64 else -(-size // 32) * 32 for size in shape)
    spectrum = np.fft.rfft2(kernel, shape)
    result = np.empty(image.shape, np.float64)
    for channel in range(image.shape[2]):
        full = np.fft.irfft2(np.fft.rfft2(padded[..., channel], shape) * spectrum, shape)
        result[..., channel] = full[2 * reach : 2 * reach + image.shape[0], 2 * reach : 2 * reach + image.shape[1]]
    return np.maximum(result, 0.0)


def disc(radius: float) -> Any:
    """Kernel of a defocused point, slightly brighter at the rim as in a real lens; `radius` in pixels."""
    reach = int(np.ceil(radius)) + 1
    offset = np.arange(-reach, reach + 1)
    away = np.hypot(offset[:, np.newaxis], offset[np.newaxis, :])
    kernel = np.clip(radius + 0.5 - away, 0.0, 1.0) * (0.8 + 0.35 * np.minimum(away / max(radius, 1e-6), 1.0) ** 3)
    return kernel / kernel.sum()


def defocus(image: Any, radius: float) -> Any:
    """Blur to a disc of `radius` picture heights."""
    pixels = radius * image.shape[0]
    return np.asarray(image, np.float64) if pixels < 0.35 else convolve(image, disc(pixels))


GLARE_HEIGHT = 270
GLARE_LOBES = ((0.004, 0.030), (0.014, 0.022), (0.045, 0.014), (0.15, 0.0025))


def glare(image: Any) -> Any:
    """Spread a small share of the light around its source, as scattering in lens and eye does.

    The lobes (standard deviation in picture heights, share of the light) are computed on a picture of
    `GLARE_HEIGHT` rows, whatever the size, so that every size shows the same halo. Light is moved, not added.
    """
    height, width = image.shape[:2]
    small_height = min(GLARE_HEIGHT, height)
    small = resize(image, max(1, round(width * small_height / height)), small_height)
    reach = int(0.45 * small_height)
    offset = np.arange(-reach, reach + 1) / small_height
    squared = offset[:, np.newaxis] ** 2 + offset[np.newaxis, :] ** 2
    kernel = np.zeros_like(squared)
    kept = 1.0
    for deviation, share in GLARE_LOBES:
        lobe = np.exp(squared * (-0.5 / deviation**2))
        kernel += lobe * (share / lobe.sum())
        kept -= share
    return image * kept + resize(convolve(small, kernel), width, height)


def falloff(width: int, height: int, amount: float = 0.22) -> Any:
    """Natural fall of light towards the corners: share kept (rows, columns, 1)."""
    x = (np.arange(width) + 0.5) / width * 2.0 - 1.0
    y = ((np.arange(height) + 0.5) / height * 2.0 - 1.0) * (height / width)
    squared = (x[np.newaxis, :] ** 2 + y[:, np.newaxis] ** 2)[..., np.newaxis]
    return 1.0 / (1.0 + amount * squared) ** 2


def grain(light: Any, frame: int, strength: float = 0.010) -> Any:
    """Add fine grain, seeded by the frame: relative in the lights, a few thousandths of a nit at black."""
    generator = np.random.default_rng((2020, frame))
    shape = light.shape[:2]
    common = generator.standard_normal(shape, dtype=np.float32)
    single = generator.standard_normal((*shape, 3), dtype=np.float32)
    pattern = 0.8 * common[..., np.newaxis] + 0.35 * single
    amount = strength * light / (1.0 + light / 400.0) + 0.0015
    return np.maximum(light + amount * pattern, 0.0)
