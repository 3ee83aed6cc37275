"""Tables that lack a column they need, and what they seem to be instead."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from gapmap.errors import ColumnError

_DELIMITERS = ",;|\t"
#: Columns of counts or ticks from which they are thought to be a species or a square each.
_FEWEST = 2
_TICK = re.compile(r"[xXyY+✓✔✗√●•]|yes|present|p|\d{1,5}|\d{1,4}[+?]|[<>]\d+", re.IGNORECASE)
_MOST_NAMED = 4
_PAIR = re.compile(
    r"-?\d{1,2}\.\d+\s*°?\s*[NS]?[\s,;/]+-?\d{1,3}\.\d+\s*°?\s*[EW]?|\d{1,2}\s*°[^A-Za-z]*[NS][\s,;/]*\d{1,3}\s*°[^A-Za-z]*[EW]"
)


def refuse_incomplete(
    index: Mapping[str, int], headers: Sequence[str], file: str, sample: Sequence[Sequence[str]], *, is_known: bool
) -> None:
    """Make sure that a table says which species was found, and where.

    Parameters
    ----------
    index
        Column of each meaning that was found.
    file
        Its name as shown to people.
    sample
        A few rows of cells.
    is_known
        Whether any header is one that means something.

    Raises
    ------
    ColumnError
        It does not; the sentence says what the table seems to be, where that can be told.
    """
    has_species = "species" in index or ("genus" in index and "epithet" in index)
    has_place = (
        "reference" in index or {"easting", "northing"} <= index.keys() or {"latitude", "longitude"} <= index.keys()
    )
    if has_species and has_place:
        return
    _refuse_one_column(headers, file)
    if not is_known:
        _refuse_no_headers(headers, file)
    counted = [headers[column] for column in _columns_of_counts(headers, set(index.values()), sample)]
    if len(counted) >= _FEWEST and (has_species or has_place):
        _refuse_sideways(counted, file, "species" if not has_species else "square")
    what = "the species was found" if not has_species else "the place was found"
    forms = "" if not has_species else " (a grid reference, easting and northing, or latitude and longitude)"
    meaning = "species" if not has_species else "reference"
    raise ColumnError(
        f"{file}: no column for {what}{forms}",
        found=f"the headers {listed(headers)}",
        do=f'say which column it is, such as --columns "{meaning}=HEADER"',
    )


def _refuse_one_column(headers: Sequence[str], file: str) -> None:
    """A file that fell into one column: whole rows in quotation marks, columns kept apart by spaces, or prose."""
    if len(headers) != 1:
        return
    header = headers[0]
    if any(mark in header for mark in _DELIMITERS):
        raise ColumnError(
            f"{file}: each row stands in a single cell, as if the whole row were in quotation marks",
            found=header,
            do="split that column at its separators in a spreadsheet program and save the file as CSV again",
        )
    if len(re.split(r"\s{2,}", header.strip())) > 2:
        raise ColumnError(
            f"{file}: its columns are kept apart by spaces, so it is not certain where each begins",
            found=" ".join(header.split()),
            do="open it in a spreadsheet program as text of fixed width and save it as CSV",
        )
    raise ColumnError(
        f"{file} is no table: everything stands in one column",
        found=header,
        do="ask for the records as a table, with a column for the species, the place and the date",
    )


def _refuse_no_headers(headers: Sequence[str], file: str) -> None:
    """A first row that is a record already."""
    looks_like_record = any(is_reference_like(cell) for cell in headers) or (
        any(re.search(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}", cell) for cell in headers)
    )
    if looks_like_record:
        raise ColumnError(
            f"{file} seems to have no headers: its first row looks like a record",
            found=listed(headers),
            do="put a row of headers above it in a copy of the file, such as Species, Grid ref, Date, Recorder",
        )


def _refuse_sideways(headers: Sequence[str], file: str, what: str) -> None:
    """A table with a column for each species, or for each square, instead of a row for each find."""
    named = ", ".join(header.strip() for header in headers[:_MOST_NAMED]) + (
        ", …" if len(headers) > _MOST_NAMED else ""
    )
    raise ColumnError(
        f"{file} seems to have a column for each {what}, where a row for each find is needed",
        found=named,
        do=f"turn those columns into rows in a copy of the file: a column with the {what}, one with the number",
    )


def _columns_of_counts(headers: Sequence[str], taken: set[int], sample: Sequence[Sequence[str]]) -> Iterator[int]:
    """Columns nobody knows the meaning of, headed by words or a reference, whose cells are numbers or ticks only."""
    for column, header in enumerate(headers):
        cells = [row[column].strip() for row in sample if column < len(row) and row[column].strip()]
        named = re.search(r"[^\W\d_]{2}", header) is not None
        if column not in taken and named and cells and all(_TICK.fullmatch(cell) for cell in cells):
            yield column


def listed(headers: Sequence[str]) -> str:
    """Headers as they are shown in a sentence.

    Examples
    --------
    >>> listed(["Species", " "])
    'Species, (empty)'
    """
    return ", ".join(header.strip() or "(empty)" for header in headers)


def is_reference_like(cell: str) -> bool:
    """Whether a cell has the form of a grid reference, or of latitude and longitude together.

    Examples
    --------
    >>> is_reference_like("NT 27 73"), is_reference_like("NT"), is_reference_like("Aglais io")
    (True, False, False)
    >>> is_reference_like("55.95, -3.19"), is_reference_like("5.1")
    (True, False)
    """
    if _PAIR.fullmatch(cell.strip()):
        return True
    text = re.sub(r"[\s.,-]", "", cell.upper())
    return (
        re.fullmatch(r"[A-Z]{1,2}(\d\d){1,5}([A-Z]|[NS][EW])?|(1|10|100)KME\d+N\d+|\d{1,2}[C-X][A-Z]{2}(\d\d)*", text)
        is not None
    )
