"""How far to the nearest of one's kind: a k-d tree in separate layers (a species, a set of people, an outing)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.spatial import cKDTree

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Years after which a record begins to count as farther away than it is …
FRESH_YEARS = 10
#: … and the further years that make it count as twice as far.
STRETCH_YEARS = 20

_GAP = 1e8  # metres between two layers of a tree: wider than the Earth, so that layers never mix
_WIDENING = (6, 40, 400)


@dataclass(frozen=True)
class Nearest:
    """Metres to the nearest, metres as felt once old records count as farther, and the node (-1: none)."""

    metres: Number
    felt: Number
    node: Whole


class Layers:
    """A k-d tree over positions in separate layers (a species, a set of people, an outing …).

    Parameters
    ----------
    layer, x, y
        Shape (n,); metres. Equal positions in a layer become one node.
    owner
        Shape (n,): who a record belongs to; a node counts only for those who do not own all of it.
    year
        Shape (n,), years, NaN when unknown: a node is as fresh as its latest.

    Examples
    --------
    >>> at = np.array([0.0, 0.0, 5.0]); who = np.array([1, 2, 2])
    >>> tree = Layers(np.zeros(3, int), at, at * 0, who, at + 2000)
    >>> tree.nearest(np.array([0, 0]), np.array([0.0, 5.0]), np.zeros(2), np.array([1, 2])).metres
    array([0., 5.])
    """

    def __init__(self, layer: Whole, x: Number, y: Number, owner: Whole, year: Number) -> None:
        frame = pd.DataFrame({"layer": layer, "x": x, "y": y, "owner": owner, "year": year})
        nodes = frame.groupby(["layer", "x", "y"], sort=False)
        summary = nodes.agg(
            low=("owner", "min"), high=("owner", "max"), year=("year", "max"), records=("owner", "size")
        )
        places = summary.index.to_frame(index=False)
        self.layer = places["layer"].to_numpy(np.int64)
        self.x, self.y = places["x"].to_numpy(float), places["y"].to_numpy(float)
        self.low, self.high = summary["low"].to_numpy(np.int64), summary["high"].to_numpy(np.int64)
        self.year, self.records = summary["year"].to_numpy(float), summary["records"].to_numpy(np.int64)
        self.grow()

    def grow(self) -> None:
        """Grow the tree over the nodes."""
        self.tree = (
            cKDTree(_raised(self.layer, self.x, self.y), balanced_tree=False, compact_nodes=True)
            if len(self.x)
            else None
        )

    def nearest(self, layer: Whole, x: Number, y: Number, owner: Whole, year: Number | None = None) -> Nearest:
        """Nearest node of the layer that is not the owner's alone; with years, old nodes count as farther."""
        metres, node, known = np.full(len(x), np.inf), np.full(len(x), -1), np.full(len(x), np.inf)
        open_ = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
        for width in _WIDENING:
            if self.tree is None or not len(open_):
                break
            found, index = self.neighbours(layer[open_], x[open_], y[open_], width)
            held = np.minimum(index, len(self.x) - 1)
            mine = owner[open_, None]
            counts = np.isfinite(found) & ((self.low[held] != mine) | (self.high[held] != mine))
            stretch = 1.0 if year is None else _staleness(year[open_, None] - self.year[held])
            felt = np.where(counts, found * stretch, np.inf)
            best = felt.argmin(axis=1)
            rows = np.arange(len(open_))
            known[open_] = felt[rows, best]
            metres[open_] = np.where(counts, found, np.inf).min(axis=1)
            node[open_] = np.where(np.isfinite(felt[rows, best]), held[rows, best], -1)
            exhausted = ~np.isfinite(found[:, -1])
            open_ = open_[~np.isfinite(felt[rows, best]) & ~exhausted]
        return Nearest(metres, known, node)

    def neighbours(self, layer: Whole, x: Number, y: Number, count: int) -> tuple[Number, Whole]:
        """Distances and nodes of the nearest ``count`` nodes of a layer, whoever owns them; infinite beyond."""
        if self.tree is None:
            return np.full((len(x), count), np.inf), np.zeros((len(x), count), np.int64)
        found, index = self.tree.query(_raised(layer, x, y), k=count, distance_upper_bound=_GAP / 2, workers=2)
        return np.reshape(found, (len(x), count)), np.reshape(index, (len(x), count)).astype(np.int64)


def _raised(layer: Whole, x: Number, y: Number) -> Number:
    return np.column_stack([np.nan_to_num(x, nan=1e9), np.nan_to_num(y, nan=1e9), layer * _GAP])


def _staleness(years_apart: Number) -> Number:
    stretch: Number = 1 + np.nan_to_num(np.maximum(0, np.abs(years_apart) - FRESH_YEARS), nan=0.0) / STRETCH_YEARS
    return stretch
