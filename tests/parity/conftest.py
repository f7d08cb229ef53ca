"""The engines under test: the reference, the gpu engine by each of its mains on one context each, the cpu engine."""

from collections.abc import Iterator

import pytest

from tonemap.host import Host, find_operators
from tonemap.parity import Remembering
from tonemap.reference import ReferenceEngine
from viewer.engine import GpuEngine
from viewer.vectors.engine import VectorEngine


@pytest.fixture(scope="session")
def host() -> Host:
    return find_operators()


@pytest.fixture(scope="session")
def reference() -> Remembering:
    return Remembering(ReferenceEngine())


@pytest.fixture(scope="session")
def engines() -> Iterator[dict[str, GpuEngine | VectorEngine]]:
    engines: dict[str, GpuEngine | VectorEngine] = {
        "fragment": GpuEngine("fragment"),
        "compute": GpuEngine("compute"),
        "cpu": VectorEngine(),
    }
    yield engines
    for engine in engines.values():
        engine.close()


@pytest.fixture(params=["fragment", "compute", "cpu"])
def engine(request: pytest.FixtureRequest, engines: dict[str, GpuEngine | VectorEngine]) -> GpuEngine | VectorEngine:
    return engines[request.param]
