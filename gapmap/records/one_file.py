"""One file from raw cells to cleaned rows: place, date and details resolved, names and people still as written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial

import duckdb
import pandas as pd

from gapmap.errors import ColumnError, GapmapError
from gapmap.records.database import first_row
from gapmap.records.dates import combine_parts, january_trap, texts_to_intervals
from gapmap.records.decisions import DIGEST_DIGITS, texts_to_status
from gapmap.records.details import (
    texts_to_evidence,
    texts_to_quantity,
    texts_to_sex,
    texts_to_stage,
    texts_to_time_of_day,
)
from gapmap.records.headers import Columns, find_columns
from gapmap.records.lookups import Lookup, look_up, no_record
from gapmap.records.positions import (
    POSITION,
    crs_to_system,
    lonlat_positions,
    metric_positions,
    reference_positions,
)
from gapmap.records.problems import Problem, add_cell_problems, add_problems, create_problems, text_to_sql
from gapmap.records.raw import RawTable
from gapmap.records.verdicts import DOUBT, NOT_A_RECORD
from gapmap.settings import Settings

#: Columns of a cleaned file, with their SQL types.
CLEAN = {
    "row": "bigint", "species_text": "varchar", "vernacular_text": "varchar", "group_text": "varchar",
    "recorder_text": "varchar", "identified_by": "varchar", **POSITION, "date_from": "date", "date_to": "date",
    "date_kind": "varchar", "stage": "varchar", "sex": "varchar", "quantity": "varchar", "method": "varchar",
    "habitat": "varchar", "time_of_day": "varchar", "place": "varchar", "evidence": "varchar", "status": "varchar",
    "content": "varchar", "is_kept": "boolean",
}

#: Columns of a cleaned file that are resolved over all files together.
WRITTEN = ("row", "species_text", "vernacular_text", "group_text", "recorder_text")

_INTERVAL = {"date_from": "timestamp_s", "date_to": "timestamp_s", "date_kind": "varchar"}
_DETAIL = {"value": "varchar"}
_QUANTITY = {"value": "varchar", "stage": "varchar", "sex": "varchar"}
#: A time of day behind a date.
_HAS_TIME = r"'\d[T ]\s*\d{1,2}[:.]\d\d'"
_DETAILS: dict[str, tuple[str, Callable[[Sequence[str]], pd.DataFrame]]] = {
    "stage": ("stage", texts_to_stage), "sex": ("sex", texts_to_sex), "quantity": ("quantity", texts_to_quantity),
    "time_of_day": ("time", texts_to_time_of_day), "evidence": ("evidence", texts_to_evidence),
    "status": ("status", texts_to_status),
}
_AS_WRITTEN = ("method", "habitat", "place")


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
    """

    file: str
    rows: str
    written: str
    systems: tuple[int, ...]
    problems: str
    headers: Mapping[str, str]


def clean_file(
    connection: duckdb.DuckDBPyConnection, raw: RawTable, number: int, settings: Settings, today: date, *, is_keyed: bool = False
) -> CleanFile:
    """Clean one file.

    Parameters
    ----------
    number
        1, 2, 3 …: makes the names of the relations in the database.
    is_keyed
        Whether each row carries a digest of its cells, by which decisions find it again.

    Raises
    ------
    ColumnError
        A column is missing, or two claim one meaning.
    """
    rows, problems = f"raw_{number}", f"problems_{number}"
    columns = find_columns(raw.headers, settings.records.columns, file=raw.file, sample=raw.sample)
    create_problems(connection, problems)
    left_out = raw.load(connection, rows, sorted(set(columns.index.values())))
    add_problems(connection, problems, [*raw.problems, *left_out])
    file = _File(connection, rows, problems, columns, raw)
    position = _resolve_places(file, settings)
    dates = _resolve_dates(file, settings, today)
    details = _resolve_details(file)
    _say_species_missing(file)
    _create_clean(file, number, position, dates, details, is_keyed)
    headers = {meaning: columns.header(meaning) for meaning in columns.index}
    return CleanFile(raw.file, f"clean_{number}", f"written_{number}", _systems(file, position), problems, headers)


