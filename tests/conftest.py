"""What every test run shares: a header that says where it ran."""

import platform

import numpy as np


def pytest_report_header() -> str:
    """Name the system and the NumPy that the figures of this run belong to."""
    return f"system: {platform.platform()}, NumPy {np.__version__}"
