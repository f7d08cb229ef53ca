"""Set up the checkout, check its style and its types, and run its tests.

Arguments go to pytest: `python3 tests/run.py -k pq`. Tests run in as many processes as there are cores (2 to 8), those
of one file in the same; `-n 0` runs them in pytest's own, which a debugger needs.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from demo.environment import CHECKOUT, SetupFailed, prepare


def processes() -> int:
    """Return how many processes run the tests: much of the time goes to single threads and to waiting for programs."""
    return min(max(os.cpu_count() or 1, 2), 8)


def main(pytest_arguments: list[str]) -> int:
    """Run every check, also after one has failed; returns the exit status."""
    try:
        environment = prepare(extras=["test"], for_tests=True)
    except SetupFailed as fault:
        print(fault, file=sys.stderr)
        return 1
    checks = {
        "style": ["ruff", "check", "--quiet", "--output-format", "concise"],
        "format": ["ruff", "format", "--check", "--quiet", "--output-format", "concise"],
        "types": ["mypy", "--no-error-summary"],
        "tests": ["pytest", "-n", str(processes()), "--dist", "loadfile", *pytest_arguments],
    }
    results = []
    for name, command in checks.items():
        print(f"== {name}: {' '.join(command)}", flush=True)
        start = time.monotonic()
        status = subprocess.run([environment.python, "-m", *command], cwd=CHECKOUT, check=False).returncode
        results.append((name, status, time.monotonic() - start))
    print("== summary")
    for name, status, seconds in results:
        print(f"{name:<8}{'passed' if status == 0 else 'FAILED':<8}{seconds:6.1f} s")
    failed = any(status != 0 for _, status, _ in results)
    if failed and environment.advice:
        print(environment.advice)
    return int(failed)


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit("stopped")
