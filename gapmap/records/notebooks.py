"""Rows that lean on the row above, as in a notebook: ditto marks, and a date or place written on the first row only.

A ditto mark says what it means and is read so. A blank may mean "as above" or "unknown": it is filled only in files
that the area file names under ``fill_down``; a file that looks like a notebook says so. Nothing is taken from beyond
a row that could not be read: nobody knows what it said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from gapmap.records.database import first_row
from gapmap.records.files.raw import is_blank
from gapmap.records.in_hand import FileInHand
from gapmap.records.problems import Problem, add_problems, text_to_sql
from gapmap.records.verdicts import DOUBT, NOT_A_RECORD, NOTE
from gapmap.settings import Settings

#: Nobody writes so many rows by hand; larger files are not searched, unless the area file names them.
LARGEST = 100_000
_DITTO = (
    '"', '""', "''", "'''", "”", "“", "〃", "„", '-"-', '- " -', '" "', "ditto", "Ditto", "DITTO", "do.", "Do.", "do",
    "as above", "As above", "same as above", "Same as above", "idem", "Idem",
)  # fmt: skip
_WHEN = ("date", "date_end")
_PARTS = ("year", "month", "day")
_WHERE = (
    "reference", "letters", "zone", "easting", "northing", "latitude", "longitude", "uncertainty", "place", "county",
)  # fmt: skip
_WHO = ("recorder",)
#: A column is thought to be filled on first rows only when so large a share of its cells is blank.
_MANY_BLANK = 0.25
#: Rows from which a column that is filled on the first one only looks like a notebook of one day.
_FEWEST = 8


def fill_from_above(file: FileInHand, settings: Settings) -> FileInHand:
    """The file with the cells that stand for the one above them filled in, and what was filled among its problems.

    Parameters
    ----------
    settings
        ``[records] fill_down`` names the files whose blanks mean "as above".

    Returns
    -------
    FileInHand
        The same file when nothing leans on the row above.
    """
    count = first_row(file.connection, f"select count(*) from {file.rows}")[0]
    if count and file.is_among(settings.records.fill_down):
        return _with_blanks_filled(_with_dittos(file))
    if 0 < count <= LARGEST:
        file = _with_dittos(file)
        _watch_first_rows(file)
    return file


def _with_dittos(file: FileInHand) -> FileInHand:
    marks = ", ".join(text_to_sql(mark) for mark in _DITTO)
    cells = [f"c{column}" for column in _columns(file)]
    is_ditto = {cell: f"trim({cell}) in ({marks})" for cell in cells}
    words = "a mark such as “ditto” was read as the cell above it."
    return _replaced(file, "as_above", is_ditto, "ditto", words)


def _with_blanks_filled(file: FileInHand) -> FileInHand:
    conditions: dict[str, str] = {}
    for group in (_WHEN, _WHERE, _WHO):
        cells = _cells(file, group)
        conditions.update(dict.fromkeys(cells, _all_blank(cells)))
    parts = _cells(file, _PARTS)
    conditions.update({cell: _all_blank(parts[: place + 1]) for place, cell in enumerate(parts)})
    if not conditions:
        return file
    words = "a blank date, place or recorder was taken from above, as the area file says."
    return _replaced(file, "filled", conditions, "taken from above", words)


def _watch_first_rows(file: FileInHand) -> None:
    """Say when a date or a place stands on the first row of each group only."""
    for group in (_WHEN, _PARTS, _WHERE):
        cells = _cells(file, group)
        if not cells:
            continue
        whole = " || chr(31) || ".join(f"trim({cell})" for cell in cells)
        rows, blank, first, repeated, between = first_row(
            file.connection,
            f"""with cells as (select "row", {_all_blank(cells)} as is_blank, {whole} as whole from {file.rows}),
                filled as (select "row", whole = lag(whole) over (order by "row") as is_repeated
                    from cells where not is_blank)
                select count(*), count(*) filter (is_blank), not arg_min(is_blank, "row"),
                    (select count(*) filter (is_repeated) from filled),
                    count(*) filter (is_blank and "row" < (select max("row") from filled)) from cells""",
        )
        leans = between > 0 or (rows - blank == 1 and rows >= _FEWEST)
        if first and leans and not repeated and blank >= _MANY_BLANK * rows:
            headers = [file.columns.header(name) for name in group if name in file.columns]
            words = (
                f"{' and '.join(headers)}: only {rows - blank:,} of {rows:,} rows are filled, the first among them and "
                "never twice alike, as in a notebook where a blank means “as above”. The blanks were left blank."
            )
            do = f'If they mean “as above”, write fill_down = ["{file.raw.file}"] under [records] in the area file.'
            add_problems(
                file.connection, file.problems, [Problem(0, ", ".join(headers), "", "blank below", DOUBT, words, do)]
            )


def _replaced(file: FileInHand, name: str, leans: dict[str, str], code: str, words: str) -> FileInHand:
    """The file with each cell that leans (by its SQL condition) replaced by the last one above that does not.

    Where a row between the two was left out at loading, the cell is left blank and the row says so.
    """
    is_leaning = " or ".join(sorted(set(leans.values())))
    if not first_row(file.connection, f"select count(*) from {file.rows} where {is_leaning}")[0]:
        return file
    table = f"{file.rows}_{name}"
    above = "last_value(case when {} then null else {} end ignore nulls) over above"
    value = {cell: above.format(leans[cell], cell) for cell in leans}
    source = {cell: above.format(leans[cell], '"row"') for cell in leans}
    lost = {cell: f"{value[cell]} <> '' and {source[cell]} < left_out" for cell in leans}
    chosen = ", ".join(
        f"""case when not {leans[cell]} then {cell} when {lost[cell]} then ''
            else coalesce({value[cell]}, '') end as {cell}"""
        for cell in leans
    )
    is_lost = " or ".join(f"({leans[cell]} and {lost[cell]})" for cell in leans)
    file.connection.execute(
        f"""create or replace temp table {table}_all as
            select * replace ({chosen}), {is_leaning} as is_leaning, coalesce({is_lost}, false) as is_lost
            from (select raw.*, beyond."row" as left_out
                  from {file.rows} raw asof left join ({_left_out(file)}) beyond on raw."row" > beyond."row")
            window above as (order by "row" rows between unbounded preceding and current row)"""
    )
    file.connection.execute(
        f"create or replace temp view {table} as select * exclude (left_out, is_leaning, is_lost) from {table}_all"
    )
    read = first_row(file.connection, f"select count(*) from {table}_all where is_leaning and not is_lost")[0]
    said = [Problem(0, "", "", code, NOTE, f"In {_rows(read)} {words}")] if read else []
    lost_below = file.connection.execute(
        f"""select left_out, min("row"), count(*) from {table}_all where is_lost group by left_out order by left_out"""
    )
    for left_out, row, count in lost_below.fetchall():
        sentence = (
            f"A cell that stands for the one above it was left blank in {_rows(count)} from here on: "
            f"row {left_out}, which lies between, could not be read."
        )
        said.append(Problem(row, "", "", "unread above", DOUBT, sentence, f"Mend row {left_out}."))
    add_problems(file.connection, file.problems, said)
    return replace(file, rows=table, numbered=frozenset())


def _left_out(file: FileInHand) -> str:
    """SQL: rows that were left out at loading."""
    return f"""select distinct "row" from {file.problems}
        where severity = '{NOT_A_RECORD}' and "row" not in (select "row" from {file.rows})"""


def _all_blank(cells: Sequence[str]) -> str:
    return f"({' and '.join(is_blank(cell) for cell in cells)})"


def _columns(file: FileInHand) -> list[int]:
    return sorted({*file.columns.index.values(), *file.columns.spare})


def _cells(file: FileInHand, meanings: Sequence[str]) -> list[str]:
    """Columns of some meanings in their order; the further references belong to the place."""
    own = [file.columns.index[meaning] for meaning in meanings if meaning in file.columns]
    return [f"c{column}" for column in (*own, *(file.columns.spare if "reference" in meanings else ()))]


def _rows(count: int) -> str:
    return f"{count:,} row" + ("" if count == 1 else "s")
