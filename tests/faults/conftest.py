"""What every test here needs: an area folder of its own, and runs that start quickly."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).resolve().parent))

from fault_runs import Runs, make_area


@pytest.fixture(scope="session")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Runs]:
    """Runs in the usual surroundings."""
    made = Runs(tmp_path_factory.mktemp("runs"))
    yield made
    made.close()


@pytest.fixture
def area(tmp_path: Path) -> Path:
    """An area folder of its own with two files of invented records."""
    return make_area(tmp_path / "area")
