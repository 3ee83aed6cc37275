"""What lies between a far record and the others: beyond the range or in a hole, and who has looked in between."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence, plane_positions
from gapmap.checks.keyed import place_keys
from gapmap.grid.squares import unpack

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: An empty sector wider than this many degrees puts a record outside the range.
OUTSIDE_DEGREES = 180.0
#: Around a record, others of the species are looked at to twice the distance of the nearest, and to so many places.
AROUND = 24
#: Steps in each square on the way, and pairs of places looked at in one go.
_STEPS, _AT_ONCE = 2, 4_000_000


@dataclass(frozen=True)
class Between:
    """For each chosen record: the widest sector without the species (degrees) and how far was looked (metres, infinite:
    everywhere); on the way to the nearest, squares well worked without it, hardly worked, and without any record (those
    of the area alone where its squares are known: the sea is none of it)."""

    empty_sector: Number
    looked_m: Number
    worked_without: Whole
    seldom: Whole
    never: Whole


def between(
    evidence: Evidence,
    rows: Whole,
    nearest_x: Number,
    nearest_y: Number,
    side: int,
    enough: int,
    area: Whole | None = None,
) -> Between:
    """Look around and along the way from the chosen records to the nearest other of their species.

    Parameters
    ----------
    evidence
        The records laid out.
    rows
        Shape (n,): the chosen records.
    nearest_x, nearest_y
        Shape (n,): metres, the nearest other record of the species; NaN when there is none.
    side
        Side of the squares on the way, metres; records of wider references lie in none of them.
    enough
        Outings that make a square well worked.
    area
        Squares of the area, of that side, packed; None when they are not known.
    """
    worked, squares_with = _squares(evidence, side)
    place, key = _on_the_way(evidence, rows, nearest_x, nearest_y, side)
    outings = worked.reindex(key, fill_value=0).to_numpy()
    of_area = True if area is None else np.isin(key, _keys_of(area, evidence))
    without = ~pd.MultiIndex.from_arrays([evidence.species[rows][place], key]).isin(squares_with)

    def squares(chosen: npt.NDArray[np.bool_]) -> Whole:
        return np.bincount(place[chosen], minlength=len(rows)).astype(np.int64)

    sector, looked = np.full(len(rows), 360.0), np.full(len(rows), np.inf)
    for chosen in _by_species(evidence, rows):
        sector[chosen], looked[chosen] = _empty_sectors(evidence, rows[chosen])
    return Between(
        sector,
        looked,
        squares(without & (outings >= enough)),
        squares((outings < enough) & (outings > 0)),
        squares((outings == 0) & of_area),
    )


def _on_the_way(evidence: Evidence, rows: Whole, to_x: Number, to_y: Number, side: int) -> tuple[Whole, Whole]:
    """Squares that the straight way leads through, but for its two ends: whose way (a place in rows) and the square."""
    from_x, from_y = evidence.x[rows], evidence.y[rows]
    metres = np.nan_to_num(np.hypot(to_x - from_x, to_y - from_y))
    steps = np.ceil(metres / side * _STEPS).astype(np.int64)
    place = np.repeat(np.arange(len(rows)), steps)
    done = (np.arange(len(place)) - np.repeat(np.cumsum(steps) - steps, steps)) / np.maximum(steps, 1)[place]
    x, y = (start[place] + done * (end - start)[place] for start, end in ((from_x, to_x), (from_y, to_y)))
    key = place_keys(x, y, side)
    ends = (key == place_keys(from_x, from_y, side)[place]) | (key == place_keys(to_x, to_y, side)[place])
    fresh = np.ones(len(key), bool)
    fresh[1:] = (key[1:] != key[:-1]) | (place[1:] != place[:-1])
    return place[fresh & ~ends], key[fresh & ~ends]


def firsts(evidence: Evidence, rows: Whole, side: int) -> dict[str, npt.NDArray[np.bool_]]:
    """Whether each chosen record is its species' only outing in its square and in its hectad, by references that are
    no wider than these."""
    answer = {}
    precision_m, of_these = evidence.references[:, 3], np.isin(evidence.species, np.unique(evidence.species[rows]))
    for word, size in (("square", side), ("hectad", 10_000)):
        kept = np.flatnonzero(evidence.bears_witness & of_these & (precision_m <= size))
        others = _species_squares(evidence, kept, size).assign(outing=evidence.outing[kept]).drop_duplicates()
        outings = others.groupby(["species", "key"]).size()
        own = pd.MultiIndex.from_frame(_species_squares(evidence, rows, size))
        is_only = outings.reindex(own, fill_value=0).to_numpy() - evidence.bears_witness[rows] <= 0
        answer[word] = is_only & (precision_m[rows] <= size)
    return answer


def _keys_of(squares: Whole, evidence: Evidence) -> Whole:
    """Packed squares as the keys of the places in their middles."""
    system, side, easting, northing = unpack(squares)
    x, y = plane_positions(system, easting + side / 2, northing + side / 2, evidence.system)
    return place_keys(x, y, int(side[0])) if len(side) else np.zeros(0, np.int64)


def _species_squares(evidence: Evidence, rows: Whole, side: int) -> pd.DataFrame:
    keys = place_keys(evidence.x[rows], evidence.y[rows], side)
    return pd.DataFrame({"species": evidence.species[rows], "key": keys})


def _squares(evidence: Evidence, side: int) -> tuple[pd.Series, pd.MultiIndex]:
    """Outings by square, and the pairs of species and square."""
    kept = evidence.bears_witness & (evidence.references[:, 3] <= side)
    frame = _species_squares(evidence, np.flatnonzero(kept), side).assign(outing=evidence.outing[kept])
    worked = frame.drop_duplicates(["key", "outing"]).groupby("key").size()
    return worked, pd.MultiIndex.from_frame(frame[["species", "key"]].drop_duplicates())


def _by_species(evidence: Evidence, rows: Whole) -> Iterator[Whole]:
    """Places in rows, those of one species together, but not more than can be looked at in one go."""
    tree, species = evidence.of_species, evidence.species[rows]
    for one in np.unique(species):
        places = np.flatnonzero((species == one) & np.isfinite(evidence.x[rows]))
        nodes = int(np.searchsorted(tree.layer, one, "right") - np.searchsorted(tree.layer, one, "left"))
        if len(places) and nodes:
            yield from np.array_split(places, -(-len(places) * nodes // _AT_ONCE))


def _empty_sectors(evidence: Evidence, rows: Whole) -> tuple[Number, Number]:
    """Widest angle, in degrees, that holds no place of the species by other outings, and how far was looked; for
    records of one species."""
    tree, species = evidence.of_species, evidence.species[rows[0]]
    there = slice(*(int(np.searchsorted(tree.layer, species, side)) for side in ("left", "right")))
    east = tree.x[there] - evidence.x[rows, None]
    north = tree.y[there] - evidence.y[rows, None]
    metres, mine = np.hypot(east, north), evidence.outing[rows, None]
    counts = (metres > 0) & ((tree.low[there] != mine) | (tree.high[there] != mine))
    others = np.where(counts, metres, np.inf)
    enough = np.partition(others, AROUND - 1, axis=1)[:, AROUND - 1] if others.shape[1] >= AROUND else np.inf
    looked = np.maximum(2 * others.min(axis=1), enough)
    angle = np.degrees(np.arctan2(east, north)) % 360
    angle = np.sort(np.where(counts & (metres <= looked[:, None]), angle, np.nan), axis=1)
    around = np.nan_to_num(angle[:, :1] + 360 - np.nanmax(angle, axis=1, initial=0.0)[:, None], nan=360.0)
    gaps = np.nan_to_num(np.diff(angle, axis=1), nan=0.0)
    sector: Number = np.concatenate([around, gaps], axis=1).max(axis=1)
    return sector, np.where(looked < np.where(counts, metres, 0.0).max(axis=1), looked, np.inf)
