"""What the lists say, counted for the model: squares × species, and how much each list could have said.

A list counts for a species only when something of the species' group is on it, and only as far as its month and
hour allow: a list made in the wrong season or by day says little about a moth of the autumn night.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.expected.seasons import CELLS, availability, cells_of, yields
from gapmap.expected.spots import Spots, find_spots
from gapmap.expected.surroundings import main_plane, places_of

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Years after which a list says half as much about what is on the rise.
HALF_LIFE = 3.0
#: Name of the column, beside those of habitats and heights, that tells how much of a square belongs to the area.
INSIDE = "inside"
#: A square of the area holds at least so much of it.
_LEAST_INSIDE = 0.02


@dataclass(frozen=True)
class Ground:
    """What S squares are made of: ``shares`` (S × H) of habitats and height bands, ``inside`` (S) the area's share."""

    shares: Numbers
    inside: Numbers


def ground_of(table: pd.DataFrame | None, squares: Whole) -> Ground:
    """Ground of the squares from a table by packed square, such as expected.ground makes; all inside without one.

    Examples
    --------
    >>> table = pd.DataFrame({"habitat 1": [0.5], "inside": [0.25]}, index=[7])
    >>> ground = ground_of(table, np.array([7, 8]))
    >>> ground.shares.tolist(), ground.inside.tolist()
    ([[0.5], [0.0]], [0.25, 1.0])
    >>> ground_of(None, np.array([7])).shares.shape
    (1, 0)
    """
    at = pd.DataFrame(index=squares) if table is None else table.reindex(squares)
    inside = at[INSIDE] if INSIDE in at else pd.Series(1.0, index=squares)
    shares = at.drop(columns=INSIDE, errors="ignore").fillna(0.0).to_numpy(np.float64)
    return Ground(shares, np.clip(inside.fillna(1.0).to_numpy(np.float64), _LEAST_INSIDE, 1.0))


@dataclass(frozen=True)
class Evidence:
    """Counts over S squares and K species.

    Parameters
    ----------
    squares, species
        Packed squares, S, and species_id, K.
    places
        S × 2: where the squares lie, in whole squares.
    spots
        Where in the squares lists were made, and what was found there.
    lists
        S: lists made.
    effort
        S × K: lists that could have held the species, in average lists.
    finds
        S × K: lists with it.
    rise
        K: natural log of its share of late lists over its share of all, drawn towards nought by its uncertainty.
    ground
        What the squares are made of.
    months_hours
        CELLS × K: how much oftener than on the average list it is found in each month and hour.
    outings
        CELLS × K: how much oftener than on the average visit it is found on a visit made then.
    """

    squares: Whole
    species: Whole
    places: Numbers
    spots: Spots
    lists: Numbers
    effort: Numbers
    finds: Numbers
    rise: Numbers
    ground: Ground
    months_hours: Numbers
    outings: Numbers

    @property
    def found(self) -> Numbers:
        """S × K: 1 where it was found."""
        return (self.finds > 0).astype(np.float64)


def gather(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    squares: npt.ArrayLike,
    ground: Ground | None = None,
) -> Evidence:
    """Count lists and finds for the model.

    Parameters
    ----------
    lists, finds
        As in columns.LISTS and columns.FINDS; lists without a square say nothing here.
    species
        As in columns.SPECIES; the rows to count.
    squares
        Packed squares to count for, without repeats; lists elsewhere are left out.
    ground
        What the squares are made of, in their order.

    Returns
    -------
    Evidence
    """
    at = np.asarray(squares, dtype=np.int64)
    kinds = species["species_id"].to_numpy(np.int64)
    row_of, column_of = pd.Index(at), pd.Index(kinds)
    here = lists[lists["square"].isin(at)]
    used = finds[finds["species_id"].isin(kinds) & finds["list_id"].isin(here["list_id"])]
    position = pd.Index(here["list_id"])
    of_list = position.get_indexer(pd.Index(used["list_id"]))
    column = column_of.get_indexer(pd.Index(used["species_id"]))
    square_of_list = row_of.get_indexer(pd.Index(here["square"]))
    shape = (len(at), len(kinds))
    counts = np.zeros(shape)
    np.add.at(counts, (square_of_list[of_list], column), 1.0)
    groups, group_of = np.unique(species["group"].fillna("").astype(str).to_numpy(), return_inverse=True)
    cell = cells_of(here)
    weight = availability(cell, of_list, column, group_of, species)
    effort = np.zeros(shape)
    plain = bool(np.all(weight == 1.0))
    for group in range(len(groups)):
        members = np.flatnonzero(group_of == group)
        about = np.unique(of_list[group_of[column] == group])
        flat = square_of_list[about] * CELLS + cell[about]
        by_cell = np.bincount(flat, minlength=len(at) * CELLS).reshape(len(at), CELLS).astype(np.float64)
        effort[:, members] = by_cell.sum(axis=1, keepdims=True) if plain else by_cell @ weight[:, members]
    return Evidence(
        at,
        kinds,
        places_of(at),
        find_spots(here, square_of_list, of_list, column, len(kinds), main_plane(at)),
        np.bincount(square_of_list, minlength=len(at)).astype(np.float64),
        np.maximum(effort, 1e-3 * (counts > 0)),
        counts,
        _rise(here, of_list, column, counts.sum(axis=0)),
        ground_of(None, at) if ground is None else ground,
        weight,
        weight * yields(cell, of_list, column, group_of),
    )


def _rise(lists: pd.DataFrame, of_list: Whole, column: Whole, finds: Numbers) -> Numbers:
    years = lists["year"].to_numpy(np.int64)
    dated = years > 0
    if len(np.unique(years[dated])) < 3 or len(finds) < 2:
        return np.zeros(len(finds))
    late = np.where(dated, 2.0 ** (-(years[dated].max() - years) / HALF_LIFE), 0.0)
    weight = late[of_list]
    number = np.bincount(column, dated[of_list].astype(np.float64), minlength=len(finds))
    share = number / dated.sum()
    seen = np.bincount(column, weight, minlength=len(finds))
    change = np.log((seen + 0.5) / (share * late.sum() + 0.5))
    mean = late[dated].mean()
    doubt = ((late[dated] ** 2).mean() / mean**2 - 1) / np.maximum(number, 0.5) + 1e-9
    real = max(0.0, float(np.average(change**2 - doubt, weights=1 / (doubt + 0.05) ** 2)))
    answer: Numbers = change * real / (real + doubt)
    return answer
