"""Everything known, laid out so that one record can be held against it without its own evidence.

The records are laid on one plane; a k-d tree answers "how far to the nearest other record of this species",
"… of anything", "… by these people", "… of this outing". An *outing* is what the same people recorded on the
same date; where nobody is named it is the list. A record never bears witness for itself, nor for another of its outing.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.spatial import cKDTree

from gapmap.grid.projections import grid_to_grid
from gapmap.grid.systems import System, system_of

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Records coarser than this are not laid on the plane as evidence: they say nothing about where.
COARSEST_M = 10_000
#: Years after which a record begins to count as farther away than it is …
FRESH_YEARS = 10
#: … and the further years that make it count as twice as far.
STRETCH_YEARS = 20
#: How many rows, and how many lists, above and below a record in its file are looked at.
BESIDE = 3

_GAP = 1e8  # metres between two layers of a tree: wider than the Earth, so that layers never mix
_WIDENING = (6, 40, 400)


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
        self.tree = (
            cKDTree(_raised(self.layer, self.x, self.y), balanced_tree=False, compact_nodes=True)
            if len(places)
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


@dataclass(frozen=True)
class Nearest:
    """Metres to the nearest, metres as felt once old records count as farther, and the node (-1: none)."""

    metres: Number
    felt: Number
    node: Whole


@dataclass(frozen=True)
class Trial:
    """Records tried at places and under names that may not be their own.

    ``row`` is the row of the laid-out records; x, y in metres; ``species`` as in SPECIES. All of shape (n,).
    """

    row: Whole
    x: Number
    y: Number
    species: Whole


class Evidence:
    """All records laid out, with the trees over those that bear witness.

    Parameters
    ----------
    records
        Frame as in columns.RECORDS, in the order of record_id.
    system
        The grid system whose plane everything is laid on.
    species_count
        How many species there are, those without a record included; 0 counts those in the records.
    """

    def __init__(
        self,
        records: pd.DataFrame,
        system: System,
        *,
        species_count: int = 0,
        progress: Callable[[float, str], None] | None = None,
    ) -> None:
        tell = progress or (lambda fraction, sentence: None)
        tell(0.0, "Laying the records on one plane")
        self.system = system
        self.records = records.reset_index(drop=True)
        self.species_count = max(species_count, int(records["species_id"].max()) + 1 if len(records) else 0)
        self._lay_out()
        self._string_together()
        self._plant(tell)

    def _lay_out(self) -> None:
        """Columns of numbers, one entry a record; positions are the middle of references, NaN where too coarse."""
        records = self.records
        side = records["precision_m"].to_numpy(float)
        half = np.where(records["is_point"].to_numpy(bool), 0.0, side / 2)
        x, y = plane_positions(
            records["system"].to_numpy(np.int64),
            records["easting"].to_numpy(float) + half,
            records["northing"].to_numpy(float) + half,
            self.system,
        )
        self.references = records[["system", "easting", "northing", "precision_m"]].to_numpy(np.int64)
        self.is_point = records["is_point"].to_numpy(bool)
        laid = (side <= COARSEST_M) & np.isfinite(x) & np.isfinite(y)
        self.x, self.y = np.where(laid, x, np.nan), np.where(laid, y, np.nan)
        self.species = records["species_id"].to_numpy(np.int64)
        self.people = records["people_id"].to_numpy(np.int64)
        self.year = _middle_years(records)
        self.dates = _codes(records, ["people_id", "date_from", "date_to"])
        self.own_list = np.where(records["list_id"] >= 0, records["list_id"], -2 - np.arange(len(records))).astype(
            np.int64
        )
        beyond = int(self.own_list.max(initial=0)) + len(records) + 2
        alone = self.own_list + len(records) + 2
        self.outing = np.where(self.people > 0, beyond + self.dates + len(records), alone)
        self.witness = np.where(self.people > 0, -self.people, alone)
        self.bears_witness = laid & records["status"].isin(["", "accepted"]).to_numpy(bool)
        self._file = records["file_id"].to_numpy(np.int64)

    def _plant(self, tell: Callable[[float, str], None]) -> None:
        kept = self.bears_witness
        named = kept & (self.people > 0)
        rows, one_layer = np.arange(len(kept)), np.zeros(len(kept), np.int64)

        def layers(layer: Whole, owner: Whole, where: npt.NDArray[np.bool_]) -> Layers:
            return Layers(layer[where], self.x[where], self.y[where], owner[where], self.year[where])

        tell(0.05, "Sorting the records by species and place")
        self.of_species = layers(self.species, self.outing, kept)
        self.of_species_by_others = layers(self.species, self.witness, kept)
        tell(0.12, "Sorting the records by place, people and date")
        self.of_anything = layers(one_layer, self.outing, kept)
        self.by_people = layers(self.people, self.outing, named)
        self.of_outing = layers(self.dates, rows, named)
        dated = named & np.isfinite(self.year)
        self.years_of_people = Layers(
            self.people[dated],
            np.floor(self.year[dated]),
            np.zeros(int(dated.sum())),
            self.outing[dated],
            self.year[dated],
        )
        self.species_at = _Lookup(_place_keys(self.of_species.x, self.of_species.y), self.of_species.layer)
        self.company = _Company(_place_keys(self.x[kept], self.y[kept]), self.dates[kept])
        self.places_of_species = np.bincount(self.of_species.layer, minlength=self.species_count)

    def as_they_stand(self, rows: Whole | None = None) -> Trial:
        """Records at their own places and under their own names."""
        rows = np.arange(len(self.x)) if rows is None else rows
        return Trial(rows, self.x[rows], self.y[rows], self.species[rows])

    def with_record(self, record: dict[str, object]) -> Evidence:
        """The same evidence with one more record at the end that bears no witness and belongs to no file."""
        wider = copy.copy(self)
        one = pd.DataFrame([record]).astype(
            {n: d for n, d in self.records.dtypes.items() if n in record}, errors="ignore"
        )
        wider.records = pd.concat([self.records.tail(0), one], ignore_index=True)
        single = Evidence.__new__(Evidence)
        single.system, single.records = self.system, wider.records
        single._lay_out()
        for name in ("x", "y", "species", "people", "year", "bears_witness"):
            setattr(wider, name, np.append(getattr(self, name), getattr(single, name)))
        wider.references = np.concatenate([self.references, single.references])
        wider.is_point = np.append(self.is_point, single.is_point)
        apart = int(max(self.outing.max(initial=0), self.dates.max(initial=0))) + 1
        same = (self.people == single.people[0]) & (single.people[0] > 0)
        same &= (
            (self.records[["date_from", "date_to"]] == wider.records[["date_from", "date_to"]].iloc[0])
            .all(axis=1)
            .to_numpy(bool)
        )
        dates = int(self.dates[same][0]) if same.any() else apart
        wider.dates = np.append(self.dates, dates)
        wider.outing = np.append(self.outing, dates if same.any() else apart)
        wider.witness = np.append(self.witness, -single.people[0] if single.people[0] > 0 else apart)
        wider.own_list = np.append(self.own_list, -1)
        wider.bears_witness[-1] = False
        wider._file = np.append(self._file, -1)
        wider._run_of_row = np.append(self._run_of_row, len(self._run_file))
        wider._run_file, wider._run_x, wider._run_y = (
            np.append(column, -1) for column in (self._run_file, self._run_x, self._run_y)
        )
        return wider

    def is_filed(self, rows: Whole) -> npt.NDArray[np.bool_]:
        """Whether records come from a file, rather than being tried by themselves."""
        filed: npt.NDArray[np.bool_] = self._file[rows] >= 0
        return filed

    def share_nearby(self, trial: Trial, places: int = 12) -> Number:
        """Share of the nearest recorded places that have the species by another outing, less the share all over."""
        _, node = self.of_anything.neighbours(np.zeros(len(trial.row), np.int64), trial.x, trial.y, places)
        node = np.minimum(node, max(len(self.of_anything.x) - 1, 0))
        found = np.zeros(len(trial.row))
        if len(self.of_anything.x):
            keys = _place_keys(self.of_anything.x, self.of_anything.y)
            for column in range(places):
                index = self.species_at.find(keys[node[:, column]], trial.species)
                held = np.maximum(index, 0)
                own = (self.of_species.low[held] == self.outing[trial.row]) & (
                    self.of_species.high[held] == self.outing[trial.row]
                )
                found += (index >= 0) & ~own
        expected = places * self.places_of_species[trial.species] / max(len(self.of_anything.x), 1)
        against: Number = np.log((found + 0.5) / (expected + 0.5))
        return against

    def listed_with(self, trial: Trial) -> Number:
        """How many other records the same list (place, dates, people) has at the place tried.

        NaN for a record of no file that stands alone: whether it had company was not said.
        """
        keys = _place_keys(trial.x, trial.y)
        own = self.bears_witness[trial.row] & (keys == _place_keys(self.x[trial.row], self.y[trial.row]))
        others: Number = self.company.count(keys, self.dates[trial.row]) - own
        return np.where((others == 0) & (self._file[trial.row] < 0), np.nan, others)

    def rows_beside(self, trial: Trial) -> Number:
        """Metres to the rows next above and below in the same file, nearest first; shape (n, 2 × BESIDE)."""
        return _beside(trial, trial.row, self._file, self.x, self.y)

    def lists_beside(self, trial: Trial) -> Number:
        """Metres to the lists next above and below in the same file, nearest first; shape (n, 2 × BESIDE).

        Rows of one list that follow each other count as one, so that a whole list in the wrong place stands out too.
        """
        return _beside(trial, self._run_of_row[trial.row], self._run_file, self._run_x, self._run_y)

    def _string_together(self) -> None:
        """Runs of rows in file order that belong to one list, each with its place."""
        files = self._file
        new = np.ones(len(files), bool)
        new[1:] = (files[1:] != files[:-1]) | (self.own_list[1:] != self.own_list[:-1])
        first = np.flatnonzero(new)
        self._run_of_row = np.cumsum(new) - 1
        self._run_file, self._run_x, self._run_y = files[first], self.x[first], self.y[first]


def _beside(trial: Trial, own: Whole, files: Whole, x: Number, y: Number) -> Number:
    distances = np.full((len(own), 2 * BESIDE), np.inf)
    for column, step in enumerate([s for s in range(-BESIDE, BESIDE + 1) if s]):
        held = np.clip(own + step, 0, len(files) - 1)
        same = (held == own + step) & (files[held] == files[own])
        apart = np.hypot(x[held] - trial.x, y[held] - trial.y)
        distances[:, column] = np.where(same & np.isfinite(apart), apart, np.inf)
    return np.sort(distances, axis=1)


def plane_positions(systems: Whole, easting: Number, northing: Number, onto: System) -> tuple[Number, Number]:
    """Positions of several grid systems on one system's plane, metres."""
    x, y = easting.astype(float).copy(), northing.astype(float).copy()
    for key in np.unique(systems):
        if key != onto.key:
            rows = systems == key
            x[rows], y[rows] = grid_to_grid(system_of(int(key)), onto, easting[rows], northing[rows])
    return np.round(x), np.round(y)


