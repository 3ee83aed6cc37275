"""From squares to the whole area: hectads and what they need, a summary by date class, and growth by year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from gapmap.columns import ALL_DATES, NO_SQUARE
from gapmap.coverage.counted import IN_ONE_YEAR, LIST_KEY, counted_sql
from gapmap.coverage.standings import NOT_VISITED, POOR, STANDINGS, WELL
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import children, parent, polygons, unpack
from gapmap.grid.systems import System
from gapmap.records.table import Records
from gapmap.settings import ThresholdsSection

#: Standings that need no further visit.
DONE = (WELL, POOR)
_MOST_NAMED = 100


def land_shares(squares: npt.ArrayLike, boundary: Any, system: System) -> pd.Series[float]:
    """Share of each square that lies inside the boundary.

    Parameters
    ----------
    squares
        Packed squares.
    boundary
        A shapely polygon in the plane of ``system``.
    system
        The grid system of the boundary.

    Returns
    -------
    Series
        0 to 1 by packed square; squares wholly outside are left out.
    """
    packed = np.unique(np.asarray(squares, dtype=np.int64))
    shapely.prepare(boundary)
    shapes = polygons(packed, system)
    inside = shapely.area(shapely.intersection(shapes, boundary)) / shapely.area(shapes)
    shares = pd.Series(np.minimum(inside, 1.0), index=packed)
    return shares[shares > 0]


def roll_up(standing: pd.DataFrame, side: int, land: pd.Series[float] | None = None) -> pd.DataFrame:
    """Count how the squares stand inside each larger square.

    Parameters
    ----------
    standing
        As :func:`gapmap.coverage.completeness.standing` gives it.
    side
        Side of the larger squares in metres, such as 10 000.
    land
        Share of each square inside the area (0 to 1) by packed square: a square counts by that share, and those
        not in it count nothing. Without it every square of a larger square counts as one.

    Returns
    -------
    DataFrame
        ``square`` (the larger one), ``date_class``, ``squares`` (how many it holds, by share of land), one column
        for each of STANDINGS (squares by share of land), ``done_share`` (0 to 1: well covered, or thoroughly and
        poor), ``visits_needed`` (of the squares for which it can be said) and ``needs`` (references of the squares
        not done, fewest visits needed first, joined by "; ").
    """
    squares = _with_every_child(standing, side, land)
    squares["weight"] = 1.0 if land is None else squares["square"].map(land).fillna(0.0)
    squares = squares[squares["weight"] > 0]
    keys = ["parent", "date_class"]
    counts = squares.pivot_table(index=keys, columns="standing", values="weight", aggfunc="sum", fill_value=0.0)
    counts = counts.reindex(columns=list(STANDINGS), fill_value=0.0)
    frame = counts.reset_index().rename(columns={"parent": "square"}).rename_axis(columns=None)
    total = counts.sum(axis=1).to_numpy()
    frame.insert(2, "squares", total)
    frame["done_share"] = counts[list(DONE)].sum(axis=1).to_numpy() / total
    order = squares[~squares["standing"].isin(DONE)].sort_values(["visits_needed", "square"])
    order = order.assign(reference=squares_to_references(order["square"].to_numpy(dtype=np.int64)))
    needs = order.groupby(keys)["reference"].agg(_named)
    visits = squares.groupby(keys)["visits_needed"].sum(min_count=1)
    index = counts.index
    frame["visits_needed"] = visits.reindex(index).to_numpy(dtype=np.float64)
    frame["needs"] = pd.Series(needs.reindex(index).fillna("").tolist(), dtype="str")
    return frame


def summary(standing: pd.DataFrame, land: pd.Series[float] | None = None) -> pd.DataFrame:
    """Count the squares in each standing by date class.

    Parameters
    ----------
    standing, land
        As for :func:`roll_up`.

    Returns
    -------
    DataFrame
        ``date_class``, ``standing`` (each of STANDINGS in their order, also those nobody stands in), ``squares``,
        ``share`` (0 to 1 of the squares of the class, by share of land where it is given, so that a square without
        any is counted and has no part in it) and ``visits_needed`` (of the squares for which it can be said; empty
        where it can be said of none).

    Examples
    --------
    >>> squares = pd.DataFrame({
    ...     "square": [1, 2, 3], "date_class": 0, "standing": ["begun", "begun", "well covered"],
    ...     "visits_needed": [float("nan"), 4.0, 0.0],
    ... })
    >>> table = summary(squares)
    >>> table[table["squares"] > 0][["standing", "squares", "visits_needed"]].values.tolist()
    [['begun', 2, 4.0], ['well covered', 1, 0.0]]
    >>> len(summary(squares.iloc[:0]))
    0
    """
    weight = pd.Series(1.0, index=standing.index) if land is None else standing["square"].map(land).fillna(0.0)
    rows = standing.assign(weight=weight)
    classes = sorted(standing["date_class"].unique())
    every = pd.MultiIndex.from_product([classes, STANDINGS], names=["date_class", "standing"])
    grouped = rows.groupby(["date_class", "standing"])
    needed = grouped["visits_needed"].sum(min_count=1)
    frame = pd.DataFrame({
        "squares": grouped.size(), "weight": grouped["weight"].sum(), "visits_needed": needed,
    }).reindex(every)
    frame[["squares", "weight"]] = frame[["squares", "weight"]].fillna(0)
    frame["squares"] = frame["squares"].astype(np.int64)
    totals = frame.groupby("date_class")["weight"].transform("sum")
    frame["share"] = np.where(totals > 0, frame["weight"] / totals.where(totals > 0, 1.0), 0.0)
    return frame.reset_index()[["date_class", "standing", "squares", "share", "visits_needed"]]


def growth(records: Records, tally: pd.DataFrame, side: int, thresholds: ThresholdsSection) -> pd.DataFrame:
    """How coverage grew, year by year.

    Parameters
    ----------
    records
        The cleaned records; lists and records whose year is known count.
    tally
        As :func:`gapmap.coverage.tally.tally` gives it, of the squares of the map: records in others do not count.
        Squares and species are new in the first year the tally has for them.
    side
        Side of the map's square in metres.
    thresholds
        ``enough_visits`` says how many lists are enough to judge a square.

    Returns
    -------
    DataFrame
        One row a year from the first to the last: ``year``, ``records``, ``lists``, ``squares`` with a record in
        the year, ``new_squares``, ``squares_so_far``, ``new_species``, ``species_so_far`` and ``enough_so_far``
        (squares that have had enough lists by the end of the year).
    """
    total = tally[(tally["date_class"] == ALL_DATES) & (tally["first"] > 0)]
    records.connection.register("squares_of_the_map", pd.DataFrame({"square": tally["square"].unique()}))
    rows = records.connection.execute(f"""
        with counted as ({counted_sql(records, side, ())}),
        dated as (select *, year(date_from)::integer as year from counted
            where square in (select square from squares_of_the_map) and {IN_ONE_YEAR}),
        lists as (select distinct year, {LIST_KEY} from dated where in_list),
        nth as (select year, row_number() over (
            partition by square order by date_to, people_id, date_from, own_list) as nth from lists),
        parts as (
            select year, count(*) as records, 0 as lists, count(distinct square) as squares, 0 as enough
                from dated group by year
            union all select year, 0, count(*), 0, count(*) filter (nth = {thresholds.enough_visits})
                from nth group by year
        )
        select year, sum(records) as records, sum(lists) as lists, sum(squares) as squares, sum(enough) as enough
        from parts group by year order by year
    """).df().astype(np.int64).set_index("year")
    records.connection.unregister("squares_of_the_map")
    species = total[total["counts"].astype(bool)]
    new = {"new_squares": _by_first_year(total, "square"), "new_species": _by_first_year(species, "species_id")}
    rows = pd.concat([rows, pd.DataFrame(new)], axis=1)
    if len(rows):
        rows = rows.reindex(range(rows.index.min(), rows.index.max() + 1))
    rows = rows.fillna(0).astype(np.int64).rename_axis("year").reset_index()
    return pd.DataFrame({
        "year": rows["year"], "records": rows["records"], "lists": rows["lists"], "squares": rows["squares"],
        "new_squares": rows["new_squares"], "squares_so_far": rows["new_squares"].cumsum(),
        "new_species": rows["new_species"], "species_so_far": rows["new_species"].cumsum(),
        "enough_so_far": rows["enough"].cumsum(),
    })


def _by_first_year(total: pd.DataFrame, what: str) -> pd.Series[int]:
    """How many squares or species have each year as their first."""
    return total.groupby(what)["first"].min().value_counts()


def _with_every_child(standing: pd.DataFrame, side: int, land: pd.Series[float] | None) -> pd.DataFrame:
    """The standing with the squares nobody ever recorded in, and the larger square of each."""
    rows = standing[["square", "date_class", "standing", "visits_needed"]].copy()
    rows["parent"] = parent(rows["square"].to_numpy(dtype=np.int64), side)
    rows = rows[rows["parent"] != NO_SQUARE]
    if rows.empty:
        return rows
    _, child_side, _, _ = unpack(rows["square"].to_numpy(dtype=np.int64)[:1])
    parents = np.unique(rows["parent"])
    every = np.concatenate([children(int(one), int(child_side[0])) for one in parents])
    if land is not None:
        every = np.union1d(every, land.index.to_numpy(dtype=np.int64))
    missing = np.setdiff1d(every, rows["square"])
    classes = np.unique(np.append(rows["date_class"], ALL_DATES))
    unseen = pd.DataFrame({
        "square": np.repeat(missing, len(classes)), "date_class": np.tile(classes, len(missing)),
        "standing": pd.Series([NOT_VISITED] * (len(missing) * len(classes)), dtype="str"), "visits_needed": np.nan,
    })
    unseen["parent"] = parent(unseen["square"].to_numpy(dtype=np.int64), side)
    return pd.concat([rows, unseen[unseen["parent"] != NO_SQUARE]], ignore_index=True)


def _named(references: Sequence[str]) -> str:
    names = [str(one) for one in references]
    more = f"; and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return "; ".join(names[:_MOST_NAMED]) + more
