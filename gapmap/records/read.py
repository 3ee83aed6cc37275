"""Any file that people send, opened as raw tables of text."""

from __future__ import annotations

from pathlib import Path

from gapmap.errors import FileError
from gapmap.records.delimited import open_delimited
from gapmap.records.raw import RawTable


def open_file(path: Path, file: str) -> list[RawTable]:
    """Open a file of records, whatever it is.

    Parameters
    ----------
    path
        The file.
    file
        Its name as shown to people.

    Returns
    -------
    list of RawTable
        One for each sheet or layer that holds a table.

    Raises
    ------
    FileError
        The file cannot be read, is not what its name says, or is dangerous to open.
    """
    if not path.is_file():
        raise FileError(f"{file} cannot be found", do="check its name and folder")
    return open_delimited(path, file)
