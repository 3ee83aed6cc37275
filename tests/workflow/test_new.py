"""An area is named after its folder, whichever way the folder is written."""

from __future__ import annotations

from pathlib import Path

import pytest

from gapmap.settings import read_settings
from gapmap.workflow.new import new


def test_the_folder_where_one_stands_gives_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "Upper Marsh"
    home.mkdir()
    monkeypatch.chdir(home)
    new(Path())
    assert read_settings(home / "area.toml").area.name == "Upper Marsh"


def test_a_name_over_two_lines_is_one(tmp_path: Path) -> None:
    new(tmp_path / "area", 'The "old"\nMarsh \\ fen')
    assert read_settings(tmp_path / "area" / "area.toml").area.name == 'The "old" Marsh \\ fen'
