"""One context of the GL driver for all tests of vector code."""

from collections.abc import Iterator

import pytest

from .drawing import Driver


@pytest.fixture(scope="session")
def driver() -> Iterator[Driver]:
    driver = Driver()
    yield driver
    driver.close()
