"""Which files of an area's folder are record files."""

from __future__ import annotations

from pathlib import Path

import pytest

from gapmap.errors import FileError
from gapmap.workflow.source import open_source


def test_hidden_files_and_those_in_hidden_folders_are_nobodys_records(tmp_path: Path) -> None:
    """Where systems keep their own: a bin of deleted files (FreeDesktop.org trash specification), resource forks."""
    (tmp_path / "area.toml").write_text("[area]\n", encoding="utf-8")
    records = tmp_path / "records"
    for name in ("a.csv", "2010/b.csv", ".Trash-1000/files/c.csv", "__MACOSX/d.csv", ".e.csv", "~$f.xlsx", "Thumbs.db"):
        (records / name).parent.mkdir(parents=True, exist_ok=True)
        (records / name).write_text("species,reference,date\nOniscus asellus,OR4672,2001\n", encoding="utf-8")
    assert [path.relative_to(records).as_posix() for path in open_source([str(tmp_path)]).files] == ["2010/b.csv", "a.csv"]


def test_a_name_with_spaces_that_was_typed_bare_is_told_to_be_quoted(tmp_path: Path) -> None:
    """A terminal takes ``my area`` for two names."""
    folder = tmp_path / "my area"
    folder.mkdir()
    with pytest.raises(FileError, match=r'put it in quotation marks: ".*my area"'):
        open_source(str(folder).split(" "))
