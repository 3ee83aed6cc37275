"""The tally: how often each species was found in each square and date class."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import ALL_DATES, FINDS, LISTS, NO_HOUR, NO_SQUARE, TALLY
from gapmap.coverage.counted import COUNTED, IN_ONE_MONTH, IN_ONE_YEAR, LIST_KEY, class_sql, counted_sql
from gapmap.coverage.finds import DAY_BITS, EPOCH, OPEN_END, OPEN_START, find_finds, in_parts
from gapmap.coverage.hours import clock_sql, darkness_sql
from gapmap.grid.squares import SIDES, place_in, place_sql
from gapmap.records.table import Records
from gapmap.typed import DateClass

Whole = npt.NDArray[np.int64]

#: Hours on one list that lie further apart than this tell of no one hour.
_HOURS_APART = 2
#: Years are below it; it ranks years by how well they are known.
RANK = 10_000
#: Distinct squares and runs of dates that room is made for at first; for more it grows.
_FEW = 1 << 15
#: What is not summed up.
_COMBINE: dict[str, np.ufunc] = {"first": np.minimum, "last": np.maximum, "known_from": np.minimum}


def tally(records: Records, side: int, classes: Sequence[DateClass]) -> pd.DataFrame:
    """Count records, visits and lists of each species in each square and date class.

    Parameters
    ----------
    records
        The cleaned records.
    side
        Side of the map's square in metres.
    classes
        Date classes in the order of time.

    Returns
    -------
    DataFrame
        As in columns.TALLY, ordered by square, species and class, and also ``counts`` (whether the name
        counts as a species of its own) and ``known_from`` (the first class before which it was known in the
        square; the number of classes when there is none). Records too coarse for the square are not in it.
    """
    finds = find_finds(records, side, classes)
    others = records.species.loc[~records.species["counts"].astype(bool), "species_id"].to_numpy(np.int64)
    columns = "square, species_id, span, is_visit, records"
    parts = [_count_cells(part, len(classes), others) for part in in_parts(records, finds, columns)]
    joined = {name: np.concatenate([part.pop(name) for part in parts]) for name in list(parts[0])}
    return TALLY.check(pd.DataFrame(joined, copy=False))


def _count_cells(finds: dict[str, Whole], classes: int, others: Whole) -> dict[str, npt.NDArray[Any]]:
    """Tally of the finds of whole squares: sorted by square, species and class, then summed up run by run.

    Each column is taken out of the finds as it is wanted, so that the next one can have its memory.
    """
    numbers, squares = pd.factorize(finds.pop("square"), sort=True, size_hint=_FEW)
    most = int(finds["species_id"].max(initial=0)) + 1
    spans, span = _spans(finds.pop("span"), classes)
    cells = _in_place(numbers, most, finds.pop("species_id"))
    cells = _in_place(cells, classes + 1, spans["date_class"][span])
    cells, order = _in_order(cells)
    span = span[order]
    starts = _starts(cells)
    in_list = spans["in_list"][span]
    counted = {
        "records": _combined("records", finds.pop("records")[order], starts),
        "visits": _combined("visits", in_list & finds.pop("is_visit")[order], starts),
        "lists": _combined("lists", in_list, starts),
        **{name: _combined(name, spans[name][span], starts) for name in _COMBINE},
    }
    cells = cells[starts]
    del order, span, starts, in_list
    return _with_totals(cells, counted, classes, squares, np.isin(np.arange(most), others, invert=True))


def _in_place(numbers: Whole, most: int, further: npt.NDArray[Any]) -> Whole:
    """Numbers and further ones below a limit as one, without a new array."""
    numbers *= most
    numbers += further
    return numbers


def _in_order(numbers: Whole) -> tuple[Whole, Whole]:
    """Numbers in their order, and where each was; they must leave room for a place in 63 bits.

    One sort of both in one is several times quicker than sorting the places by the numbers.
    """
    bits = len(numbers).bit_length()
    numbers <<= bits
    numbers += np.arange(len(numbers))
    numbers.sort()
    return numbers >> bits, numbers & ((1 << bits) - 1)


def _spans(packed: Whole, classes: int) -> tuple[dict[str, npt.NDArray[Any]], Whole]:
    """What follows from each distinct run of dates, and which of them each find has.

    The first and last year are kept with a rank before them, so that the least and the greatest of a group are those
    of :func:`year_sql`: records that lie in one year decide, wider dates stand in.
    """
    which, distinct = pd.factorize(packed, size_hint=_FEW)
    dates = distinct // (2 * (classes + 1) ** 2)
    start, end = dates >> DAY_BITS, dates & OPEN_END
    is_open, is_endless = start == OPEN_START, end == OPEN_END
    first_year, last_year = _year(start), _year(end)
    is_exact = (first_year == last_year) & ~is_open & ~is_endless
    once, twice = RANK, 2 * RANK
    first = np.select([is_exact, ~is_open, ~is_endless], [first_year, once + first_year, twice + last_year], 3 * RANK)
    last = np.select([is_exact, ~is_endless, ~is_open], [twice + last_year, once + last_year, first_year], 0)
    return {
        "date_class": ((distinct >> 1) % (classes + 1)).astype(np.int32),
        "known_from": (distinct // (2 * (classes + 1)) % (classes + 1)).astype(np.int32),
        "in_list": distinct & 1 == 1,
        "first": first.astype(np.int32),
        "last": last.astype(np.int32),
    }, which


def _year(day: Whole) -> Whole:
    return (day - EPOCH).astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64) + 1970


def _starts(ordered: Whole) -> Whole:
    """Where each run of equal values begins."""
    is_start = np.ones(len(ordered), dtype=bool)
    np.not_equal(ordered[1:], ordered[:-1], out=is_start[1:])
    return np.flatnonzero(is_start)


def _combined(name: str, values: npt.NDArray[Any], starts: Whole) -> npt.NDArray[Any]:
    """One value a run: the least or the greatest year, the first class; else the sum."""
    if not len(starts):
        return values[:0]
    how = _COMBINE.get(name)
    return np.add.reduceat(values, starts, dtype=np.int64) if how is None else how.reduceat(values, starts)


def _with_totals(
    cells: Whole, counted: dict[str, npt.NDArray[Any]], classes: int, squares: Whole, counts: npt.NDArray[np.bool_]
) -> dict[str, npt.NDArray[Any]]:
    """Rows of the tally: before the classes of each species in a square its total over all dates."""
    pairs, date_class = np.divmod(cells, classes + 1)
    starts, is_in_class = _starts(pairs), date_class > 0
    before = np.cumsum(is_in_class)
    place_of_total = before[starts] - is_in_class[starts] + np.arange(len(starts))
    is_total = np.zeros(len(starts) + np.count_nonzero(is_in_class), dtype=bool)
    is_total[place_of_total] = True
    source = np.empty(len(is_total), dtype=np.int64)
    source[is_total] = np.arange(len(starts))
    source[~is_total] = np.flatnonzero(is_in_class) + len(starts)

    def rows(of_cells: npt.NDArray[Any], of_totals: npt.NDArray[Any]) -> npt.NDArray[Any]:
        return np.concatenate((of_totals, of_cells))[source]

    square, species = np.divmod(rows(pairs, pairs[starts]), len(counts))
    columns: dict[str, npt.NDArray[Any]] = {
        "square": np.asarray(squares)[square],
        "species_id": species.astype(np.int32),
        "date_class": rows(date_class.astype(np.int32) - 1, np.full(len(starts), ALL_DATES, dtype=np.int32)),
    }
    of_its_own = counts[species]
    del pairs, square, species
    for name in list(counted):
        values = counted.pop(name)
        columns[name] = rows(values, _combined(name, values, starts))
    columns["first"] %= RANK
    columns["last"] %= RANK
    return columns | {"counts": of_its_own, "known_from": columns.pop("known_from")}


def lists_and_finds(
    records: Records, side: int, classes: Sequence[DateClass]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Fetch every list at the map's size, and the species on it.

    Lists of the same people over the same dates in one square are one list, which keeps the lowest of their
    numbers; where their own references differ, its place is the square. Lists that nobody signed and that lack
    their day stay apart. A list too coarse for the square keeps its own place, with square -1. Records whose
    dates span more than a year are on no list. A list whose records tell hours at most two apart has the hour
    between them.

    Parameters
    ----------
    records, side, classes
        As for :func:`tally`.

    Returns
    -------
    (DataFrame, DataFrame)
        As in columns.LISTS and columns.FINDS, ordered by list and species. ``length`` counts names that count
        as species.
    """
    finds_sql = f"""
        with counted as ({counted_sql(records, side, classes)}),
        own as (
            select *, {darkness_sql(records)} as dark, {clock_sql()} as clock from counted where in_list
        ),
        merged as (
            select {LIST_KEY}, min(list_id) as list_id from own group by {LIST_KEY}
        )
        select merged.list_id as merged_id, own.* exclude (list_id)
        from own join merged on own.own_list = merged.own_list and own.square = merged.square
            and own.people_id = merged.people_id
            and own.date_from is not distinct from merged.date_from
            and own.date_to is not distinct from merged.date_to
    """
    lists = records.connection.execute(f"""
        with placed as ({finds_sql})
        select merged_id as list_id, any_value(square) as square,
            any_value(system)::bigint as system,
            min(easting)::bigint as easting, min(northing)::bigint as northing,
            max(easting)::bigint as easting_max, max(northing)::bigint as northing_max,
            max(precision_m)::bigint as precision_m,
            any_value(date_from) as date_from, any_value(date_to) as date_to,
            (case when bool_or({IN_ONE_YEAR}) then year(any_value(date_from)) else 0 end)::integer as year,
            (case when bool_or({IN_ONE_MONTH}) then month(any_value(date_from)) else 0 end)::integer as month,
            coalesce(any_value(date_class), -1)::integer as date_class,
            bool_or(is_visit) as is_visit, any_value(people_id)::bigint as people_id,
            case count(distinct dark) filter (dark <> '')
                when 0 then '' when 1 then max(dark) else 'several' end as time_of_day,
            (case when max(clock) - min(clock) <= {_HOURS_APART} then (max(clock) + min(clock)) // 2
                else {NO_HOUR} end)::integer as hour,
            case count(distinct method) filter (method <> '') when 1 then max(method) else '' end as method,
            count(distinct species_id) filter (counts) as length
        from placed group by merged_id order by merged_id
    """).df()
    finds = records.connection.execute(f"""
        with placed as ({finds_sql})
        select merged_id as list_id, species_id::bigint as species_id, count(*) as records
        from placed group by merged_id, species_id order by merged_id, species_id
    """).df()
    return LISTS.check(_with_one_place(lists, side)), FINDS.check(finds)


