"""The least that a program on these libraries does for the tally: our own checks of the distinct texts, and one sort.

Each distinct text is read by this project's own readers, each row is one whole number, and nothing else is done: no
repeat is found, no record and no problem is kept, nothing spills, no other kind of file is read. What this takes is no
bound, as somebody may write it better, but shows what is left for all the rest.
"""

from __future__ import annotations

from datetime import date

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


@seldom_collecting()
def tally(path: str) -> dict[str, float]:
    """The tally by sorting one whole number a row, made of square, species, place of the dates and people."""
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
    date_class, years, is_day, in_order = _dated(checked[2])
    who, _ = pd.factorize(checked[3]["names"])
    bits_who, bits_date, bits_species = (int(codes.max()).bit_length() for codes in (who, in_order, named))
    parts = (square << bits_species + bits_date + bits_who, named << bits_date + bits_who, in_order << bits_who, who)
    rows = [np.concatenate([chunk.indices.to_numpy() for chunk in table[name].chunks]) for name in names]
    key = sum(part[row] for part, row in zip(parts, rows, strict=True))
    fine = [found["severity"].to_numpy() != NOT_A_RECORD for found in checked]
    key = key[np.logical_and.reduce([one[row] for one, row in zip([square >= 0, *fine], [rows[0], *rows], strict=True)])]
    key.sort()
    is_find = np.append(True, key[1:] != key[:-1])
    finds = np.append(np.flatnonzero(is_find), len(key)).astype(np.int32)
    find = key[finds[:-1]] >> bits_who
    at = find & (1 << bits_date) - 1
    pair, own_class, visits = find >> bits_date, date_class[at], np.append(0, np.cumsum(is_day[at], dtype=np.int32))
    starts, ends, classes = _runs(pair, own_class)
    frame = pd.DataFrame({
        "square": squares[pair[starts] >> bits_species], "species_id": pair[starts] & (1 << bits_species) - 1,
        "date_class": classes, "records": finds[ends] - finds[starts], "visits": visits[ends] - visits[starts],
        "first": years[at[starts]], "last": years[at[ends - 1]],
    }, copy=False)  # fmt: skip
    return answer(frame)


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
