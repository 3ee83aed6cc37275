"""What lies between a far record and the others: beyond the range or in a hole, and who has looked in between."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence
from gapmap.checks.keyed import place_keys

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Other records of the species looked at around a record.
AROUND = 24
#: An empty sector wider than this many degrees puts a record outside the range.
OUTSIDE_DEGREES = 180.0
_STEPS = 40


@dataclass(frozen=True)
class Between:
    """For each chosen record: widest sector without the species (degrees), well-worked squares on the way to the
    nearest record without it, and squares on the way that hardly anybody has worked."""

    empty_sector: Number
    worked_without: Whole
    unworked: Whole


def between(evidence: Evidence, rows: Whole, nearest_x: Number, nearest_y: Number, side: int, enough: int) -> Between:
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
        Side of the squares on the way, metres.
    enough
        Outings that make a square well worked.
    """
    worked, squares_with = _squares(evidence, side)
    steps = np.linspace(0, 1, _STEPS + 2)[1:-1]
    way_x = evidence.x[rows, None] + steps * (nearest_x - evidence.x[rows])[:, None]
    way_y = evidence.y[rows, None] + steps * (nearest_y - evidence.y[rows])[:, None]
    keys = np.where(np.isfinite(way_x), place_keys(way_x, way_y, side), -1)
    ends = (keys == place_keys(evidence.x[rows], evidence.y[rows], side)[:, None]) | (
        keys == place_keys(nearest_x, nearest_y, side)[:, None]
    )
    fresh = np.ones_like(keys, dtype=bool)
    fresh[:, 1:] = keys[:, 1:] != keys[:, :-1]
    counted = fresh & ~ends & (keys >= 0)
    outings = worked.reindex(keys.ravel(), fill_value=0).to_numpy().reshape(keys.shape)
    pairs = pd.MultiIndex.from_arrays([np.repeat(evidence.species[rows], keys.shape[1]), keys.ravel()])
    without = ~pairs.isin(squares_with).reshape(keys.shape)
    return Between(
        _empty_sector(evidence, rows),
        (counted & without & (outings >= enough)).sum(axis=1),
        (counted & (outings < enough)).sum(axis=1),
    )


def firsts(evidence: Evidence, rows: Whole, side: int) -> dict[str, npt.NDArray[np.bool_]]:
    """Whether each chosen record is its species' only outing in its square, its hectad and the whole area."""
    answer = {}
    kept = np.flatnonzero(evidence.bears_witness & np.isin(evidence.species, np.unique(evidence.species[rows])))
    for word, size in (("square", side), ("hectad", 10_000), ("area", 0)):
        others = _species_squares(evidence, kept, size).assign(outing=evidence.outing[kept]).drop_duplicates()
        outings = others.groupby(["species", "key"]).size()
        own = pd.MultiIndex.from_frame(_species_squares(evidence, rows, size))
        answer[word] = outings.reindex(own, fill_value=0).to_numpy() - evidence.bears_witness[rows] <= 0
    return answer


def _species_squares(evidence: Evidence, rows: Whole, side: int) -> pd.DataFrame:
    """Species and square of records; without a side all lie in one square."""
    keys = place_keys(evidence.x[rows], evidence.y[rows], side) if side else np.zeros(len(rows), np.int64)
    return pd.DataFrame({"species": evidence.species[rows], "key": keys})


def _squares(evidence: Evidence, side: int) -> tuple[pd.Series, pd.MultiIndex]:
    kept = evidence.bears_witness
    frame = pd.DataFrame(
        {
            "key": place_keys(evidence.x[kept], evidence.y[kept], side),
            "outing": evidence.outing[kept],
            "species": evidence.species[kept],
        }
    )
    worked = frame.drop_duplicates(["key", "outing"]).groupby("key").size()
    return worked, pd.MultiIndex.from_frame(frame[["species", "key"]].drop_duplicates())


def _empty_sector(evidence: Evidence, rows: Whole) -> Number:
    """Widest angle, in degrees, that holds none of the nearest records of the species by other outings."""
    tree = evidence.of_species
    x, y = evidence.x[rows], evidence.y[rows]
    distance, node = tree.neighbours(evidence.species[rows], x, y, AROUND)
    held = np.minimum(node, max(len(tree.x) - 1, 0))
    mine = evidence.outing[rows][:, None]
    counts = np.isfinite(distance) & (distance > 0) & ((tree.low[held] != mine) | (tree.high[held] != mine))
    angle = np.where(counts, np.degrees(np.arctan2(tree.x[held] - x[:, None], tree.y[held] - y[:, None])) % 360, np.nan)
    ordered = np.sort(angle, axis=1)
    gaps = np.diff(ordered, axis=1)
    last = np.nanmax(np.where(counts.any(axis=1)[:, None], ordered, 0.0), axis=1, initial=0.0)
    around = np.where(counts.any(axis=1), 360 - last + np.nan_to_num(ordered[:, 0]), 360.0)
    widest = np.nanmax(np.nan_to_num(gaps, nan=0.0), axis=1, initial=0.0)
    sector: Number = np.maximum(widest, around)
    return sector