def too_coarse(records: Records, side: int) -> int:
    """Count the records that count but cannot be put in a square of this side (metres)."""
    return _how_many(records, f"({place_sql(side)}) < 0")


def not_accepted(records: Records) -> int:
    """Count the records that somebody decided against; they are on no map."""
    [(count,)] = records.connection.execute(f"select count(*) from records where not ({COUNTED})").fetchall()
    return int(count)


def too_coarse_squares(records: Records, side: int) -> pd.DataFrame:
    """Where the records are that are too coarse for squares of this side: the smallest squares that hold them.

    Parameters
    ----------
    records
        The cleaned records.
    side
        Side of the map's square in metres.

    Returns
    -------
    DataFrame
        ``square`` (packed, each once, larger than the map's) and ``records``. Records that no square of the
        grid holds whole, such as one of the whole country, are not in it.
    """
    coarse = records.connection.execute(f"""
        select system, easting, northing, precision_m, is_point, count(*) as records
        from records where {COUNTED} and ({place_sql(side)}) < 0 group by all
    """).df()
    system, easting, northing = (coarse[name].to_numpy() for name in ("system", "easting", "northing"))
    width, is_point = coarse["precision_m"].to_numpy(), coarse["is_point"].to_numpy()
    square = np.full(len(coarse), NO_SQUARE, dtype=np.int64)
    for larger in sorted(each for each in SIDES if each > side):
        placed = place_in(system, easting, northing, width, is_point, larger)
        square = np.where(square == NO_SQUARE, placed, square)
    counts = coarse.assign(square=square).groupby("square")["records"].sum().astype("int64").reset_index()
    return counts[counts["square"] != NO_SQUARE].reset_index(drop=True)


def across_classes(records: Records, classes: Sequence[DateClass]) -> int:
    """Count the records that count but whose dates lie in no single date class."""
    return _how_many(records, f"({class_sql(classes)}) is null")


def _how_many(records: Records, condition: str) -> int:
    [(count,)] = records.connection.execute(
        f"select count(*) from records where {COUNTED} and {condition}"
    ).fetchall()
    return int(count)


def _with_one_place(lists: pd.DataFrame, side: int) -> pd.DataFrame:
    """Give a list whose own references differ the square as its place."""
    spread = (lists["easting"] != lists["easting_max"]) | (lists["northing"] != lists["northing_max"])
    spread &= lists["square"] >= 0
    placed = lists.drop(columns=["easting_max", "northing_max"])
    placed["easting"] = placed["easting"].where(~spread, placed["easting"] // side * side)
    placed["northing"] = placed["northing"].where(~spread, placed["northing"] // side * side)
    placed["precision_m"] = placed["precision_m"].where(~spread, side)
    return placed
