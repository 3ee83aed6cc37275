"""Season, hour and habitat: is the record outside what the species has been found in, given how often people looked?

All three are cells (half-months, hours, habitats). In each cell stands how often others found the species there and
how often that was to be expected had it no preference, from all outings in that cell. The surprise is how many times
fewer it was found; a cell in which hardly anybody looked cannot surprise. Cells of two scales (hours of the clock, and
words such as night) are not held against each other. In the round of the year the cells beside count by half, and a
cell surprises only where it and its surroundings both hold too few.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Finds that everything expected and found is drawn towards, so that little evidence gives little surprise.
CAUTION = 2.0
#: Times fewer finds than expected from which on a record is odd by them (our judgement).
FEWER = 2.0
HALF_MONTHS = 24
TIMES = 27
#: Scale of each of these cells: hours of the clock, and words.
SCALES = np.repeat([0, 1], [24, 3])
_SMOOTH = ((-1, 0.25), (0, 0.5), (1, 0.25))


@dataclass(frozen=True)
class Habit:
    """For each record: natural log of how many times fewer finds than expected (0: not FEWER), and the two numbers."""

    surprise: Number
    found: Number
    expected: Number


@dataclass(frozen=True)
class HabitTable:
    """How often each kind was found in each cell, and how often anything was looked for there (outings); the scale of
    each cell, and whether the last cell neighbours the first."""

    finds: Number
    effort: Number
    kinds: pd.Index
    scales: Whole
    circular: bool

    def judge(self, kinds: Whole, cell: Whole, known: npt.NDArray[np.bool_]) -> Habit:
        """Hold records against the table; ``known`` says which of them stand in it themselves and are taken out."""
        nothing = np.full(len(cell), np.nan)
        if not self.finds.size or not self.effort.sum():
            return Habit(np.zeros(len(cell)), nothing, nothing)
        row = self.kinds.get_indexer(pd.Index(kinds))
        judged = (row >= 0) & (cell >= 0) & (cell < len(self.effort))
        at = np.where(judged, row, 0), np.where(judged, cell, 0)
        scale = self.scales[at[1]]
        sums = np.stack([self.finds[:, self.scales == one].sum(axis=1) for one in np.unique(self.scales)], axis=1)
        looked = np.bincount(self.scales, self.effort)
        usual = np.maximum(sums[at[0], scale] - known, 0) / np.maximum(looked[scale], 1)
        found = np.maximum(self.finds[at] - known, 0)
        expected = usual * self.effort[at[1]]
        fewer = (expected + CAUTION) / (found + CAUTION)
        if self.circular:
            near, effort = _smoothed(self.finds)[at] - _SMOOTH[1][1] * known, _smoothed(self.effort)[at[1]]
            fewer = np.minimum(fewer, (usual * effort + CAUTION) / (np.maximum(near, 0) + CAUTION))
        surprise = np.where(judged & (fewer >= FEWER), np.log(fewer), 0.0)
        return Habit(surprise, np.where(judged, found, np.nan), np.where(judged, expected, np.nan))


def habit_table(
    kinds: Whole, cell: Whole, outing: Whole, cells: int, *, circular: bool, scales: Whole | None = None
) -> HabitTable:
    """Count finds and effort by cell.

    Parameters
    ----------
    kinds
        Shape (n,): what is compared with its own like (species, or species and stage).
    cell
        Shape (n,): 0 to cells - 1, or -1 when unknown.
    outing
        Shape (n,): what counts as one look.
    circular
        Whether the last cell neighbours the first; then neighbours count by half.
    scales
        Shape (cells,): 0, 1, …, the scale of each cell; without it, all are of one.

    Examples
    --------
    >>> kinds, cell = np.repeat([0, 1], 20), np.repeat([0, 1], 20)
    >>> table = habit_table(kinds, cell, np.arange(40), 2, circular=False)
    >>> habit = table.judge(np.array([0]), np.array([1]), np.array([False]))
    >>> float(habit.found[0]), float(habit.expected[0]), float(habit.surprise[0].round(2))
    (0.0, 10.0, 1.79)
    """
    looks = pd.DataFrame({"kind": kinds, "cell": cell, "outing": outing})[cell >= 0]
    effort = np.bincount(looks.drop_duplicates(["cell", "outing"])["cell"], minlength=cells).astype(float)
    pairs = looks.drop_duplicates().groupby(["kind", "cell"]).size()
    rows, names = pd.factorize(pairs.index.get_level_values("kind"))
    finds = np.zeros((len(names), cells))
    finds[rows, pairs.index.get_level_values("cell").to_numpy(dtype=np.int64)] = pairs.to_numpy(float)
    return HabitTable(finds, effort, pd.Index(names), np.zeros(cells, np.int64) if scales is None else scales, circular)


def _smoothed(cells: Number) -> Number:
    """Counts by cell (the last axis) with those of the cells beside."""
    smoothed: Number = np.sum([weight * np.roll(cells, step, axis=-1) for step, weight in _SMOOTH], axis=0)
    return smoothed


def season_cells(records: pd.DataFrame) -> Whole:
    """Half-month (0 to 23) in the middle of dates known to within a fortnight; -1 for the others.

    Examples
    --------
    >>> days = pd.Series(pd.to_datetime(["2020-01-01", "2020-12-31", "2020-05-12", None]))
    >>> season_cells(pd.DataFrame({"date_from": days, "date_to": days}))
    array([ 0, 23,  8, -1])
    """
    first, last = records["date_from"], records["date_to"]
    middle = first + (last - first) / 2
    close = ((last - first).dt.days <= 14).to_numpy(bool)
    cell = (middle.dt.month - 1) * 2 + (middle.dt.day > 15)
    cells: Whole = np.where(close, cell.fillna(-1), -1).astype(np.int64)
    return cells


def hour_cells(records: pd.DataFrame) -> Whole:
    """Hours 0 to 23 where hours are given, 24 to 26 for day, dusk and night, -1 where nothing is said."""
    text = records["time_of_day"].astype("str")
    cells = {f"{hour:02d}": hour for hour in range(24)} | {"day": 24, "dusk": 25, "night": 26}
    return np.asarray(text.map(cells).fillna(-1), dtype=np.int64)


def habitat_words(records: pd.DataFrame) -> pd.Series:
    """Habitat as written, capitals and outer blanks aside."""
    return records["habitat"].astype("str").str.strip().str.casefold()


def stage_kinds(records: pd.DataFrame) -> Whole:
    """Species and stage as one number: what a season or hour is a habit of.

    Adults, and records without a stage, are a species' number of thousands; other stages follow it.
    """
    stage = records["stage"].astype("str").str.casefold()
    codes = {word: 1 + zlib.crc32(word.encode()) % 999 if word not in ("", "adult") else 0 for word in stage.unique()}
    kinds: Whole = records["species_id"].to_numpy(np.int64) * 1000 + stage.map(codes).to_numpy(np.int64)
    return kinds
