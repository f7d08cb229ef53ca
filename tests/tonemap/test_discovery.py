"""Discovery: a folder is listed, at little cost, and not run. Packages: tests/commands/test_packaged_operator.py."""

import statistics
import sys
import time
from pathlib import Path

from tonemap.host import find_operators

PAIR = """
import sys
sys.was_run = getattr(sys, "was_run", ()) + (__name__,)

from tonemap.operator import Operator


class Any(Operator):
    interface_version = 1
    name = title = "{name}"
    kind = "tone"
    source = "a test"

    def apply(self, light, p):
        return light * 0.5
"""
GLSL = '#include "lib/levels.glsl"\nvec3 {name}(vec3 light, Levels levels) {{ return light * 0.5; }}\n'


def write_pairs(folder: Path, count: int) -> None:
    for number in range(count):
        (folder / f"own_{number}.py").write_text(PAIR.format(name=f"own_{number}"))
        (folder / f"own_{number}.glsl").write_text(GLSL.format(name=f"own_{number}"))


def test_nothing_of_a_folder_runs_before_it_is_asked_for(tmp_path, monkeypatch):
    write_pairs(tmp_path, 3)
    monkeypatch.setattr(sys, "was_run", (), raising=False)
    host = find_operators([tmp_path])
    assert {"own_0", "own_1", "own_2"} <= set(host.names)
    assert sys.was_run == ()
    host.get("own_1")
    assert [name.rpartition(".")[2] for name in sys.was_run] == ["own_1"]
    assert not (tmp_path / "__pycache__").exists()


def test_a_hundred_operators_add_at_most_50_ms_to_the_start(tmp_path):
    """Our own bar: a start is not to be felt."""
    write_pairs(tmp_path, 100)

    def seconds(folders: list[Path]) -> float:
        start = time.process_time()
        assert len(find_operators(folders).names) > 100 * len(folders)
        return time.process_time() - start

    added = statistics.median(seconds([tmp_path]) - seconds([]) for _ in range(9))
    assert added < 0.05, added
