"""Which cells of a workbook show a month or a year where a whole date is kept.

Whoever types "June 1998" into a spreadsheet gets 1 June 1998, shown as ``Jun-98``. What the person said is the month,
and the cell's format is the only place that still knows. The formats are those of ECMA-376, part 1 (18.8.30 and
18.8.31): number 17 shows month and year, and a format of one's own is text whose d, m and y stand for day, month, year.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from pathlib import Path
from xml.etree import ElementTree

#: Characters of an ISO 8601 date that stand for its year, its month, its day.
YEAR, MONTH, DAY = 4, 7, 10
#: The one format that every workbook knows by number and that shows no day.
_MONTH_AND_YEAR = {17: MONTH}
#: Parts of a format that are no letters for a date: quoted words, single characters, colours and places.
_WORDS = re.compile(r'"[^"]*"|\\.|_.|\*.|\[[^\]]*\]')
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"

#: Row and column, both from 0 → characters of the date that the cell shows.
Shown = Mapping[tuple[int, int], int]


def months_shown(path: Path, sheet: str) -> Shown:
    """Find the cells of a sheet that show no day.

    Parameters
    ----------
    path
        The workbook; of one that is no XLSX, or is damaged, nothing is known.
    sheet
        Name of the sheet.

    Returns
    -------
    Mapping
        (row, column), both from 0, to YEAR or MONTH; the cells may hold anything, not only dates.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            formats = _formats_without_day(archive)
            return dict(_cells(archive, _part_of(archive, sheet), formats)) if formats else {}
    except (zipfile.BadZipFile, ElementTree.ParseError, zlib.error, KeyError, ValueError, OSError, RuntimeError):
        return {}


def format_to_shown(code: str) -> int:
    """How much of a date a format shows, in characters of ISO 8601; DAY also where it is no format of dates.

    Examples
    --------
    >>> [format_to_shown(code) for code in ("mmm-yy", "yyyy", "dd/mm/yyyy", '[$-809]mmmm" "yyyy;@', "#,##0.00")]
    [7, 4, 10, 7, 10]
    """
    letters = set(_WORDS.sub("", code).split(";")[0].lower())
    if "y" not in letters or letters & set("dhs"):
        return DAY
    return MONTH if "m" in letters else YEAR


def _formats_without_day(archive: zipfile.ZipFile) -> dict[int, int]:
    """Numbers of the cell formats that show no day, with what they show."""
    styles = ElementTree.fromstring(archive.read("xl/styles.xml"))
    own = {
        int(format_.get("numFmtId", "0")): format_to_shown(format_.get("formatCode", ""))
        for format_ in styles.iterfind("{*}numFmts/{*}numFmt")
    }
    shown = [
        {**_MONTH_AND_YEAR, **own}.get(int(cell.get("numFmtId", "0")), DAY)
        for cell in styles.iterfind("{*}cellXfs/{*}xf")
    ]
    return {number: length for number, length in enumerate(shown) if length < DAY}


def _part_of(archive: zipfile.ZipFile, sheet: str) -> str:
    """Name of the part of the archive that holds a sheet."""
    workbook = ElementTree.fromstring(archive.read("xl/workbook.xml"))
    relations = {each.get("name"): each.get(_RELATION) for each in workbook.iterfind("{*}sheets/{*}sheet")}
    parts = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    target = {each.get("Id"): each.get("Target", "") for each in parts}[relations[sheet]]
    return target.removeprefix("/") if target.startswith("/") else f"xl/{target}"


def _cells(archive: zipfile.ZipFile, part: str, formats: Mapping[int, int]) -> Iterator[tuple[tuple[int, int], int]]:
    """The cells with some formats; a row or cell that does not say where it is follows the one before it."""
    row = column = -1
    with archive.open(part) as handle:
        for event, element in ElementTree.iterparse(handle, events=("start", "end")):
            kind = element.tag.rpartition("}")[2]
            if event == "end":
                if kind == "row":
                    element.clear()
            elif kind == "row":
                row, column = int(element.get("r", row + 2)) - 1, -1
            elif kind == "c":
                column = _column(element.get("r", "")) if element.get("r") else column + 1
                shown = formats.get(int(element.get("s", "0")))
                if shown is not None:
                    yield (row, column), shown


def _column(reference: str) -> int:
    """Number of a cell's column, from 0.

    Examples
    --------
    >>> _column("A1"), _column("AB12")
    (0, 27)
    """
    number = 0
    for letter in reference.rstrip("0123456789"):
        number = number * 26 + ord(letter.upper()) - ord("A") + 1
    return number - 1
