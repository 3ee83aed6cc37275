"""Invented islands with their truth, plans for them, and the plain habits that a plan is set beside."""

# ruff: noqa: E402  (the island is imported from the demo folder)
from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

PROJECT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(PROJECT), str(PROJECT / "demo"), str(Path(__file__).parent)]

import island.chance
import make
from island.fauna import Fauna, make_fauna
from island.terrain import make_terrain
from island_truth import best_of_all, known_pairs

from gapmap.columns import ALL_DATES
from gapmap.expected.model import Expectation
from gapmap.visits.prospects import Condition
from gapmap.visits.rules import read_rules
from gapmap.visits.season import Season, plan_season
from gapmap.visits.travel import straight_lines
from gapmap.visits.volunteers import Volunteer, read_volunteers
from gapmap.workflow.expected import expectation
from gapmap.workflow.source import Source, open_source
from gapmap.workflow.stages import Counted, read_and_count

TODAY = date(2026, 11, 25)
#: The demo's own island, and three others by the same generator: other land, other homes, other species' places.
ISLANDS = (island.chance.SEED, 1, 2, 3)
HABITS = ("random squares", "fewest records first", "nearest empty square first")
TIMES = ("day", "dusk", "night")
AS_PLAN, OWN = "same people, days and hours as the plan", "own dates, by day"


@dataclass(frozen=True)
class Isle:
    """One island with its plan for the people, and what the habits need."""

    fauna: Fauna
    source: Source
    counted: Counted
    told: Expectation
    people: list[Volunteer]
    season: Season
    records: np.ndarray
    travel: np.ndarray
    open_to: np.ndarray

    @property
    def squares(self) -> np.ndarray:
        """Packed squares of the area, S."""
        return np.asarray(self.told.model.evidence.squares)

    @property
    def days(self) -> np.ndarray:
        """V × 12: days that each volunteer gives in each month."""
        return np.array([[person.month_days.get(month, 0) for month in range(1, 13)] for person in self.people])

    @property
    def worth(self) -> np.ndarray:
        """S × K: 1 where the species is not known from the last date class."""
        _, now = known_pairs(self.counted)
        names = self.fauna.species["name"].tolist()
        return np.array([[float((int(square), name) not in now) for name in names] for square in self.squares])


def make_isle(seed: int) -> Isle:
    """The island of a seed, its area read and planned for with all days that people give."""
    island.chance.SEED = seed
    with tempfile.TemporaryDirectory() as folder:
        make.make(Path(folder))
        source = open_source([str(Path(folder) / "area")])
        counted = read_and_count(source)
        told = expectation(source, counted)
        people, _ = read_volunteers(source.folder / "volunteers.csv", counted.records.system)
    squares = told.model.evidence.squares
    rules, _ = read_rules(source.settings.visits, source.settings.area, squares)
    travel = straight_lines(people, squares, counted.records.system)
    usable = rules.open_squares(squares, [Condition(6, "day")])[:, 0]
    effort = counted.effort[counted.effort["date_class"] == ALL_DATES].set_index("square")["records"]
    records = effort.reindex(squares).fillna(0).to_numpy().astype(float)
    reach = np.array([[person.reach_m] for person in people])
    open_to = (travel <= reach) & usable[None, :]
    season = _plan(source, counted, told, people)
    return Isle(make_fauna(make_terrain()), source, counted, told, people, season, records, travel, open_to)


def with_days(isle: Isle, share: float) -> Isle:
    """The island planned for with a share of everybody's days."""
    people = [_fewer(person, share) for person in isle.people]
    return replace(isle, people=people, season=_plan(isle.source, isle.counted, isle.told, people))


def _plan(source: Source, counted: Counted, told: Expectation, people: list[Volunteer]) -> Season:
    species, system = counted.records.species, counted.records.system
    return plan_season(told, counted.standing, species, source.settings, system, people, today=TODAY)


def _fewer(person: Volunteer, share: float) -> Volunteer:
    """The person with so large a share of their days, evenly over the season."""
    if share >= 1:
        return person
    offered = _offered(person)
    wanted = max(round(len(offered) * share), 1)
    kept = [offered[min(int((n + 0.5) / share), len(offered) - 1)] for n in range(wanted)]
    return replace(person, month_days={month: kept.count(month) for month in set(kept)}, dates=())


def _offered(person: Volunteer) -> list[int]:
    """Month of every day that the person offers, in order."""
    return [month for month in range(1, 13) for _ in range(person.month_days.get(month, 0))]


def own_dates(isle: Isle) -> pd.DataFrame:
    """Days as somebody sets them without a plan: as many a person as the plan has, evenly over those they offer."""
    number = isle.season.visits["volunteer"].str.split("; ").explode().value_counts()
    rows = []
    for person in isle.people:
        offered, wanted = _offered(person), int(number.get(person.name, 0))
        rows += [(person.name, offered[int((n + 0.5) * len(offered) / wanted)], "day") for n in range(wanted)]
    days = pd.DataFrame(rows, columns=["volunteer", "month", "time_of_day"])
    return days.sort_values("month", kind="stable", ignore_index=True)


def by_habit(habit: str, days: pd.DataFrame, isle: Isle, season: int) -> pd.DataFrame:
    """The days with their squares chosen by a plain habit, one day after the other."""
    rng = np.random.default_rng(season)
    number = {person.name: n for n, person in enumerate(isle.people)}
    taken = np.zeros(len(isle.squares))
    chosen = []
    for names in days["volunteer"]:
        members = [number[one] for one in names.split("; ")]
        can = np.flatnonzero(isle.open_to[members].all(axis=0))
        can = can[taken[can] == taken[can].min()]
        tie, far = rng.random(len(can)), isle.travel[members].max(axis=0)[can]
        if habit == "random squares":
            best = can[np.argmin(tie)]
        elif habit == "fewest records first":
            best = can[np.lexsort((tie, isle.records[can]))[0]]
        else:
            best = can[np.lexsort((far, isle.records[can] > 0))[0]]
        taken[best] += 1
        chosen.append(isle.squares[best])
    return days.assign(square=chosen)


def knowing(isle: Isle, chance: np.ndarray) -> pd.DataFrame:
    """The plan of somebody who knows everything, on the days that volunteers offer."""
    chosen = best_of_all(
        chance, isle.worth, isle.open_to, isle.days, [person.night for person in isle.people],
        isle.source.settings.visits.most_per_square,
    )  # fmt: skip
    rows = [(isle.people[v].name, int(isle.squares[s]), month + 1, TIMES[t]) for v, s, month, t in chosen]
    return pd.DataFrame(rows, columns=["volunteer", "square", "month", "time_of_day"])