@dataclass(frozen=True)
class _File:
    connection: duckdb.DuckDBPyConnection
    rows: str
    problems: str
    columns: Columns
    raw: RawTable

    def cell(self, meaning: str) -> str:
        """SQL expression of the cell with a meaning; an empty text when the file has no such column."""
        return f"raw.c{self.columns.index[meaning]}" if meaning in self.columns else "''"

    def look_up(
        self, name: str, keys: Mapping[str, str], answer: Mapping[str, str],
        resolve: Callable[[pd.DataFrame], pd.DataFrame], header: str, where: str = "true",
    ) -> Lookup:
        """Resolve distinct values and write down what is wrong with them."""
        lookup = look_up(self.connection, f"{self.rows}_{name}", self.rows, keys, answer, resolve, where)
        shown = " || ' ' || ".join(keys.values())
        add_cell_problems(self.connection, self.problems, self.rows, header, f"trim({shown})", lookup.table, lookup.on("looked"))
        return lookup

    def species(self) -> str:
        """SQL expression of the name of the species as written."""
        if "species" in self.columns:
            name = f"trim({self.cell('species')})"
        else:
            name = f"trim({self.cell('genus')} || ' ' || {self.cell('epithet')})"
        return f"coalesce(nullif({name}, ''), trim({self.cell('vernacular')}))" if "vernacular" in self.columns else name


def _resolve_places(file: _File, settings: Settings) -> list[Lookup]:
    grid, zones, columns = settings.area.grid, settings.area.zones, file.columns
    lookups, where = [], "true"
    if "reference" in columns:
        has_other = {"easting", "northing"} <= columns.index.keys() or {"latitude", "longitude"} <= columns.index.keys()
        reference = file.cell("reference")
        if "zone" in columns:
            reference = f"(case when regexp_matches({reference}, '^[A-Za-z]') then {file.cell('zone')} || {reference} else {reference} end)"
        lookups.append(file.look_up(
            "reference", {"reference": reference}, POSITION,
            lambda keys: reference_positions(keys["reference"].tolist(), grid, zones), columns.header("reference"),
            f"trim({file.cell('reference')}) <> ''" if has_other else "true",
        ))
        where = f"trim({file.cell('reference')}) = ''"
    if {"latitude", "longitude"} <= columns.index.keys():
        lookups.append(file.look_up(
            "lonlat", {m: file.cell(m) for m in ("latitude", "longitude", "uncertainty")}, POSITION,
            lambda keys: lonlat_positions(keys, grid, zones, unit_m=_unit_of(file)),
            f"{columns.header('latitude')}, {columns.header('longitude')}", where,
        ))
    elif {"easting", "northing"} <= columns.index.keys():
        key, side = _system_of_metres(file, settings), _side_of_metres(file)
        lookups.append(file.look_up(
            "metres", {m: file.cell(m) for m in ("easting", "northing", "uncertainty")}, POSITION,
            lambda keys: metric_positions(keys, key, side, unit_m=_unit_of(file)),
            f"{columns.header('easting')}, {columns.header('northing')}", where,
        ))
    return lookups


def _unit_of(file: _File) -> float:
    return 1000.0 if "km" in file.columns.header("uncertainty").lower() else 1.0


def _system_of_metres(file: _File, settings: Settings) -> int:
    said = [file.raw.crs, file.columns.header("easting")]
    if "crs" in file.columns:
        said += [str(row[file.columns.index["crs"]]) for row in file.raw.sample if len(row) > file.columns.index["crs"]][:1]
    grid = settings.area.grid
    zone = next(iter(settings.area.zones), "") if grid == "utm" else ""
    said.append(f"utm{zone.rstrip('CDEFGHJKLMNPQRSTUVWXcdefghjklmnpqrstuvwx')}n" if zone else grid)
    found = next((key for text in said if (key := crs_to_system(text))), 0)
    if not found:
        raise ColumnError(
            f"{file.raw.file}: easting and northing are given, but not in which grid",
            found=f"{file.columns.header('easting')}, {file.columns.header('northing')}", do="say the grid, such as --grid british",
        )
    return found


