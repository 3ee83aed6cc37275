"""How far to the nearest of one's kind: a k-d tree in separate layers (a species, a set of people, an outing)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy import spatial

from gapmap.checks.keyed import mixed

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]
_TakenOff = Callable[[Whole, Whole], Number]

#: Years after which a record begins to count as farther away than it is …
FRESH_YEARS = 10
#: … and the further years that make it count as twice as far (our judgement).
STRETCH_YEARS = 20

#: So few questions are answered by looking at every node of a layer; for more a tree is worth its growing.
_FEW = 32
_GAP = 1e8  # metres between two layers of a tree: wider than the Earth, so that layers never mix
_HAIR = 1e-3  # metres by which nodes are moved, at most, so that no two are equally far from anywhere
_WIDENING = (6, 40, 400)


@dataclass(frozen=True)
class Nearest:
    """Metres to the nearest and its node (-1: none); the same as felt once old records count as farther."""

    metres: Number
    node: Whole
    felt: Number
    felt_node: Whole


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
    blur
        Shape (n,): how far from x, y each may lie, metres; a node is as wide as its widest. Without it, nowhere else.

    Examples
    --------
    >>> at = np.array([0.0, 0.0, 5.0]); who = np.array([1, 2, 2])
    >>> tree = Layers(np.zeros(3, int), at, at * 0, who, at + 2000)
    >>> tree.nearest(np.array([0, 0]), np.array([0.0, 5.0]), np.zeros(2), np.array([1, 2])).metres
    array([0., 5.])
    """

    def __init__(
        self, layer: Whole, x: Number, y: Number, owner: Whole, year: Number, blur: Number | None = None
    ) -> None:
        blur = np.zeros(len(x)) if blur is None else blur
        frame = pd.DataFrame({"layer": layer, "x": x, "y": y, "owner": owner, "year": year, "blur": blur})
        summary = frame.groupby(["layer", "x", "y"]).agg(
            low=("owner", "min"), high=("owner", "max"), year=("year", "max"), blur=("blur", "max")
        )
        places = summary.index.to_frame(index=False)
        self.layer = places["layer"].to_numpy(np.int64)
        self.x, self.y = places["x"].to_numpy(float), places["y"].to_numpy(float)
        self.low, self.high = summary["low"].to_numpy(np.int64), summary["high"].to_numpy(np.int64)
        self.year, self.blur = summary["year"].to_numpy(float), summary["blur"].to_numpy(float)

    @cached_property
    def tree(self) -> spatial.cKDTree:
        """The tree over the nodes, grown when it is first asked for."""
        at = _raised(self.layer, *_moved_by_a_hair(self.x, self.y))
        return spatial.cKDTree(at, balanced_tree=False, compact_nodes=True)

    def nearest(
        self,
        layer: Whole,
        x: Number,
        y: Number,
        owner: Whole,
        year: Number | None = None,
        blur: Number | None = None,
    ) -> Nearest:
        """Nearest node of the layer that is not the owner's alone; with years, old nodes count as farther.

        ``blur`` is how far from x, y the place asked about may lie, in metres: distances are the least that can be,
        from the middle of whatever is nearest.
        """
        blur = np.zeros(len(x)) if blur is None else blur
        return self._search(layer, x, y, owner, year, [lambda rows, held: blur[rows]])[0]

    def nearest_three_ways(
        self, layer: Whole, x: Number, y: Number, owner: Whole, year: Number, blur: Number
    ) -> tuple[Nearest, Nearest, Nearest]:
        """As ``nearest`` has it; with the wider of the two places taken off the way; and from middle to middle."""
        asked, wider, neither = self._search(
            layer,
            x,
            y,
            owner,
            year,
            [lambda rows, held: blur[rows], lambda rows, held: np.maximum(blur[rows], self.blur[held]), _nothing],
        )
        return asked, wider, neither

    def _search(
        self, layer: Whole, x: Number, y: Number, owner: Whole, year: Number | None, taken_off: Sequence[_TakenOff]
    ) -> list[Nearest]:
        """The nearest, once for each of what may be taken off the way between two middles."""
        metres, felt = np.full((2, len(taken_off), len(x)), np.inf)
        node, felt_node = np.full((2, len(taken_off), len(x)), -1)
        open_ = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
        for width in _WIDENING:
            if not len(self.x) or not len(open_):
                break
            found, index = self.neighbours(layer[open_], x[open_], y[open_], width)
            held = np.minimum(index, len(self.x) - 1)
            mine = owner[open_, None]
            counts = np.isfinite(found) & ((self.low[held] != mine) | (self.high[held] != mine))
            away = np.where(counts, found, np.inf)
            stretch = 1.0 if year is None else _staleness(year[open_, None] - self.year[held])
            for way, off in enumerate(taken_off):
                least = np.maximum(away - off(open_[:, None], held), 0)
                metres[way, open_], node[way, open_] = _least(least, held)
                felt[way, open_], felt_node[way, open_] = _least(least * stretch, held)
            exhausted = ~np.isfinite(found[:, -1])
            open_ = open_[~np.isfinite(metres[0, open_]) & ~exhausted]
        return [Nearest(*each) for each in zip(metres, node, felt, felt_node, strict=True)]

    def neighbours(self, layer: Whole, x: Number, y: Number, count: int) -> tuple[Number, Whole]:
        """Distances and nodes of the nearest ``count`` nodes of a layer, whoever owns them; infinite beyond.

        Which of several nodes equally far comes first hangs on their places alone, not on how many are asked for.
        """
        if not len(self.x):
            return np.full((len(x), count), np.inf), np.zeros((len(x), count), np.int64)
        node = (self._each if len(x) <= _FEW else self._in_tree)(layer, x, y, count)
        held = np.minimum(node, len(self.x) - 1)
        metres = np.hypot(self.x[held] - x[:, None], self.y[held] - y[:, None])
        return np.where(node < len(self.x), metres, np.inf), node

    def _each(self, layer: Whole, x: Number, y: Number, count: int) -> Whole:
        """Nodes by looking at all of a layer; as many as there are nodes where there is no further."""
        nodes = np.full((len(x), count), len(self.x))
        starts, ends = (np.searchsorted(self.layer, layer, side) for side in ("left", "right"))
        for row in np.flatnonzero(np.isfinite(x) & np.isfinite(y)):
            there = slice(starts[row], ends[row])
            at_x, at_y = _moved_by_a_hair(self.x[there], self.y[there])
            apart = (at_x - x[row]) ** 2 + (at_y - y[row]) ** 2
            near = np.argpartition(apart, count)[:count] if count < len(apart) else np.arange(len(apart))
            nodes[row, : len(near)] = starts[row] + near[np.argsort(apart[near])]
        return nodes

    def _in_tree(self, layer: Whole, x: Number, y: Number, count: int) -> Whole:
        """The same by the tree."""
        _, index = self.tree.query(_raised(layer, x, y), k=count, distance_upper_bound=_GAP / 2, workers=2)
        return np.reshape(index, (len(x), count)).astype(np.int64)


def _nothing(rows: Whole, held: Whole) -> Number:
    return np.zeros(1)


def _raised(layer: Whole, x: Number, y: Number) -> Number:
    return np.column_stack([np.nan_to_num(x, nan=1e9), np.nan_to_num(y, nan=1e9), layer * _GAP])


def _moved_by_a_hair(x: Number, y: Number) -> tuple[Number, Number]:
    """Each place by its own hair, the same wherever it is met."""
    across = mixed(x.astype(np.int64), y.astype(np.int64))
    up = mixed(across, across)
    return x + across * (_HAIR / 2**63), y + up * (_HAIR / 2**63)


def _least(values: Number, nodes: Whole) -> tuple[Number, Whole]:
    """The least of each row and its node; -1 where nothing is finite."""
    rows, best = np.arange(len(values)), values.argmin(axis=1)
    least = values[rows, best]
    return least, np.where(np.isfinite(least), nodes[rows, best], -1)


def _staleness(years_apart: Number) -> Number:
    stretch: Number = 1 + np.nan_to_num(np.maximum(0, np.abs(years_apart) - FRESH_YEARS), nan=0.0) / STRETCH_YEARS
    return stretch
