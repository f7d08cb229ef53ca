"""The engines under test: the reference, and the gpu engine by each of its mains, on one context each."""

from collections.abc import Iterator

import pytest

from tonemap.host import Host, find_operators
from tonemap.parity import Remembering
from tonemap.reference import ReferenceEngine
from viewer.engine import GpuEngine


@pytest.fixture(scope="session")
def host() -> Host:
    return find_operators()


@pytest.fixture(scope="session")
def reference() -> Remembering:
    return Remembering(ReferenceEngine())


@pytest.fixture(scope="session")
def engines() -> Iterator[tuple[GpuEngine, GpuEngine]]:
    engines = GpuEngine("fragment"), GpuEngine("compute")
    yield engines
    for engine in engines:
        engine.close()


@pytest.fixture(params=["fragment", "compute"])
def engine(request: pytest.FixtureRequest, engines: tuple[GpuEngine, GpuEngine]) -> GpuEngine:
    return next(engine for engine in engines if engine.main == request.param)
