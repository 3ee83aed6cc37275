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

from gapmap.checks.keyed import Counts, Lookup, mixed, place_keys
from gapmap.checks.layers import Layers
from gapmap.grid.projections import grid_to_grid
from gapmap.grid.systems import System, system_of

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Records coarser than this are not laid on the plane as evidence: they say nothing about where.
COARSEST_M = 10_000
#: A record of a reference of this side or wider may lie anywhere in it: distances are the least that can be.
BLURRED_M = 1_000
#: How many rows, and how many lists, above and below a record in its file are looked at.
BESIDE = 3


@dataclass(frozen=True)
class Trial:
    """Records tried at places and under names that may not be their own.

    ``row`` is the row of the laid-out records; x, y in metres; ``species`` as in SPECIES; ``blur`` how far from x, y
    each may lie, in metres. All of shape (n,).
    """

    row: Whole
    x: Number
    y: Number
    species: Whole
    blur: Number

    def at(self, chosen: Whole) -> Trial:
        """The chosen trials."""
        return Trial(self.row[chosen], self.x[chosen], self.y[chosen], self.species[chosen], self.blur[chosen])


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
    people
        Frame as in columns.PEOPLE, to know who is in several sets of people; without it, each set is of its own.
    """

    def __init__(
        self,
        records: pd.DataFrame,
        system: System,
        *,
        species_count: int = 0,
        people: pd.DataFrame | None = None,
        progress: Callable[[float, str], None] | None = None,
    ) -> None:
        tell = progress or (lambda fraction, sentence: None)
        tell(0.0, "Laying the records on one plane")
        self.system = system
        self.records = records.reset_index(drop=True)
        self.species_count = max(species_count, int(records["species_id"].max()) + 1 if len(records) else 0)
        self._set_of, self._person_of = _members(people)
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
        self.blur = blur_of(side)
        laid = (side <= COARSEST_M) & np.isfinite(x) & np.isfinite(y)
        self.x, self.y = np.where(laid, x, np.nan), np.where(laid, y, np.nan)
        self.species = records["species_id"].to_numpy(np.int64)
        self.people = records["people_id"].to_numpy(np.int64)
        self.year, self.one_year = _years(records)
        self.days = records[["date_from", "date_to"]].to_numpy("datetime64[D]")
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
        self.in_metres = self.is_point & _typed_in_metres(self._file, self.references, self.is_point)

    def _plant(self, tell: Callable[[float, str], None]) -> None:
        kept = self.bears_witness
        named = kept & (self.people > 0)
        rows, one_layer = np.arange(len(kept)), np.zeros(len(kept), np.int64)

        def layers(layer: Whole, owner: Whole, where: npt.NDArray[np.bool_]) -> Layers:
            return Layers(layer[where], self.x[where], self.y[where], owner[where], self.year[where], self.blur[where])

        tell(0.05, "Sorting the records by species and place")
        self.of_species = layers(self.species, self.outing, kept)
        tell(0.12, "Sorting the records by place, people and date")
        self.of_anything = layers(one_layer, self.outing, kept)
        self.by_people = layers(self.people, self.outing, named)
        self.of_outing = layers(self.dates, rows, named)
        dated = named & np.isfinite(self.one_year)
        self.years_of_people = Layers(
            self.people[dated],
            self.one_year[dated],
            np.zeros(int(dated.sum())),
            self.outing[dated],
            self.year[dated],
        )
        single = named & (self.days[:, 0] == self.days[:, 1])
        self.days_of_people = Counts(self.people[single], self.days[single, 0].astype(np.int64))
        self.species_at = Lookup(place_keys(self.of_species.x, self.of_species.y), self.of_species.layer)
        places = place_keys(self.x[kept], self.y[kept])
        self.company = Counts(places, self.dates[kept])
        self.listed = Counts(places, mixed(self.dates[kept], self.species[kept]))
        self.places_of_species = np.bincount(self.of_species.layer, minlength=self.species_count)

    def as_they_stand(self, rows: Whole | None = None) -> Trial:
        """Records at their own places and under their own names."""
        rows = np.arange(len(self.x)) if rows is None else rows
        return Trial(rows, self.x[rows], self.y[rows], self.species[rows], self.blur[rows])

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
        for name in ("x", "y", "blur", "species", "people", "year", "one_year", "bears_witness"):
            setattr(wider, name, np.append(getattr(self, name), getattr(single, name)))
        wider.days = np.concatenate([self.days, single.days])
        wider.references = np.concatenate([self.references, single.references])
        wider.is_point = np.append(self.is_point, single.is_point)
        wider.in_metres = np.append(self.in_metres, False)
        apart = int(max(self.outing.max(initial=0), self.dates.max(initial=0))) + 1
        same = (self.people == single.people[0]) & (single.people[0] > 0) & _are_same(self.days, single.days[0])
        wider.dates = np.append(self.dates, self.dates[same][0] if same.any() else apart)
        wider.outing = np.append(self.outing, self.outing[same][0] if same.any() else apart)
        wider.witness = np.append(self.witness, -single.people[0] if single.people[0] > 0 else apart)
        wider.own_list = np.append(self.own_list, -1)
        wider.bears_witness[-1] = False
        wider._file = np.append(self._file, -1)
        wider._run_of_row = np.append(self._run_of_row, len(self._run_file))
        wider._run_file, wider._run_x, wider._run_y = (
            np.append(column, -1) for column in (self._run_file, self._run_x, self._run_y)
        )
        return wider

    def last_or_its_like(self) -> int:
        """The last record, or the one before it that is of the same species, place and dates, and of the same people
        where the last has any."""
        same = (self.species == self.species[-1]) & _are_same(self.days, self.days[-1])
        same &= (self.references == self.references[-1]).all(axis=1) & (self.is_point == self.is_point[-1])
        same &= (self.people == self.people[-1]) | (self.people[-1] == 0)
        return int(np.flatnonzero(np.append(same[:-1], True))[0])

    def of_same_people(self, row: int) -> Whole:
        """What ``witness`` says of records by any of a record's people, alone or among others."""
        mine = self._person_of[self._set_of == self.people[row]]
        sets = self._set_of[np.isin(self._person_of, mine)]
        return np.append(-np.unique(sets), self.witness[row])

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
            keys = place_keys(self.of_anything.x, self.of_anything.y)
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
        keys = place_keys(trial.x, trial.y)
        own = self.bears_witness[trial.row] & (keys == place_keys(self.x[trial.row], self.y[trial.row]))
        others: Number = self.company.count(keys, self.dates[trial.row]) - own
        return np.where((others == 0) & (self._file[trial.row] < 0), np.nan, others)

    def listed_already(self, trial: Trial) -> Number:
        """Whether the same list (place, dates, people) holds the species already at the place tried: 1 or 0."""
        keys, here = place_keys(trial.x, trial.y), place_keys(self.x[trial.row], self.y[trial.row])
        own = self.bears_witness[trial.row] & (keys == here) & (trial.species == self.species[trial.row])
        others: Number = self.listed.count(keys, mixed(self.dates[trial.row], trial.species)) - own
        return np.where(others > 0, 1.0, 0.0)

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
        apart = np.maximum(np.hypot(x[held] - trial.x, y[held] - trial.y) - trial.blur, 0)
        distances[:, column] = np.where(same & np.isfinite(apart), apart, np.inf)
    return np.sort(distances, axis=1)


