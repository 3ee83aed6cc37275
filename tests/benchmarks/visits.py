"""How good the plans are: beside the bound at size, and beside plain habits on the invented island's truth.

    python tests/benchmarks/visits.py                      # all three
    python tests/benchmarks/visits.py size
    python tests/benchmarks/visits.py islands [SEASONS]    # four islands, so many seasons on each
    python tests/benchmarks/visits.py stages               # where the time of the whole command goes

The three habits a plan is set beside: random squares; the squares with fewest records first; the nearest square without
records first. They have the same volunteers with the same number of days each, go where those can reach and the rules
allow, and to no square twice while one is left. Each is walked in two ways:

same people, days and hours as the plan
    the habit chooses only the squares.
own dates, by day
    as somebody organises without a plan: each person's days evenly over the dates they offer, by day, alone.

A plan that knows the whole truth (what lives where and in what numbers, the seasons, everybody's eyes) says how much
could be gained on those days at all.
"""

# ruff: noqa: E402  (the island is imported from the demo folder)
from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TypeVar

import numpy as np
import pandas as pd
from scipy import stats

PROJECT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(PROJECT), str(PROJECT / "demo"), str(Path(__file__).parent)]

import island.chance
import make
from island.fauna import Fauna, make_fauna
from island.terrain import make_terrain
from island_truth import best_of_all, chances, gained, known_pairs
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from gapmap.columns import ALL_DATES
from gapmap.expected.model import Expectation
from gapmap.outputs.field.folder import write_field_folder
from gapmap.outputs.field.paper import write_sheets_pdf
from gapmap.outputs.field.vicinity import maps_of
from gapmap.visits.bound import upper_bound
from gapmap.visits.fieldsheets import FieldSheet
from gapmap.visits.plan import plan
from gapmap.visits.prospects import Condition, Prospects, make_parties
from gapmap.visits.rules import read_rules
from gapmap.visits.season import Season, plan_season
from gapmap.visits.travel import straight_lines
from gapmap.visits.volunteers import Volunteer, read_volunteers
from gapmap.workflow.area import read_backgrounds
from gapmap.workflow.expected import expectation
from gapmap.workflow.source import Source, open_source
from gapmap.workflow.stages import Counted, read_and_count
from gapmap.workflow.visits import sheets_of, write_visits

Made = TypeVar("Made")
TODAY = date(2026, 11, 25)
#: The demo's own island, and three others by the same generator: other land, other homes, other species' places.
ISLANDS = (island.chance.SEED, 1, 2, 3)
HABITS = ("random squares", "fewest records first", "nearest empty square first")
AS_PLAN, OWN = "same people, days and hours as the plan", "own dates, by day"


def size(squares: int = 1000, people: int = 20, days: int = 200, species: int = 150) -> None:
    """Greedy plan and bound at the size of a county."""
    rng = np.random.default_rng(1)
    conditions = tuple(Condition(month, time) for month in range(4, 11) for time in ("day", "dusk", "night"))
    prospects = Prospects(
        squares=np.arange(squares),
        species_id=np.arange(species),
        worth=rng.beta(0.3, 1.0, (squares, species)),
        conditions=conditions,
        detect=rng.beta(1.0, 6.0, (len(conditions), species)),
        open_squares=np.ones((squares, len(conditions)), dtype=bool),
        two_people=np.zeros((squares, len(conditions)), dtype=bool),
        agreed=np.zeros(squares, dtype=np.int64),
    )
    homes, places = rng.random((people, 1, 2)) * 60_000, rng.random((1, squares, 2)) * 60_000
    travel = np.hypot(*np.moveaxis(homes - places, 2, 0))
    each = days // people
    volunteers = [
        Volunteer(
            f"{n}", 0, 0, 25_000, {4 + (n + k) % 7: 1 + (k < each - 7) for k in range(min(each, 7))}, (), n % 2 == 0
        )
        for n in range(people)
    ]
    skills = np.where(rng.random((people, species)) < 0.7, 1.0, 0.2)
    started = time.perf_counter()
    parties = make_parties(volunteers, skills, travel, prospects)
    made = plan(prospects, parties, cost_a_km=0.02)
    planned = time.perf_counter() - started
    bound = upper_bound(prospects, parties, made, cost_a_km=0.02)
    seconds = time.perf_counter() - started
    print(
        f"{squares} squares, {people} people, {int(parties.capacity.sum())} days: {len(made.choices)} visits worth "
        f"{made.value:.1f}, at least {made.value / bound.value:.1%} of the best; plan {planned:.1f} s, with the bound "
        f"{seconds:.1f} s (processor time shared with whatever else runs)"
    )


