"""The least that a program on these libraries does for the tally of one file of one form.

Each distinct text is read by this project's own readers with all their checks, each row becomes whole numbers, and
these are sorted, or given to the database for one statement. Nothing else is done: no repeat is found, no record and
no problem is kept, nothing spills, no other kind of file is read. What this takes is no bound, as somebody may write
it better, but it shows what is left for all the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import duckdb
import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import csv
from whole_path import SIDE, answer

from gapmap.records.dates.intervals import texts_to_intervals
from gapmap.records.memory import seldom_collecting
from gapmap.records.names.resolving import resolve_names
from gapmap.records.people.joining import texts_to_people
from gapmap.records.places.pairs import place_positions
from gapmap.records.verdicts import NOT_A_RECORD


@dataclass(frozen=True)
class Numbered:
    """Rows that count as whole numbers, one array each, and what the numbers of squares and dates stand for."""

    square: np.ndarray
    species: np.ndarray
    dates: np.ndarray
    people: np.ndarray
    squares: np.ndarray
    date_class: np.ndarray
    year: np.ndarray
    is_day: np.ndarray


@seldom_collecting()
def by_sorting(path: str) -> dict[str, float]:
    """The tally by sorting one whole number a row, made of square, species, dates in their order, and people."""
    rows = _numbered(path)
    bits_people, bits_dates, bits_species = (
        int(codes.max()).bit_length() for codes in (rows.people, rows.dates, rows.species)
    )
    key = rows.square << bits_species + bits_dates + bits_people
    key += rows.species << bits_dates + bits_people
    key += rows.dates << bits_people
    key += rows.people
    key.sort()
    is_find = np.append(True, key[1:] != key[:-1])
    finds = np.append(np.flatnonzero(is_find), len(key)).astype(np.int32)
    find = key[finds[:-1]] >> bits_people
    at, pair = find & (1 << bits_dates) - 1, find >> bits_dates
    visits = np.append(0, np.cumsum(rows.is_day[at], dtype=np.int32))
    starts, ends, classes = _runs(pair, rows.date_class[at])
    frame = pd.DataFrame({
        "square": rows.squares[pair[starts] >> bits_species], "species_id": pair[starts] & (1 << bits_species) - 1,
        "date_class": classes, "records": finds[ends] - finds[starts], "visits": visits[ends] - visits[starts],
        "first": rows.year[at[starts]], "last": rows.year[at[ends - 1]],
    }, copy=False)  # fmt: skip
    return answer(frame)


@seldom_collecting()
def by_statement(path: str) -> dict[str, float]:
    """The tally by one relational statement on the same numbers, which the database is only lent."""
    rows = _numbered(path)
    connection = duckdb.connect()
    columns = {name: getattr(rows, name) for name in ("square", "species", "dates", "people")}
    columns |= {name: getattr(rows, name)[rows.dates] for name in ("date_class", "year", "is_day")}
    connection.register("numbered", pa.table(columns))
    frame = connection.sql("""
        with finds as (
            select square, species, date_class, dates, people, any_value(year) as year, any_value(is_day) as is_day,
                count(*) as records
            from numbered group by square, species, date_class, dates, people)
        select square, species, case when grouping(date_class) = 1 then -1 else date_class end as date_class,
            sum(records)::bigint as records, count(*) filter (is_day) as visits, min(year) as first, max(year) as last
        from finds group by grouping sets ((square, species, date_class), (square, species))
        having grouping(date_class) = 1 or date_class >= 0
    """).df()
    return answer(frame)


def _numbered(path: str) -> Numbered:
    """Scan the file, read each distinct text with all checks, and number the rows."""
    names = ("Grid reference", "Species", "Date", "Recorder")
    kinds = csv.ConvertOptions(column_types=dict.fromkeys(names, pa.dictionary(pa.int32(), pa.string())))
    table = csv.read_csv(path, csv.ReadOptions(block_size=1 << 22), convert_options=kinds).unify_dictionaries()
    references, species, dates, people = (table[name].chunk(0).dictionary.to_pylist() for name in names)
    checked = (
        place_positions(references, "", ()), resolve_names(species, None),
        texts_to_intervals(dates, pivot=30, today=date.today()), texts_to_people(people),
    )  # fmt: skip
    square, squares = _placed(checked[0])
    named, _ = pd.factorize(checked[1]["name"])
    date_class, year, is_day, in_order = _dated(checked[2])
    who, _ = pd.factorize(checked[3]["names"])
    rows = [np.concatenate([chunk.indices.to_numpy() for chunk in table[name].chunks]) for name in names]
    fine = [found["severity"].to_numpy() != NOT_A_RECORD for found in checked]
    counts = np.logical_and.reduce([one[row] for one, row in zip([square >= 0, *fine], [rows[0], *rows], strict=True)])
    codes = [code[row[counts]] for code, row in zip((square, named, in_order, who), rows, strict=True)]
    return Numbered(*codes, squares, date_class, year, is_day)


def _placed(positions: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Square of each reference as a number, -1 for none, and the squares."""
    system, east, north, side = (
        positions[name].to_numpy().astype(np.int64) for name in ("system", "easting", "northing", "precision_m")
    )
    codes, squares = pd.factorize((north // SIDE << 20) + east // SIDE)
    return np.where((system > 0) & (side <= SIDE), codes, -1), squares


def _dated(intervals: pd.DataFrame) -> tuple[np.ndarray, ...]:
    """By place in the order of class and year: date class, first year, whether a day; and the place of each text."""
    first = pd.to_datetime(intervals["date_from"]).dt.year.fillna(0).to_numpy(np.int32)
    last = pd.to_datetime(intervals["date_to"]).dt.year.fillna(9999).to_numpy(np.int32)
    date_class = np.select([last < 2000, (first >= 2000) & (last < 2010), first >= 2010], [0, 1, 2], -1)
    order = np.lexsort((first, date_class))
    is_day = (intervals["date_kind"] == "day").to_numpy()
    return date_class[order], first[order], is_day[order], np.argsort(order)


def _runs(pair: np.ndarray, date_class: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """First and end of the finds of each row of the tally, and its class: of each pair the total, then its classes."""
    is_pair = np.append(True, pair[1:] != pair[:-1])
    cells = np.flatnonzero(is_pair | np.append(True, date_class[1:] != date_class[:-1]))
    ends, is_in_class = np.append(cells[1:], len(pair)), date_class[cells] >= 0
    pairs, place = np.flatnonzero(is_pair), np.cumsum(is_in_class) - is_in_class
    total = place[is_pair[cells]] + np.arange(len(pairs))
    is_total = np.zeros(len(pairs) + is_in_class.sum(), dtype=bool)
    is_total[total] = True
    rows = [np.empty(len(is_total), dtype=np.int64) for _ in range(3)]
    totals = (pairs, np.append(pairs[1:], len(pair)), -1)
    for row, of_totals, of_classes in zip(rows, totals, (cells, ends, date_class[cells]), strict=True):
        row[is_total], row[~is_total] = of_totals, of_classes[is_in_class]
    return rows[0], rows[1], rows[2]