class _Lookup:
    """Finds the node that stands at a place in a layer."""

    def __init__(self, places: Whole, layers: Whole) -> None:
        mixed = _mixed(places, layers)
        self.order = np.argsort(mixed, kind="stable")
        self.sorted = mixed[self.order]

    def find(self, places: Whole, layers: Whole) -> Whole:
        mixed = _mixed(places, layers)
        at = np.minimum(np.searchsorted(self.sorted, mixed), max(len(self.sorted) - 1, 0))
        if not len(self.sorted):
            return np.full(len(mixed), -1)
        return np.where(self.sorted[at] == mixed, self.order[at], -1)


class _Company:
    """Counts the records that stand at a place with the same dates and people."""

    def __init__(self, places: Whole, dates: Whole) -> None:
        self.sorted = np.sort(_mixed(places, dates))

    def count(self, places: Whole, dates: Whole) -> Number:
        mixed = _mixed(places, dates)
        return (np.searchsorted(self.sorted, mixed, "right") - np.searchsorted(self.sorted, mixed, "left")).astype(
            float
        )


def _mixed(first: Whole, second: Whole) -> Whole:
    """One 64-bit number for a pair; two pairs agree by chance less than once in 10¹³ records squared over 10⁶."""
    with np.errstate(over="ignore"):
        mixed = first.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15) ^ second.astype(np.uint64) * np.uint64(
            0xC2B2AE3D27D4EB4F
        )
        mixed ^= mixed >> np.uint64(31)
        return (mixed * np.uint64(0xBF58476D1CE4E5B9)).view(np.int64)