def _are_same(days: npt.NDArray[np.datetime64], one: npt.NDArray[np.datetime64]) -> npt.NDArray[np.bool_]:
    """Whether dates, from and to, are those of one; what is not known is the same as what is not known."""
    same: npt.NDArray[np.bool_] = (days.astype(np.int64) == one.astype(np.int64)).all(axis=1)
    return same


def blur_of(side: Number) -> Number:
    """Metres that a record may lie from the middle of its reference, by its side; nothing for references so fine that
    it would not matter."""
    return np.where(side >= BLURRED_M, side / np.sqrt(2), 0.0)


def least_between(east: Number, north: Number, blur: Number, other: Number) -> Number:
    """Metres that squares lie apart at least, by how far their middles do to the east and to the north.

    Examples
    --------
    >>> hectad, monad = blur_of(np.array([10_000.0, 1_000.0]))
    >>> least_between(np.array([20_000.0, 30_500.0]), np.array([10_000.0, 500.0]), hectad, np.array([hectad, monad]))
    array([10000., 25000.])
    """
    half = (blur + other) / np.sqrt(2)
    apart: Number = np.hypot(*(np.maximum(np.abs(metres) - half, 0) for metres in (east, north)))
    return np.round(apart, 6)


def plane_positions(systems: Whole, easting: Number, northing: Number, onto: System) -> tuple[Number, Number]:
    """Positions of several grid systems on one system's plane, metres."""
    x, y = easting.astype(float).copy(), northing.astype(float).copy()
    for key in np.unique(systems):
        if key != onto.key:
            rows = systems == key
            x[rows], y[rows] = grid_to_grid(system_of(int(key)), onto, easting[rows], northing[rows])
    return np.round(x), np.round(y)


def _typed_in_metres(file: Whole, references: Whole, is_point: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """Whether the points of a record's file were typed as easting and northing: then most are round to 10 m, which
    points that were turned from degrees are not."""
    is_round = (references[:, 1] % 10 == 0) & (references[:, 2] % 10 == 0)
    points = pd.Series(is_round[is_point]).groupby(file[is_point]).mean()
    typed: npt.NDArray[np.bool_] = np.isin(file, points.index[points >= 0.5])
    return typed


def _members(people: pd.DataFrame | None) -> tuple[Whole, Whole]:
    """Who is in which set of people: columns of the set and of a number for the person."""
    named = pd.DataFrame({"people_id": [], "names": []}) if people is None else people[people["people_id"] > 0]
    each = named["names"].astype("str").str.split("; ").explode()
    return named["people_id"].loc[each.index].to_numpy(np.int64), pd.factorize(each)[0].astype(np.int64)


def _codes(records: pd.DataFrame, columns: list[str]) -> Whole:
    codes = records.groupby(columns, sort=False, dropna=False).ngroup()
    return np.asarray(codes, dtype=np.int64)


def _years(records: pd.DataFrame) -> tuple[Number, Number]:
    """Year in the middle of the dates and the year they all lie in; NaN where there is none."""
    first, last = (records[name].dt.year.to_numpy(np.float64) for name in ("date_from", "date_to"))
    return (first + last) / 2, np.where(first == last, first, np.nan)
