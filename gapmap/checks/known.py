"""All that is known about how ordinary records behave, ready to judge any of them or a new one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence
from gapmap.checks.habits import HabitTable, habitat_words, hour_cells, season_cells, stage_kinds
from gapmap.checks.identification import identification
from gapmap.checks.oddness import Spacing, commonness, two_sided, whole, yardstick
from gapmap.checks.odds import place_measures, places_of
from gapmap.checks.slips import Explained, Search, no_repairs, offered
from gapmap.checks.spread import Spread
from gapmap.checks.terrain import raster_under
from gapmap.settings import Settings

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: The widest reference whose middle says something of the height, and of the ground, that was recorded on, metres
#: (our judgement).
WIDEST_M = {"height": 1_000, "habitat": 100}
#: Ways of being odd that are counted each by itself, besides place.
WAYS = ("season", "hour", "habitat", "ground_cover", "height", "identification", "year")


@dataclass(frozen=True)
class Known:
    """Evidence and the yardsticks taken from it.

    Parameters
    ----------
    evidence
        The records laid out.
    species
        Frame as in columns.SPECIES.
    search, explained
        What repairs are looked for with, and what they are worth; None when there are too few records to learn from.
    moving
        Spread by species.
    habits
        Tables of season, hour, habitat as written and ground cover (raster).
    words
        Habitats as written, in the order of their cells.
    heights, covers
        Rasters under the records, NaN where unknown, and the files they come from.
    usual
        Middle values over accepted records of what cannot be known of a record of no file.
    spacing, sticks
        Yardsticks: of range by species, and of every other measure over all accepted records.
    area
        Packed squares of the area; None when they are not known.
    """

    evidence: Evidence
    species: pd.DataFrame
    settings: Settings
    search: Search | None
    explained: Explained | None
    moving: dict[int, Spread]
    habits: dict[str, HabitTable]
    words: pd.Index
    rasters: dict[str, Path]
    heights: Number
    covers: Number
    usual: dict[str, float]
    spacing: Spacing | None
    sticks: dict[str, Number]
    area: Whole | None = None

    def measure(self, rows: Whole) -> pd.DataFrame:
        """Raw measures of the chosen records at their own places, without yardsticks."""
        evidence = self.evidence
        measures = place_measures(evidence, evidence.as_they_stand(rows))
        laid = np.isfinite(evidence.x[rows])
        slip = np.full(len(rows), -np.inf) if self.search is None else self.search.odds.of(self._filled(measures, rows))
        years = evidence.years_of_people.nearest(
            evidence.people[rows], evidence.one_year[rows], np.zeros(len(rows)), evidence.outing[rows]
        ).metres
        felt, between_middles = (
            np.where(laid, self._allowed(measures[f"{way}_m"], measures[f"{way}_node"], rows), 0.0)
            for way in ("least_felt", "middles_felt")
        )
        return measures.assign(
            year=np.where(np.isfinite(years), years, 0.0),
            laid=laid,
            slip=np.where(laid, slip, -np.inf),
            felt_m=felt,
            middles_felt_m=between_middles,
        )

    def judge(self, measures: pd.DataFrame, rows: Whole) -> pd.DataFrame:
        """Hold raw measures against the yardsticks: adds how odd each is in each way, the whole, and ``one_in``."""
        if self.spacing is None:
            raise TypeError("yardsticks first: use know()")
        evidence = self.evidence
        judged = (
            measures if "season" in measures else measures.assign(**self._habits_of(rows), height=self._height(rows))
        )
        own = evidence.bears_witness[rows]
        far = self.spacing.surprise(evidence.species[rows], judged["felt_m"].to_numpy(float), own)
        odd = {
            way: commonness(judged[way].to_numpy(float), self.sticks[way])
            if way in self.sticks
            else judged[way].to_numpy(float)
            for way in ("slip", *WAYS)
        }
        total = whole(judged["slip"].to_numpy(float), [np.where(judged["laid"], far, 0.0), *(odd[way] for way in WAYS)])
        return judged.assign(**{f"{way}_odd": value for way, value in odd.items()}, range_odd=far, total=total)

    def explain(self, measures: pd.DataFrame, rows: Whole, tried: Whole) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Weigh how well a slip would explain the places of records.

        Parameters
        ----------
        measures, rows
            From measure, and the rows they belong to.
        tried
            Those of the rows for which repairs are looked for; the others' places stay in their order below theirs.

        Returns
        -------
        tuple of two pandas.DataFrame
            The measures with ``slip`` weighed anew, ``gain`` of the best repair and ``likely`` (likelier a slip than
            not), and the repairs offered.
        """
        if self.search is None or self.explained is None or not len(tried):
            return measures.assign(gain=0.0, likely=False), no_repairs()
        found = self.search.repairs(places_of(self.evidence, tried))
        is_tried = np.isin(rows, tried)
        here = measures["slip"].to_numpy(float)
        weighed = self.explained.of(tried, here[is_tried], found)
        rest = here[~is_tried]
        slip = here.copy()
        slip[is_tried] = weighed
        slip[~is_tried] = rest - max(rest.max(initial=-np.inf), weighed.min()) + weighed.min()
        gain = found.groupby("row")["gain"].max().reindex(rows).fillna(0.0).to_numpy(float)
        likely = is_tried & self.explained.is_likely(slip)
        return measures.assign(slip=slip, gain=gain, likely=likely), offered(found)

    def ranked(self, judged: pd.DataFrame, rows: Whole) -> pd.DataFrame:
        """Add ``one_in``: one in how many accepted records is as odd on the whole."""
        total = judged["total"].to_numpy(float)
        stick = self.sticks["total"] if "total" in self.sticks else yardstick(total, self.evidence.bears_witness[rows])
        return judged.assign(one_in=np.exp(commonness(total, stick)))

    def as_odd(self, judged: pd.DataFrame) -> Whole:
        """How many accepted records are as odd on the whole, each of them counted for itself too."""
        stick = self.sticks["total"]
        return len(stick) - np.searchsorted(stick, judged["total"].to_numpy(float), "left")

    def with_record(self, record: dict[str, object]) -> Known:
        """The same knowledge with one more record at the end, which is no evidence itself."""
        evidence = self.evidence.with_record(record)
        under = rasters_under(self.rasters, evidence, np.array([len(evidence.x) - 1]))
        missing = np.array([np.nan])
        return replace(
            self,
            evidence=evidence,
            search=None if self.search is None else replace(self.search, evidence=evidence),
            heights=np.append(self.heights, under.get("height", missing)),
            covers=np.append(self.covers, under.get("habitat", missing)),
        )

    def _filled(self, measures: pd.DataFrame, rows: Whole) -> pd.DataFrame:
        """For records of no file: what cannot be known of them is taken as it usually is."""
        unfiled = ~self.evidence.is_filed(rows)
        if not unfiled.any():
            return measures
        known = {
            name: measures[name].where(np.isfinite(measures[name]) | ~unfiled, usual)
            for name, usual in self.usual.items()
        }
        return measures.assign(**known)

    def _allowed(self, felt_m: pd.Series, nodes: pd.Series, rows: Whole) -> Number:
        """Metres to the species' nearest record, less what an expanding species may have covered since."""
        felt, node = felt_m.to_numpy(float), nodes.to_numpy(np.int64)
        speed = np.zeros(self.evidence.species_count)
        for species, spread in self.moving.items():
            speed[species] = max(spread.speed, 0.0) if spread.is_expanding else 0.0
        later = (
            self.evidence.year[rows] - self.evidence.of_species.year[np.maximum(node, 0)]
            if len(self.evidence.of_species.x)
            else 0.0
        )
        ahead = speed[self.evidence.species[rows]] * np.maximum(np.nan_to_num(later), 0)
        allowed: Number = np.maximum(felt - ahead, 0)
        return allowed

    def _habits_of(self, rows: Whole) -> dict[str, npt.NDArray[Any]]:
        evidence = self.evidence
        records = evidence.records if len(evidence.records) == len(rows) else evidence.records.loc[rows]
        own, species, stages = evidence.bears_witness[rows], evidence.species[rows], stage_kinds(records)
        cells = {
            "season": (stages, season_cells(records)),
            "hour": (stages, hour_cells(records)),
            "habitat": (species, self.words.get_indexer(pd.Index(habitat_words(records)))),
            "ground_cover": (species, cover_cells(self.covers[rows])),
        }
        answer: dict[str, npt.NDArray[Any]] = {}
        for way, (kinds, cell) in cells.items():
            habit = self.habits[way].judge(kinds, cell.astype(np.int64), own)
            answer |= {way: habit.surprise, f"{way}_found": habit.found, f"{way}_expected": habit.expected}
        named = identification(records, self.species)
        missing = np.where(named.short >= 1, named.short, 0.0)
        return answer | {"identification": missing, "short": named.short, "ask": named.ask_for}

    def _height(self, rows: Whole) -> Number:
        if "height" not in self.rasters:
            return np.zeros(len(rows))
        species = self.evidence.species
        chosen = np.isin(species, np.unique(species[rows]))
        among = self.evidence.bears_witness[chosen]
        answer: Number = two_sided(self.heights[chosen], species[chosen], among)[np.cumsum(chosen)[rows] - 1]
        return answer


def rasters_under(rasters: dict[str, Path], evidence: Evidence, rows: Whole) -> dict[str, Number]:
    """Values of rasters under the middle of the records' references; NaN where these are too wide to say."""
    x, y, side = evidence.x[rows], evidence.y[rows], evidence.references[rows, 3]
    return {
        name: raster_under(path, evidence.system, np.where(side <= WIDEST_M[name], x, np.nan), y)
        for name, path in rasters.items()
    }


def cover_cells(covers: Number) -> Whole:
    """Raster classes as cells; classes are whole numbers from 0 to 999, anything else is unknown."""
    sound = np.isfinite(covers) & (covers >= 0) & (covers < 1000)
    return np.where(sound, np.nan_to_num(covers), -1).astype(np.int64)
