"""One file from raw cells to cleaned rows: place, date and details resolved, names and people still as written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

import duckdb
import pandas as pd

from gapmap.records.database import first_row
from gapmap.records.decisions import texts_to_status
from gapmap.records.details.methods import texts_to_method
from gapmap.records.details.occurrence import texts_to_occurrence
from gapmap.records.details.words import (
    texts_to_evidence,
    texts_to_quantity,
    texts_to_sex,
    texts_to_stage,
    texts_to_time_of_day,
)
from gapmap.records.file_dates import resolve_dates
from gapmap.records.files.headers import find_columns
from gapmap.records.files.raw import RawTable, has_blank_text, is_blank, numbered_cells
from gapmap.records.in_hand import FileInHand
from gapmap.records.lookups import Lookup
from gapmap.records.notebooks import fill_from_above
from gapmap.records.places.columns import find_places
from gapmap.records.places.positions import POSITION
from gapmap.records.problems import Problem, add_problems, create_problems, text_to_sql
from gapmap.records.verdicts import DOUBT, NOT_A_RECORD
from gapmap.settings import Settings

#: Columns of a cleaned file, with their SQL types.
CLEAN = {
    "row": "bigint",
    "species_text": "varchar",
    "vernacular_text": "varchar",
    "group_text": "varchar",
    "recorder_text": "varchar",
    "identified_by": "varchar",
    **POSITION,
    "date_from": "date",
    "date_to": "date",
    "date_kind": "varchar",
    "stage": "varchar",
    "sex": "varchar",
    "quantity": "varchar",
    "method": "varchar",
    "habitat": "varchar",
    "time_of_day": "varchar",
    "place": "varchar",
    "county": "varchar",
    "evidence": "varchar",
    "status": "varchar",
    "is_kept": "boolean",
}

#: Columns of a cleaned file that are resolved over all files together.
WRITTEN = ("row", "species_text", "vernacular_text", "group_text", "recorder_text")

_DETAIL = {"value": "varchar"}
_QUANTITY = {"value": "varchar", "stage": "varchar", "sex": "varchar"}
#: A time of day behind a date.
_HAS_TIME = r"'\d[T ]\s*\d{1,2}[:.]\d\d'"
_DETAILS: dict[str, tuple[str, Callable[[Sequence[str]], pd.DataFrame]]] = {
    "stage": ("stage", texts_to_stage),
    "sex": ("sex", texts_to_sex),
    "quantity": ("quantity", texts_to_quantity),
    "time_of_day": ("time", texts_to_time_of_day),
    "evidence": ("evidence", texts_to_evidence),
    "status": ("status", texts_to_status),
    "method": ("method", texts_to_method),
}
#: Meanings that only say whether a row is a record at all.
_REFUSING: dict[str, tuple[str, Callable[[Sequence[str]], pd.DataFrame]]] = {
    "occurrence": ("occurrence", texts_to_occurrence)
}
_AS_WRITTEN = ("habitat", "place", "county")


@dataclass(frozen=True)
class CleanFile:
    """A cleaned file in the database.

    Parameters
    ----------
    file
        Name as shown to people.
    rows
        Relation with the columns of CLEAN, one row each row of the file that could be read.
    written
        Relation of the same rows with only the columns of WRITTEN: quicker to scan.
    systems
        Keys of the grid systems that positions are in.
    problems
        Relation with the columns of Problem.
    headers
        Header of the column of each meaning.
    empty
        Columns of CLEAN that are empty in every row.
    """

    file: str
    rows: str
    written: str
    systems: tuple[int, ...]
    problems: str
    headers: Mapping[str, str]
    empty: tuple[str, ...] = ()


def clean_file(
    connection: duckdb.DuckDBPyConnection, raw: RawTable, number: int, settings: Settings, today: date
) -> CleanFile:
    """Clean one file.

    Parameters
    ----------
    number
        1, 2, 3 …: makes the names of the relations in the database.

    Raises
    ------
    ColumnError
        A column is missing, or two claim one meaning.
    """
    rows, problems = f"raw_{number}", f"problems_{number}"
    columns = find_columns(raw.headers, settings.records.columns, file=raw.file, sample=raw.sample)
    create_problems(connection, problems)
    left_out = raw.load(connection, rows, sorted({*columns.index.values(), *columns.spare}))
    add_problems(connection, problems, [*raw.problems, *left_out])
    if not first_row(connection, f"select 1 from {rows} limit 1") and not left_out:
        words = f"{raw.file} has headers and no rows below them."
        add_problems(connection, problems, [Problem(0, "", "", "no rows", DOUBT, words, "Ask for the file again.")])
    file = fill_from_above(
        FileInHand(connection, rows, problems, columns, raw, numbered_cells(connection, rows)), settings
    )
    position = find_places(file, settings)
    dates = resolve_dates(file, settings, today)
    details = _resolve_details(file)
    _say_species_missing(file)
    constants = _create_clean(file, number, position, dates, details)
    headers = {meaning: columns.header(meaning) for meaning in columns.index}
    return CleanFile(
        raw.file, f"clean_{number}", f"written_{number}", _systems(file, position), problems, headers, constants
    )


def _resolve_details(file: FileInHand) -> dict[str, Lookup]:
    lookups = {}
    for name, (meaning, resolve) in {**_DETAILS, **_REFUSING}.items():
        where = "true"
        if meaning not in file.columns and meaning in ("sex", "stage"):
            meaning = "sex_and_stage"
        elif meaning not in file.columns and meaning == "time" and "date" in file.columns:
            meaning, where = (
                "date",
                f"strlen({file.cell('date')}) > 10 and regexp_matches({file.cell('date')}, {_HAS_TIME})",
            )
        if meaning in file.columns:
            lookups[name] = file.look_up(
                name,
                {"text": file.cell(meaning)},
                _QUANTITY if name == "quantity" else _DETAIL,
                partial(_resolve_texts, resolve),
                file.columns.header(meaning),
                where,
            )
    return {name: lookup for name, lookup in lookups.items() if not lookup.is_empty}


def _resolve_texts(resolve: Callable[[Sequence[str]], pd.DataFrame], keys: pd.DataFrame) -> pd.DataFrame:
    return resolve(keys["text"].tolist())


def _say_species_missing(file: FileInHand) -> None:
    name = file.species().removeprefix("raw.")
    if name in file.numbered and not has_blank_text(file.connection, file.rows, name):
        return
    header = file.columns.header("species") or file.columns.header("genus")
    file.connection.execute(
        f"""insert into {file.problems} select raw."row", {text_to_sql(header)}, '', 'no species', '{NOT_A_RECORD}',
            'The row does not say which species was found.', 'Ask for the name.'
            from {file.rows} raw where {is_blank(file.species())}"""
    )


def _create_clean(
    file: FileInHand, number: int, places: Sequence[Lookup], dates: Lookup | None, details: Mapping[str, Lookup]
) -> tuple[str, ...]:
    joins = [lookup.join(f"place_{i}") for i, lookup in enumerate(places)]
    position = {c: _first([f"place_{i}.{c}" for i in range(len(places))]) for c in POSITION}
    wrong = [lookup.refuses(f"place_{i}") for i, lookup in enumerate(places)]
    interval = {"date_from": "null::date", "date_to": "null::date", "date_kind": "'unknown'"}
    if dates is not None:
        joins.append(dates.join("dated"))
        wrong.append(dates.refuses("dated"))
        interval = {"date_from": "dated.date_from", "date_to": "dated.date_to", "date_kind": "dated.date_kind"}
    for detail, lookup in details.items():
        joins.append(lookup.join(f"said_{detail}"))
        wrong.append(lookup.refuses(f"said_{detail}"))
    columns = {
        "row": 'raw."row"',
        "species_text": file.species(),
        "vernacular_text": file.cell("vernacular"),
        "group_text": file.cell("group"),
        "recorder_text": file.cell("recorder"),
        "identified_by": _trimmed(file, "determiner"),
        **position,
        **interval,
        **{detail: _detail(detail, details) for detail in _DETAILS},
        **{meaning: _trimmed(file, meaning) for meaning in _AS_WRITTEN},
        "is_kept": f"not ({' or '.join(wrong)}) and {position['system']} > 0",
    }
    chosen = [f'({columns[column]})::{kind} as "{column}"' for column, kind in CLEAN.items()]
    file.connection.execute(
        f"create or replace view clean_{number} as select {', '.join(chosen)} from {file.rows} raw {' '.join(joins)}"
    )
    chosen = [f'{columns[column]} as "{column}"' for column in WRITTEN]
    file.connection.execute(
        f"create or replace view written_{number} as select {', '.join(chosen)} from {file.rows} raw"
    )
    return tuple(column for column in CLEAN if columns[column] == "''")


def _trimmed(file: FileInHand, meaning: str) -> str:
    """SQL of a cell as it was written, without the blanks around it."""
    return f"trim({file.cell(meaning)})" if meaning in file.columns else "''"


def _detail(name: str, details: Mapping[str, Lookup]) -> str:
    """SQL of a detail: what its own column says, or else what the quantity tells besides ("3♂ 2♀")."""
    told = [f"nullif(said_{name}.value, '')"] if name in details else []
    if name in ("stage", "sex") and "quantity" in details:
        told.append(f"said_quantity.{name}")
    return f"coalesce({', '.join([*told, repr('')])})" if told else "''"


def _systems(file: FileInHand, places: Sequence[Lookup]) -> tuple[int, ...]:
    union = " union ".join(f"select distinct system from {lookup.table} where system > 0" for lookup in places)
    return tuple(sorted(int(row[0]) for row in file.connection.execute(union).fetchall()))


def _first(expressions: Sequence[str]) -> str:
    return expressions[0] if len(expressions) == 1 else f"coalesce({', '.join(expressions)})"


def file_without_records(connection: duckdb.DuckDBPyConnection, file: str, number: int, problem: Problem) -> CleanFile:
    """A file, or a sheet of one, that gives no records: no rows, and one problem that says why."""
    problems, rows = f"problems_{number}", f"clean_{number}"
    create_problems(connection, problems)
    add_problems(connection, problems, [problem])
    nothing = ", ".join(f'null::{kind} as "{name}"' for name, kind in CLEAN.items())
    connection.execute(f"create or replace view {rows} as select {nothing} where false")
    return CleanFile(file, rows, rows, (), problems, {})
