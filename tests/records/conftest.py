"""What the tests of this room share: small files, read whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import AreaSection, RecordsSection, Settings

OPEN_DATA = Path(__file__).parents[3] / "shared" / "data"


def settings(**options: object) -> Settings:
    """Settings of an area with these options of [area] and [records]."""
    reading = {name: options.pop(name) for name in list(options) if name in RecordsSection.model_fields}
    return Settings(area=AreaSection(**options), records=RecordsSection(**reading))  # type: ignore[arg-type]


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Records]:
    """Write one file (text as UTF-8, or bytes) and read it."""

    def write_and_read(content: str | bytes, name: str = "club.csv", **options: object) -> Records:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return read_records([path], settings(**options))

    return write_and_read


@pytest.fixture
def open_data() -> Path:
    """Folder of the open data sets kept beside the project."""
    if not OPEN_DATA.is_dir():
        pytest.skip("the open data sets are not beside the project")
    return OPEN_DATA