def _place_keys(x: Number, y: Number) -> Whole:
    whole_x = np.nan_to_num(x, nan=-9e7, posinf=9e7, neginf=-9e7).round().astype(np.int64)
    whole_y = np.nan_to_num(y, nan=-9e7, posinf=9e7, neginf=-9e7).round().astype(np.int64)
    keys: Whole = (whole_x + 100_000_000) * 1_000_000_000 + (whole_y + 100_000_000)
    return keys


def _raised(layer: Whole, x: Number, y: Number) -> Number:
    return np.column_stack([np.nan_to_num(x, nan=1e9), np.nan_to_num(y, nan=1e9), layer * _GAP])


def _staleness(years_apart: Number) -> Number:
    stretch: Number = 1 + np.nan_to_num(np.maximum(0, np.abs(years_apart) - FRESH_YEARS), nan=0.0) / STRETCH_YEARS
    return stretch


def _codes(records: pd.DataFrame, columns: list[str]) -> Whole:
    codes = records.groupby(columns, sort=False, dropna=False).ngroup()
    return np.asarray(codes, dtype=np.int64)


def _middle_years(records: pd.DataFrame) -> Number:
    """Year in the middle of the dates; NaN where they are open."""
    first, last = records["date_from"].dt.year, records["date_to"].dt.year
    return np.asarray((first + last) / 2, dtype=np.float64)
