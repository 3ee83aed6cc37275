"""Text that is read whole columns at a time is read as it would be line by line, or not at all.

The two ways share no code below the layout: one is Arrow's reader, the other Python's csv module and our own lines.
Python's csv module by itself says what well-written rows hold. Line ends inside a cell may differ in kind, and spaces
around one may be lost: nothing that follows tells them apart. 1,000 files; 20,000 with GAPMAP_LONG_TESTS=1.
"""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Sequence
from pathlib import Path
from unittest.mock import patch

import duckdb
import pytest
from hypothesis import HealthCheck, event, example, given, settings
from hypothesis import strategies as st

from gapmap.errors import FileError
from gapmap.records.files import at_speed, delimited
from gapmap.records.files.at_speed import Layout, NotPlainError, load_at_speed
from gapmap.records.files.raw import is_blank, number_of, numbered_cells, texts_of

IS_LONG = bool(os.environ.get("GAPMAP_LONG_TESTS"))
pytestmark = pytest.mark.timeout(4 * 3600 if IS_LONG else 300)
many = {
    "max_examples": 20_000 if IS_LONG else 1_000, "deadline": None, "suppress_health_check": list(HealthCheck),
}  # fmt: skip

#: Cells as they are written, most of them well; a row may have one too few or too many, and any end.
WRITTEN = (
    "", "a", "Aglais io", "NT27", " ", "é", "a;b", '"a,b"', '"x ""y"" z"', '""', '""""', '"a\nb"', '"a\r\n\r\nb"', "a'b",
)  # fmt: skip
BADLY = ('a"b', '"a"b', ' "a"', '"a" ', '"a', 'a""b', "a\x00b", '"""', "\ufeff")
written = st.sampled_from(WRITTEN * 40 + BADLY)
widths = st.sampled_from((3,) * 80 + (1, 2, 4))
ends = st.sampled_from(("\n",) * 60 + ("\r\n", "\r", "\n\n", ""))
rows_of_text = st.tuples(widths.flatmap(lambda width: st.lists(written, min_size=width, max_size=width)), ends)
bodies = st.lists(rows_of_text.map(lambda row: ",".join(row[0]) + row[1]), max_size=8).map("".join)
tables = st.lists(st.lists(st.text("ab é,\"'\n;", max_size=4), min_size=3, max_size=3), min_size=1, max_size=8)
DATABASE = duckdb.connect()
HEADER = b"Species,Place,Date\n"
Cells = list[tuple[int, str, str, str]]


def read(body: bytes, *, is_at_speed: bool, is_on_disk: bool = False) -> Cells | str | None:
    """Row numbers and cells; the sentence where there is no table; None where the file is not read at speed."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "found.csv"
        path.write_bytes(HEADER + body)
        connection, rows = DATABASE, "raw_disk" if is_on_disk else "raw_memory" if is_at_speed else "raw_lines"
        if is_at_speed:
            layout = Layout(path, ",", '"', ("Species", "Place", "Date"), 1, 1)
            try:
                with patch.object(at_speed, "MOST_IN_MEMORY", 0 if is_on_disk else 10**9):
                    load_at_speed(layout, connection, rows, (0, 1, 2))
            except NotPlainError:
                return None
        else:
            with patch.object(delimited, "load_at_speed", side_effect=NotPlainError):
                try:
                    [table] = delimited.open_delimited(path, "found.csv", Path(folder))
                except FileError as error:
                    return str(error)
                if table.headers != ("Species", "Place", "Date") or table.load(connection, rows, (0, 1, 2)):
                    return "another table"
        found = connection.execute('select "row", c0, c1, c2 from ' + rows + ' order by "row"').fetchall()
        return [(row, *(re.sub(r"\r\n?", "\n", cell).strip(" ") for cell in cells)) for row, *cells in found]


@settings(**many)
@given(bodies)
@example('a,b,c\n"a,b,c\n')
@example('a,"b" ,c\n')
@example('a,"b"c,d\n')
@example("a,b,c\n\n\n")
@example("a,b,c\n\na,b,c\n")
@example('"a\n\nb",c,d\n')
@example("a,b,c\r\r\na,b,c")
@example(" , ,\na,b,c\n")
def test_what_is_read_at_speed_is_what_is_read_line_by_line(body: str) -> None:
    at_once = read(body.encode(), is_at_speed=True)
    event("at speed" if at_once is not None else "line by line")
    if at_once is not None:
        one_by_one = read(body.encode(), is_at_speed=False)
        assert one_by_one in (at_once, "another table")
        assert read(body.encode(), is_at_speed=True, is_on_disk=True) == at_once


@settings(**many)
@given(tables, st.sampled_from(["\n", "\r\n"]), st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]))
def test_well_written_rows_are_read_at_speed_as_python_reads_them(
    rows: Sequence[Sequence[str]], end: str, quoting: int
) -> None:
    text = io.StringIO()
    csv.writer(text, lineterminator=end, quoting=quoting).writerows(rows)
    found = read(text.getvalue().encode(), is_at_speed=True)
    expected = list(csv.reader(io.StringIO(text.getvalue(), newline="")))
    has_blank_line = any(two in text.getvalue() for two in ("\n\n", "\n\r\n"))
    looks_like_rows = any("\n" in cell and cell.count(",") >= 2 for row in rows for cell in row)
    assert found is not None or has_blank_line or looks_like_rows
    if found is not None:
        kept = [
            (place, *(cell.strip(" ") for cell in row))
            for place, row in enumerate(expected, start=2)
            if "".join(row).strip()
        ]
        assert found == kept


def test_each_text_has_one_number() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "found.csv"
        path.write_bytes(HEADER + b"io,NT27,1998\nio,NT28,1998\nurticae,NT27,\n")
        connection = DATABASE
        layout = Layout(path, ",", '"', ("Species", "Place", "Date"), 1, 1)
        load_at_speed(layout, connection, "raw_1", (0, 1, 2))
        assert numbered_cells(connection, "raw_1") == {"c0", "c1", "c2"}
        for cell in ("c0", "c1", "c2"):
            texts = texts_of("raw_1", cell)
            joined = f"from raw_1 join {texts} t on t.number = raw_1.{number_of(cell)}"
            [(same, distinct)] = connection.execute(
                f"select bool_and(t.text = {cell}), count(distinct t.number) = count(distinct {cell}) {joined}"
            ).fetchall()
            assert same
            assert distinct
        assert connection.execute(f"select count(*) from raw_1 where {is_blank('c2')}").fetchall() == [(1,)]
