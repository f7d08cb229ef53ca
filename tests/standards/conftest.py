"""The general-purpose libraries that the standards' tests compare with; neither shares code with Trimbench."""

import warnings

import numpy as np
import pytest


@pytest.fixture(scope="session")
def colour():
    """colour-science, whose import warns about its own optional packages."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour


@pytest.fixture(scope="session")
def ocio():
    """OpenColorIO's bindings."""
    import PyOpenColorIO

    return PyOpenColorIO


@pytest.fixture(scope="session")
def ocio_apply(ocio):
    """Return a function that runs float32 pixels (n, 3) through an OpenColorIO transform; the result is float64.

    Optimisation is off: the default replaces powers by a fast approximation that is 4e-5 off.
    """
    config = ocio.Config.CreateRaw()

    def apply(transform, pixels):
        processor = config.getProcessor(transform).getOptimizedCPUProcessor(ocio.OPTIMIZATION_NONE)
        work = np.array(pixels, dtype=np.float32, order="C")
        processor.applyRGB(work.reshape(-1))
        return work.astype(np.float64)

    return apply


@pytest.fixture(scope="session")
def ocio_matrix(ocio):
    """Return a function that reads the 3 x 3 matrix, in float64, with which an OpenColorIO built-in starts."""
    config = ocio.Config.CreateRaw()

    def matrix(name):
        first = next(iter(config.getProcessor(ocio.BuiltinTransform(name)).createGroupTransform()))
        return np.array(first.getMatrix()).reshape(4, 4)[:3, :3]

    return matrix


@pytest.fixture(scope="session")
def half_floats():
    """Return a function that lists every half-float from 0 to `top`, ascending, as greys (n, 3) in float64.

    OpenColorIO keeps its built-in curves as tables over half-floats: at these points it doesn't interpolate.
    """
    positive = np.arange(0x7C00, dtype=np.uint16).view(np.float16).astype(np.float64)

    def greys(top):
        return np.repeat(positive[positive <= top][:, np.newaxis], 3, axis=1)

    return greys
