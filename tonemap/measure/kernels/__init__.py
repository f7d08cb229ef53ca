"""Compiled loops over rows of pixels, for figures at a decoder's pace.

Each has a definition in NumPy, named in its docstring, and tests hold it to that. Its modules load Numba, so nothing
imports them but `compiled_rows`.
"""

import hashlib
import os
import tempfile
from functools import cache
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

LOOP: Any = {"nogil": True, "no_cpython_wrapper": True, "_nrt": False}
"""How a loop is compiled that only other loops call: it allocates nothing, so it needs no counts of references.

Counting them, for every slice and for every array of a tuple that is handed on, took a fifth of the time.
"""

SEGMENT = 1024
"""Columns whose light is worked on together, so that it stays in the nearest cache.

Their channels lie so far apart in one line of memory: then LLVM sees that a loop's results are not its input, and makes
vector instructions of a loop that reads and writes several channels.
"""

CONSTANTS = (
    "measure/counting",
    "measure/light_cells",
    "measure/light_of_planes",
    "measure/light_tally",
    "colorimetry",
    "encoding",
    "transfer",
)
"""Modules of `tonemap` whose values the machine code holds, or the order of the fields of their tuples."""


@cache
def compiled_rows() -> ModuleType:
    """Return `kernels.rows`, whose functions are compiled at their first call and kept for later runs.

    They are kept in a folder of their own for every text of the sources: Numba by itself looks at the file of the
    called function only, and would go on with old code when another file has changed.
    """
    from numba import config

    settings: Any = config
    before = settings.CACHE_DIR
    settings.CACHE_DIR = str(_writable(_folder()))
    try:
        return import_module(".rows", __name__)
    finally:
        settings.CACHE_DIR = before


def are_compiled(loop: str) -> bool:
    """Say whether an earlier run has left machine code of a loop; without it, the first frame takes seconds longer.

    `measure_planes` is what a movie's frames take, `measure_light` what other pictures do.
    """
    return any(_folder().rglob(f"rows.{loop}-*.nbi"))


def _folder() -> Path:
    base = os.environ.get("NUMBA_CACHE_DIR") or os.environ.get("XDG_CACHE_HOME") or Path("~/.cache").expanduser()
    return Path(base) / f"trimbench-{_digest()}"


def _digest() -> str:
    here = Path(__file__).parent
    house = here.parent.parent
    sources = [*sorted(here.glob("*.py")), *(house / f"{name}.py" for name in CONSTANTS)]
    return hashlib.sha256(b"".join(source.read_bytes() for source in sources)).hexdigest()[:16]


def _writable(folder: Path) -> Path:
    """Return the folder; where it can't be made a new one, for others might have put code into one of a known name."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        return Path(tempfile.mkdtemp(prefix="trimbench-"))
    return folder
