"""The small lists an organiser keeps by hand (checklist, people, places, decisions, volunteers), read all alike.

Some were written by gapmap, which puts an apostrophe before what a spreadsheet would run as a formula
(``-1999.csv:2``); it is taken away again.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from gapmap.errors import ColumnError, FileError

_DELIMITERS = ",;\t"
#: What a spreadsheet runs as a formula, or would if an apostrophe were taken from it.
_FORMULA = re.compile(r"'*[=+\-@]")


@dataclass(frozen=True)
class OwnList:
    """A list's heading and rows, every cell as it was meant, stripped of blanks around it.

    Parameters
    ----------
    header
        The headings as written.
    rows
        Number of the row in the file (the heading is row 1) and its cells, as many as headings; blank lines are
        left out.
    """

    header: list[str]
    rows: list[tuple[int, list[str]]]

    def dicts(self) -> list[tuple[int, dict[str, str]]]:
        """The rows with each cell under its heading in small letters."""
        names = [name.lower() for name in self.header]
        return [(number, dict(zip(names, cells, strict=True))) for number, cells in self.rows]


def read_own_list(path: Path, called: str, *, needs: Collection[str] = (), do: str = "") -> OwnList:
    """Read a small CSV list: comma, semicolon or tab between cells, UTF-8 or what a spreadsheet saves.

    Parameters
    ----------
    path
        The file.
    called
        What people call it, for the sentences: ``the people's file``.
    needs
        Headings it cannot do without, in small letters.
    do
        What to do when one of them is missing.

    Raises
    ------
    FileError
        The file cannot be read, or is no text.
    ColumnError
        A heading is missing.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "people.csv"
    ...     _ = path.write_text("Written; Name\\nA.M.; A. Marsh\\n\\nB.H.\\n", encoding="utf-8")
    ...     read_own_list(path, "the people's file", needs=["written", "name"]).dicts()
    [(2, {'written': 'A.M.', 'name': 'A. Marsh'}), (4, {'written': 'B.H.', 'name': ''})]
    """
    title = f"{called[:1].upper()}{called[1:]} {path.name}"
    text = _text(path, title)
    heading = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=max(_DELIMITERS, key=heading.count))
    try:
        lines = [[as_meant(cell) for cell in line] for line in reader]
    except csv.Error as error:
        raise FileError(f"{title} cannot be understood", found=error, do="save it as CSV, UTF-8") from error
    header = lines[0] if lines else []
    missing = [name for name in needs if name not in {heading.lower() for heading in header}]
    if missing:
        raise ColumnError(
            f"{title} has no column called {missing[0]}", found=", ".join(header) or "an empty file",
            do=do or f"give it the columns {' and '.join(needs)}",
        )  # fmt: skip
    width = len(header)
    numbered = [(number, line) for number, line in enumerate(lines[1:], start=2) if any(line) or len(line) > 1]
    return OwnList(header, [(number, (line + [""] * width)[:width]) for number, line in numbered])


def harmless(cell: str) -> str:
    """A cell that no spreadsheet will run as a formula; ``as_meant`` gives back what it was.

    Examples
    --------
    >>> harmless("-1999.csv:2"), harmless("voucher seen"), harmless("")
    ("'-1999.csv:2", 'voucher seen', '')
    """
    return f"'{cell}" if _FORMULA.match(cell) else cell


def as_meant(cell: str) -> str:
    """A cell without the blanks around it and the apostrophe that gapmap put before what looks like a formula.

    Examples
    --------
    >>> as_meant("'-1999.csv:2"), as_meant(" 't Hert "), as_meant("=1+1")
    ('-1999.csv:2', "'t Hert", '=1+1')
    """
    plain = cell.strip()
    return plain[1:] if plain.startswith("'") and _FORMULA.match(plain) else plain


def _text(path: Path, title: str) -> str:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise FileError(f"{title} cannot be read", found=error.strerror, do="check the path") from error
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    if raw[:4] == b"PK\x03\x04":
        raise FileError(f"{title} is no text file", found="a workbook or an archive", do="save it as CSV, UTF-8")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return text.replace("\0", "")