def stages() -> None:
    """Where the time of the whole command goes on the demo area, and the sheets beside matplotlib's."""
    with tempfile.TemporaryDirectory() as folder:
        make.make(Path(folder))
        source, out = open_source([str(Path(folder) / "area")]), Path(folder) / "out"
        clock = _Clock()
        counted = clock("read and count", lambda: read_and_count(source))
        told = clock("what is expected", lambda: expectation(source, counted))
        path = source.folder / "volunteers.csv"
        people, unread = read_volunteers(path, counted.records.system)
        season = clock(
            "plan and bound",
            lambda: plan_season(told, counted.standing, counted.records.species, source.settings,
                                counted.records.system, people, today=TODAY),
        )  # fmt: skip
        clock("page, tables, workbook", lambda: write_visits(source, counted, season, people, unread, out))
        sheets = clock("words of the sheets", lambda: sheets_of(source, counted, told, season))
        background = read_backgrounds(source, counted.records.system)
        clock("folder field/", lambda: write_field_folder(sheets, background, out / "field", TODAY))
        print(f"{'together':28} {clock.processor:6.1f} s of processor, {clock.wall:6.1f} s   {len(sheets)} visits")
        maps = maps_of(sheets, background)
        clock("all sheets in one PDF", lambda: write_sheets_pdf(sheets, maps, out / "all.pdf"))
        clock("ten of them, matplotlib", lambda: _by_matplotlib(sheets[:10], out / "ten.pdf"))


class _Clock:
    """Runs a piece of work, prints what it took, and adds it up."""

    def __init__(self) -> None:
        self.processor = self.wall = 0.0

    def __call__(self, what: str, work: Callable[[], Made]) -> Made:
        processor, wall = time.process_time(), time.perf_counter()
        made = work()
        processor, wall = time.process_time() - processor, time.perf_counter() - wall
        self.processor, self.wall = self.processor + processor, self.wall + wall
        print(f"{what:28} {processor:6.1f} s of processor, {wall:6.1f} s", flush=True)
        return made


def _by_matplotlib(sheets: Sequence[FieldSheet], path: Path) -> None:
    """The words of the targets alone, without map, tally and safety, as the other library writes them."""
    with PdfPages(path) as book:
        for sheet in sheets:
            figure = Figure(figsize=(8.27, 11.69))
            for row, target in enumerate(sheet.targets):
                cells = (target.name, target.status, target.chance, target.when, target.where, target.how)
                for column, text in enumerate((*cells, target.certainty)):
                    figure.text(0.06 + 0.12 * column, 0.6 - 0.025 * row, text, fontsize=6.5)
            book.savefig(figure)


@dataclass(frozen=True)
class Isle:
    """One island with its plan, and what the habits need."""

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


def islands(seasons: int = 10) -> None:
    """Walk the plan and the three habits on several islands, and say how they compare."""
    rows = []
    for seed in ISLANDS:
        island.chance.SEED = seed
        for share in (1.0, 1 / 3):
            isle = _isle(share)
            print(f"island {seed}, {len(isle.season.visits)} days: {isle.season.closeness}", flush=True)
            told = isle.season.visits
            print(f"  the plan expects {told['new'].sum():.0f} new and {told['again'].sum():.0f} again", flush=True)
            print(f"  times of day: {told['time_of_day'].value_counts().to_dict()}", flush=True)
            rows += _walk(isle, seed, share, seasons)
    table = pd.DataFrame(rows, columns=["island", "share", "way", "who", "season", "new", "again"])
    table["all"] = table["new"] + table["again"]
    for share, part in table.groupby("share", sort=False):
        print(f"\n{'all' if share == 1 else 'a third of'} the days that volunteers give")
        _say(part)


def _isle(share: float) -> Isle:
    """The island of the seed that is set, its area read and planned for, with a share of everybody's days."""
    with tempfile.TemporaryDirectory() as folder:
        make.make(Path(folder))
        source = open_source([str(Path(folder) / "area")])
        counted = read_and_count(source)
        told = expectation(source, counted)
        people, _ = read_volunteers(source.folder / "volunteers.csv", counted.records.system)
    people = [_fewer(person, share) for person in people]
    season = plan_season(
        told, counted.standing, counted.records.species, source.settings, counted.records.system, people, today=TODAY
    )
    squares = told.model.evidence.squares
    rules, _ = read_rules(source.settings.visits, source.settings.area, squares)
    travel = straight_lines(people, squares, counted.records.system)
    usable = rules.open_squares(squares, [Condition(6, "day")])[:, 0]
    effort = counted.effort[counted.effort["date_class"] == ALL_DATES].set_index("square")["records"]
    records = effort.reindex(squares).fillna(0).to_numpy().astype(float)
    reach = np.array([[person.reach_m] for person in people])
    fauna = make_fauna(make_terrain())
    return Isle(fauna, source, counted, told, people, season, records, travel, (travel <= reach) & usable[None, :])