def _side_of_metres(file: _File) -> int:
    """Metres to which all eastings and northings of the file are written."""
    metres = ", ".join(f"try_cast(replace({file.cell(m)}, ',', '') as double)" for m in ("easting", "northing"))
    row = first_row(
        file.connection,
        f"""select {", ".join(f"bool_and(coalesce(metre % {side} = 0, true))" for side in (1000, 100, 10))}, count(metre)
            from (select unnest([{metres}]) as metre from {file.rows} raw)""",
    )
    return next((side for side, is_so in zip((1000, 100, 10), row, strict=False) if row[3] and is_so), 1)


def _resolve_dates(file: _File, settings: Settings, today: date) -> Lookup | None:
    parts = [m for m in ("date", "date_end", "year", "month", "day") if m in file.columns]
    pivot = settings.records.year_pivot
    if not parts:
        add_problems(file.connection, file.problems, [Problem(
            0, "", "", "no date column", DOUBT, "The file has no column for the date, so its records belong to no date class.",
            'Say which column it is, such as --columns "date=HEADER".',
        )])
        return None
    header = ", ".join(file.columns.header(m) for m in parts)

    def resolve(keys: pd.DataFrame) -> pd.DataFrame:
        if len(parts) == 1 and parts[0] in ("date", "year"):
            return texts_to_intervals(keys[parts[0]].tolist(), pivot=pivot, today=today)
        return combine_parts(keys, pivot=pivot, today=today)

    lookup = file.look_up("dates", {m: file.cell(m) for m in parts}, _INTERVAL, resolve, header)
    _watch_january(file, lookup, header)
    return lookup


def _watch_january(file: _File, dates: Lookup, header: str) -> None:
    """Take 1 January for the whole year in a file with far more of them than chance allows."""
    first = "looked.date_kind = 'day' and month(looked.date_from) = 1 and day(looked.date_from) = 1"
    counted = first_row(
        file.connection,
        f"""select count(*) filter (looked.date_kind = 'day'), count(*) filter ({first})
            from {file.rows} raw {dates.join('looked')}""",
    )
    sentence = january_trap(*counted)
    if sentence:
        file.connection.execute(
            f"""update {dates.table} looked set date_kind = 'year', date_to = date_from + interval 1 year - interval 1 day where {first}"""
        )
        add_problems(file.connection, file.problems, [Problem(
            0, header, "", "1 January", DOUBT, sentence, "Leave month and day empty where only the year is known.",
        )])


def _resolve_details(file: _File) -> dict[str, Lookup]:
    lookups = {}
    for name, (meaning, resolve) in _DETAILS.items():
        where = "true"
        if meaning not in file.columns and meaning in ("sex", "stage"):
            meaning = "sex_and_stage"
        elif meaning not in file.columns and meaning == "time" and "date" in file.columns:
            meaning, where = "date", f"regexp_matches({file.cell('date')}, {_HAS_TIME})"
        if meaning in file.columns:
            lookups[name] = file.look_up(
                name, {"text": file.cell(meaning)}, _QUANTITY if name == "quantity" else _DETAIL,
                partial(_resolve_texts, resolve), file.columns.header(meaning), where,
            )
    return lookups


def _resolve_texts(resolve: Callable[[Sequence[str]], pd.DataFrame], keys: pd.DataFrame) -> pd.DataFrame:
    return resolve(keys["text"].tolist())


def _say_species_missing(file: _File) -> None:
    header = file.columns.header("species") or file.columns.header("genus")
    file.connection.execute(
        f"""insert into {file.problems} select raw."row", {text_to_sql(header)}, '', 'no species', '{NOT_A_RECORD}',
            'The row does not say which species was found.', 'Ask for the name.'
            from {file.rows} raw where {file.species()} = ''"""
    )


