"""Where in their squares lists were made: a find just over the border says more than one farther off.

A square of two kilometres is wide: the next square's finds may lie beside this one's own lists or four kilometres
away. Here finds are told apart by the distance between the places themselves, as finely as the lists say them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.sparse import csr_array
from scipy.spatial import cKDTree

from gapmap.expected.curves import bin_lists, rates
from gapmap.expected.surroundings import in_plane, more_than_likely
from gapmap.grid.squares import unpack

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Places are told apart to a quarter of a square's side.
_PARTS = 4
#: Reach in squares (what lies three times as far no longer counts) and caution in finds of what was found close by.
CLOSE = (1 / 3, 0.5)


@dataclass(frozen=True)
class Spots:
    """N places where lists were made.

    Parameters
    ----------
    row
        N: position of the square each lies in.
    places
        N × 2: where they lie, in squares east and north.
    lists
        N: lists made there.
    found
        N × K, sparse: 1 where the species was found.
    """

    row: Whole
    places: Numbers
    lists: Numbers
    found: csr_array


def find_spots(lists: pd.DataFrame, row: Whole, of_list: Whole, column: Whole, kinds: int, plane: int) -> Spots:
    """Gather the places of lists.

    Parameters
    ----------
    lists
        As in columns.LISTS, L of them, all in squares.
    row
        L: position of each list's square.
    of_list, column
        One entry a find: position of its list and of its species.
    kinds
        Number of species, K.
    plane
        Key of the system in whose plane they lie.

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> lists = pd.DataFrame({"square": pack(1, 2_000, [324_000], [672_000]), "system": 1,
    ...                       "easting": 325_000, "northing": 672_000, "precision_m": 1_000})
    >>> spots = find_spots(lists, np.array([0]), np.array([0]), np.array([1]), 3, plane=1)
    >>> spots.places.tolist(), spots.found.toarray().tolist()
    ([[162.75, 336.25]], [[0.0, 1.0, 0.0]])
    """
    places = _places_of(lists, plane)
    part = np.floor(places * _PARTS).astype(np.int64)
    _, first, spot = np.unique(np.column_stack([row, part]), axis=0, return_index=True, return_inverse=True)
    spot = spot.reshape(-1)
    made = np.bincount(spot, minlength=len(first)).astype(np.float64)
    middle = np.column_stack([np.bincount(spot, along, minlength=len(first)) / made for along in places.T])
    found = csr_array((np.ones(len(column)), (spot[of_list], column)), shape=(len(first), kinds))
    found.data[:] = 1.0
    return Spots(row[first], middle, made, found)


def found_close_by(spots: Spots, squares: Numbers, power: float) -> Numbers:
    """How much oftener than likely each species was found close to a square's own lists, in the squares around it.

    Parameters
    ----------
    spots
        Where lists were made and what was found there.
    squares
        S × 2: where the squares lie, in whole squares; one without lists is taken for its middle.
    power
        Power of effort.

    Returns
    -------
    S × K natural logs, 0 where nothing tells either way.
    """
    reach, caution = CLOSE
    close = _closeness(spots, squares, reach)
    effort = bin_lists(spots.lists, 1)
    rate = np.exp(rates(effort, np.asarray(spots.found.sum(axis=0)).ravel(), power))
    likely = 1 - np.exp(-rate * effort.lists[:, None] ** power)
    alike = (effort.bin_of == np.arange(len(effort.lists))).astype(np.float64)
    return more_than_likely((close @ spots.found).toarray(), (close @ alike) @ likely, caution)


def _closeness(spots: Spots, squares: Numbers, reach: float) -> csr_array:
    """S × N: how close each spot of another square is to the square's own spots, 1 for the same place."""
    unseen = np.setdiff1d(np.arange(len(squares)), spots.row)
    own = np.concatenate([spots.row, unseen])
    at = np.vstack([spots.places, squares[unseen] + 0.5])
    near = cKDTree(at).sparse_distance_matrix(cKDTree(spots.places), 3 * reach, output_type="ndarray")
    square, other = own[near["i"]], near["j"].astype(np.int64)
    apart = square != spots.row[other]
    weight = np.exp(-(near["v"] ** 2) / (2 * reach**2)) / np.bincount(own)[square]
    shape = (len(squares), len(spots.row))
    return csr_array((weight[apart], (square[apart], other[apart])), shape=shape)


def _places_of(lists: pd.DataFrame, plane: int) -> Numbers:
    """L × 2: middles of the lists' own references, in squares east and north; none lies outside its square."""
    systems, side, *corner = (np.asarray(part) for part in unpack(lists["square"].to_numpy(np.int64)))
    half = lists["precision_m"].to_numpy(np.float64) / 2
    middle = [
        np.clip(lists[name].to_numpy(np.float64) + half, low, low + side - 1)
        for name, low in zip(("easting", "northing"), corner, strict=True)
    ]
    return in_plane(plane, systems, *middle) / side[:, None]
