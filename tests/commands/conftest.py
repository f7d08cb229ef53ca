"""Small masters on disk, and a way to run the program in this process."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tonemap.encoding import Encoding
from tonemap.media.oiio_output import write_codes
from viewer.commands import main


@dataclass(frozen=True)
class Outcome:
    """What a run of the program left: its exit status and what it printed."""

    status: int
    out: str
    err: str


@pytest.fixture
def trimbench(capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    """Run the program with words, and return what it did."""

    def run(*words: object) -> Outcome:
        capsys.readouterr()
        status = main([str(word) for word in words])
        printed = capsys.readouterr()
        return Outcome(status, printed.out, printed.err)

    return run


@pytest.fixture
def codes() -> np.ndarray:
    """Return PQ code values, 10 bits narrow, (24, 32, 3): a ramp down and colours across."""
    random = np.random.default_rng(8)
    ramp = np.linspace(64, 940, 24)[:, np.newaxis, np.newaxis]
    return np.clip(ramp + random.integers(-60, 60, (24, 32, 3)), 64, 940).astype(np.uint16)


@pytest.fixture
def master(tmp_path: Path, codes: np.ndarray) -> Path:
    """Write a PQ master that carries its encoding."""
    path = tmp_path / "master.png"
    write_codes(path, codes, Encoding("pq", "bt2020", "narrow", 10))
    return path