def _create_clean(
    file: _File, number: int, places: Sequence[Lookup], dates: Lookup | None, details: Mapping[str, Lookup],
    is_keyed: bool,
) -> None:
    cells = [f"raw.c{index}" for index in sorted(set(file.columns.index.values()))]
    joins = [lookup.join(f"place_{i}") for i, lookup in enumerate(places)]
    position = {c: _first([f"place_{i}.{c}" for i in range(len(places))]) for c in POSITION}
    wrong = [no_record(f"place_{i}") for i in range(len(places))]
    interval = {"date_from": "null::date", "date_to": "null::date", "date_kind": "'unknown'"}
    if dates is not None:
        joins.append(dates.join("dated"))
        wrong.append(no_record("dated"))
        interval = {"date_from": "dated.date_from::date", "date_to": "dated.date_to::date", "date_kind": "dated.date_kind"}
    for detail, lookup in details.items():
        joins.append(lookup.join(f"said_{detail}"))
        wrong.append(no_record(f"said_{detail}"))
    columns = {
        "row": 'raw."row"', "species_text": file.species(), "vernacular_text": f"trim({file.cell('vernacular')})",
        "group_text": f"trim({file.cell('group')})", "recorder_text": f"trim({file.cell('recorder')})",
        "identified_by": f"trim({file.cell('determiner')})", **position, **interval,
        **{detail: _detail(detail, details) for detail in _DETAILS},
        **{meaning: f"trim({file.cell(meaning)})" for meaning in _AS_WRITTEN},
        "content": f"substr(md5(concat_ws('|', {', '.join(cells)})), 1, {DIGEST_DIGITS})" if is_keyed else "''",
        "is_kept": f"{file.species()} <> '' and not ({' or '.join(wrong)}) and {position['system']} > 0",
    }
    chosen = [f'({columns[column]})::{kind} as "{column}"' for column, kind in CLEAN.items()]
    file.connection.execute(f"create or replace view clean_{number} as select {', '.join(chosen)} from {file.rows} raw {' '.join(joins)}")
    chosen = [f'{columns[column]} as "{column}"' for column in WRITTEN]
    file.connection.execute(f"create or replace view written_{number} as select {', '.join(chosen)} from {file.rows} raw")


def _detail(name: str, details: Mapping[str, Lookup]) -> str:
    """SQL of a detail: what its own column says, or else what the quantity tells besides ("3♂ 2♀")."""
    told = [f"nullif(said_{name}.value, '')"] if name in details else []
    if name in ("stage", "sex") and "quantity" in details:
        told.append(f"said_quantity.{name}")
    return f"coalesce({', '.join([*told, repr('')])})"


def _systems(file: _File, places: Sequence[Lookup]) -> tuple[int, ...]:
    union = " union ".join(f"select system from {lookup.table} where system > 0" for lookup in places)
    return tuple(sorted(int(row[0]) for row in file.connection.execute(union).fetchall()))


def _first(expressions: Sequence[str]) -> str:
    return expressions[0] if len(expressions) == 1 else f"coalesce({', '.join(expressions)})"


def refused_file(connection: duckdb.DuckDBPyConnection, file: str, number: int, error: GapmapError) -> CleanFile:
    """A file that cannot be used at all: no rows, and one problem that says why."""
    problems, rows = f"problems_{number}", f"clean_{number}"
    create_problems(connection, problems)
    add_problems(connection, problems, [Problem(
        0, "", error.found or "", "unreadable file", NOT_A_RECORD, error.what.rstrip(".") + ".", f"{error.do}." if error.do else "",
    )])
    nothing = ", ".join(f'null::{kind} as "{name}"' for name, kind in CLEAN.items())
    connection.execute(f"create or replace view {rows} as select {nothing} where false")
    return CleanFile(file, rows, rows, (), problems, {})
