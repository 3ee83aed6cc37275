"""Species expected in the area but found in no square of it yet: weighed from wider records, or named by a checklist.

The wider records stand beside the area's own, and the same model is asked where in the area a species that is known
only from around it would turn up: near to where it lives, and in the company it keeps there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.spatial import cKDTree

from gapmap.expected.model import FEWEST_LISTS, FEWEST_SQUARES, Model, fit_model
from gapmap.expected.regression import chance_of
from gapmap.expected.surroundings import places_of
from gapmap.grid.squares import unpack

Whole = npt.NDArray[np.int64]

#: What the columns of the table mean.
COLUMNS = {
    "species_id": "as in the joined table of species",
    "species": "name",
    "squares_expected": "sum over the area's squares of the chance that it lives there; empty when it cannot be said",
    "best_square": "packed square of the area where it is likeliest; -1 when it cannot be said",
    "chance": "0 to 1: chance that it lives in that square",
    "chance_low": "lower end of its interval",
    "chance_high": "upper end of its interval",
    "squares_around": "squares around the area it is known from",
    "lists_around": "lists around the area that hold it",
    "nearest_km": "kilometres from the area's nearest square to the nearest of those; empty when there are none",
    "last_year": "last year it was found around; 0 when unknown",
    "why": "the evidence in words",
}


@dataclass(frozen=True)
class Seen:
    """Lists, finds and species of one set of records, as in columns.LISTS, columns.FINDS and columns.SPECIES."""

    lists: pd.DataFrame
    finds: pd.DataFrame
    species: pd.DataFrame


def expect_newcomers(
    own: Seen,
    wider: Sequence[Seen],
    squares: npt.ArrayLike,
    *,
    found: npt.ArrayLike = (),
    recorded: npt.ArrayLike = (),
) -> pd.DataFrame:
    """Say which species are expected in the area though no square of it has them.

    Parameters
    ----------
    own
        The area's records; its table of species may name more than were found (a checklist's). Lists away from the
        area count as wider ones.
    wider
        Records from around the area. What they tell from inside the area is named, but not counted.
    squares
        Packed squares of the area.
    found, recorded
        Own species_id found in some square of the area, on a list or on none; and those that any own record names.

    Returns
    -------
    DataFrame
        One row a species, the most to be expected first; columns as in COLUMNS. Species that only the checklist
        names come last and have no numbers.
    """
    area = np.unique(np.asarray(squares, dtype=np.int64))
    joined, inside_too = _join(own, wider, area)
    there = joined.lists["square"].isin(area).to_numpy(bool)
    found_here = joined.finds["list_id"].isin(joined.lists.loc[there, "list_id"])
    number = own.species.set_index("species_id")["name"].map(joined.species.set_index("name")["species_id"])
    known = np.union1d(joined.finds.loc[found_here, "species_id"], number.loc[np.asarray(found, dtype=np.int64)])
    told = set(number.loc[np.asarray(recorded, dtype=np.int64)])
    new = joined.species[joined.species["counts"] & ~joined.species["species_id"].isin(known)]
    around = joined.finds[joined.finds["species_id"].isin(new["species_id"])].merge(
        joined.lists[["list_id", "square", "year"]], on="list_id"
    )
    table = _known_around(new, around, area)
    table = _with_chances(table, joined, area)
    table["why"] = [
        _why(int(count), float(away), inside=kind in inside_too, recorded=kind in told, has_number=bool(has_number))
        for count, away, kind, has_number in zip(
            table["squares_around"], table["nearest_km"], table["species_id"], table["chance"].notna(), strict=True
        )
    ]
    ordered = table.sort_values(
        ["squares_expected", "squares_around", "species"], ascending=[False, False, True], na_position="last"
    )
    return ordered[list(COLUMNS)].reset_index(drop=True)


def _join(own: Seen, wider: Sequence[Seen], area: Whole) -> tuple[Seen, set[int]]:
    """All records under one numbering, wider ones from inside the area left out, and the species those told of."""
    named = pd.concat([own.species, *(one.species for one in wider)], ignore_index=True)
    species = named.drop_duplicates("name").reset_index(drop=True).assign(species_id=lambda t: np.arange(len(t)))
    number = species.set_index("name")["species_id"]
    lists, finds, inside = [], [], set()
    start = 0
    for position, one in enumerate([own, *wider]):
        ids = one.species.set_index("species_id")["name"].map(number)
        here = one.lists[one.lists["square"] >= 0]
        told = one.finds.assign(species_id=one.finds["species_id"].map(ids).to_numpy(np.int64))
        if position > 0:
            within = here["square"].isin(area)
            inside |= set(told.loc[told["list_id"].isin(here.loc[within, "list_id"]), "species_id"])
            here = here[~within]
        lists.append(here.assign(list_id=here["list_id"] + start))
        kept = told[told["list_id"].isin(here["list_id"])]
        finds.append(kept.assign(list_id=kept["list_id"] + start))
        start += int(one.lists["list_id"].max()) + 1 if len(one.lists) else 0
    return Seen(pd.concat(lists, ignore_index=True), pd.concat(finds, ignore_index=True), species), inside


def _known_around(new: pd.DataFrame, around: pd.DataFrame, area: Whole) -> pd.DataFrame:
    sums = around.groupby("species_id").agg(
        squares_around=("square", "nunique"), lists_around=("list_id", "nunique"), last_year=("year", "max")
    )
    table = new[["species_id"]].assign(species=new["name"]).merge(sums, on="species_id", how="left")
    for name in sums.columns:
        table[name] = table[name].fillna(0).astype("int64")
    if len(around) and len(area):
        away = np.unique(around["square"].to_numpy(np.int64))
        places = places_of(np.concatenate([area, away]))
        side_km = float(unpack(area)[1][0]) / 1000
        distance, _ = cKDTree(places[: len(area)]).query(places[len(area) :])
        by_square = pd.Series(distance * side_km, index=away)
        nearest = around["square"].map(by_square).groupby(around["species_id"]).min()
        table["nearest_km"] = table["species_id"].map(nearest).astype("float64")
    else:
        table["nearest_km"] = np.nan
    return table


def _with_chances(table: pd.DataFrame, joined: Seen, area: Whole) -> pd.DataFrame:
    answer = table.assign(squares_expected=np.nan, best_square=-1, chance=np.nan, chance_low=np.nan, chance_high=np.nan)
    sure = answer["squares_around"].to_numpy() >= FEWEST_SQUARES
    sure &= len(joined.lists) >= FEWEST_LISTS
    if not sure.any() or not len(area):
        return answer
    seen = joined.species[joined.species["species_id"].isin(joined.finds["species_id"]) & joined.species["counts"]]
    squares = np.union1d(area, joined.lists["square"].to_numpy(np.int64))
    model = fit_model(joined.lists, joined.finds, seen.reset_index(drop=True), squares)
    rows = np.searchsorted(squares, area)
    columns = pd.Index(model.evidence.species).get_indexer(pd.Index(answer.loc[sure, "species_id"]))
    chance, low, high = _chances(model, rows, columns)
    best = chance.argmax(axis=0)
    at = np.arange(len(columns))
    answer.loc[sure, "squares_expected"] = chance.sum(axis=0)
    answer.loc[sure, "best_square"] = area[best]
    for name, part in (("chance", chance), ("chance_low", low), ("chance_high", high)):
        answer.loc[sure, name] = part[best, at]
    return answer


def _chances(model: Model, rows: Whole, columns: Whole) -> list[npt.NDArray[np.float64]]:
    pick = np.ix_(rows, columns)
    score, doubt = model.thorough_score()[pick], model.doubt()[pick]
    return [chance_of(score + move * doubt) for move in (0.0, -1.96, 1.96)]


def _why(count: int, away: float, *, inside: bool, recorded: bool, has_number: bool) -> str:
    parts = []
    if count:
        parts.append(f"known from {count} square{'s' * (count != 1)} around the area, the nearest {away:.0f} km off")
    elif recorded:
        parts.append("recorded, but too coarsely for a square of the map, or not accepted: ask for a finer reference")
    if inside:
        parts.append("the wider records tell of it inside the area: ask for that record")
    if not parts:
        parts.append("only the checklist names it")
    elif not has_number:
        parts.append("too few to put a number to it")
    return "; ".join(parts)
