"""The invented island, made once for all tests that want it."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).resolve().parents[2] / "demo"
if str(DEMO) not in sys.path:
    sys.path.insert(0, str(DEMO))


@pytest.fixture(scope="session")
def demo_folder() -> Path:
    """The folder that holds ``area`` and ``truth``; the island is made when it is missing or out of date."""
    import make

    make.ready()
    return DEMO