def _fewer(person: Volunteer, share: float) -> Volunteer:
    """The person with so large a share of their days, evenly over the season."""
    if share >= 1:
        return person
    offered = _offered(person)
    kept = [offered[int((n + 0.5) / share)] for n in range(max(round(len(offered) * share), 1))]
    return replace(person, month_days={month: kept.count(month) for month in set(kept)}, dates=())


def _offered(person: Volunteer) -> list[int]:
    """Month of every day that the person offers, in order."""
    return [month for month in range(1, 13) for _ in range(person.month_days.get(month, 0))]


def _walk(isle: Isle, seed: int, share: float, seasons: int) -> list[tuple[object, ...]]:
    known, own = known_pairs(isle.counted), isle.season.visits
    best = _knowing(isle)
    rows: list[tuple[object, ...]] = []
    for season in range(seasons):
        walks: dict[tuple[str, str], pd.DataFrame] = {}
        for way in (AS_PLAN, OWN):
            walks[way, "the plan"] = own
            days = own if way == AS_PLAN else _own_dates(isle)
            for habit in HABITS:
                walks[way, habit] = _habit(habit, days, isle, season)
        walks[AS_PLAN, "knowing the whole truth"] = best
        rows += [
            (seed, share, way, who, season, *gained(isle.fauna, visits, known, season))
            for (way, who), visits in walks.items()
        ]
    return rows


def _own_dates(isle: Isle) -> pd.DataFrame:
    """Days as somebody sets them without a plan: as many a person as the plan has, evenly over those they offer."""
    number = isle.season.visits["volunteer"].str.split("; ").explode().value_counts()
    rows = []
    for person in isle.people:
        offered, wanted = _offered(person), int(number.get(person.name, 0))
        rows += [(person.name, offered[int((n + 0.5) * len(offered) / wanted)], "day") for n in range(wanted)]
    days = pd.DataFrame(rows, columns=["volunteer", "month", "time_of_day"])
    return days.sort_values("month", kind="stable", ignore_index=True)


def _habit(habit: str, days: pd.DataFrame, isle: Isle, season: int) -> pd.DataFrame:
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


def _knowing(isle: Isle) -> pd.DataFrame:
    """The plan of somebody who knows everything, on the days that volunteers offer."""
    _, now = known_pairs(isle.counted)
    names = isle.fauna.species["name"].tolist()
    worth = np.array([[float((int(square), name) not in now) for name in names] for square in isle.squares])
    days = np.array([[person.month_days.get(month, 0) for month in range(1, 13)] for person in isle.people])
    chosen = best_of_all(
        chances(isle.fauna, isle.people, isle.squares), worth, isle.open_to, days,
        [person.night for person in isle.people], isle.source.settings.visits.most_per_square,
    )  # fmt: skip
    times = ("day", "dusk", "night")
    rows = [(isle.people[v].name, int(isle.squares[s]), month + 1, times[t]) for v, s, month, t in chosen]
    made = pd.DataFrame(rows, columns=["volunteer", "square", "month", "time_of_day"])
    print(f"  knowing the truth, times of day: {made['time_of_day'].value_counts().to_dict()}", flush=True)
    return made


def _say(table: pd.DataFrame) -> None:
    """Gains of every way and habit, and how many times the habit's gain the plan has, season for season."""
    for way, part in table.groupby("way", sort=False):
        print(f"  {way}")
        by_who: Mapping[str, pd.DataFrame] = {str(who): rows for who, rows in part.groupby("who", sort=False)}
        fewest = by_who["fewest records first"].set_index(["island", "season"])
        for who, rows in by_who.items():
            own = rows.set_index(["island", "season"])
            ratio, new = own["all"] / fewest["all"], own["new"] / fewest["new"]
            each = ratio.groupby("island").mean()
            print(
                f"    {who:28} {own['new'].mean():7.1f} new + {own['again'].mean():6.1f} again = {own['all'].mean():7.1f}"
                f"   {ratio.mean():.2f} × fewest records first ({_interval(ratio, each)}); new alone {new.mean():.2f} ×; "
                f"by island {', '.join(f'{value:.2f}' for value in each)}"
            )


def _interval(ratio: pd.Series, each: pd.Series) -> str:
    """95 % interval of the mean: over islands where there are several, else over seasons (Student's t)."""
    values: Sequence[float] = (each if len(each) > 1 else ratio).tolist()
    half = float(stats.t.ppf(0.975, len(values) - 1) * np.std(values, ddof=1) / np.sqrt(len(values)))
    what = "islands" if len(each) > 1 else "seasons"
    return f"95 % over {len(values)} {what} {np.mean(values) - half:.2f} to {np.mean(values) + half:.2f}"


if __name__ == "__main__":
    what = sys.argv[1] if len(sys.argv) > 1 else "all"
    if what in ("all", "size"):
        size()
    if what in ("all", "stages"):
        stages()
    if what in ("all", "islands"):
        islands(int(sys.argv[2]) if len(sys.argv) > 2 else 10)
