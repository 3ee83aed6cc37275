"""How good the plans are: beside the bound at size, and beside plain habits on the invented island's truth.

    python tests/benchmarks/visits.py                      # all four
    python tests/benchmarks/visits.py size
    python tests/benchmarks/visits.py islands [SEASONS]    # four islands, so many seasons on each
    python tests/benchmarks/visits.py ceiling              # what no plan could pass, for many and for few days
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

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np
import pandas as pd
from ceiling import ceilings
from island_truth import chances, gained, known_pairs
from isles import AS_PLAN, HABITS, ISLANDS, OWN, TODAY, Isle, by_habit, knowing, make, make_isle, own_dates, with_days
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from scipy import stats

from gapmap.outputs.field.folder import write_field_folder
from gapmap.outputs.field.paper import write_sheets_pdf
from gapmap.outputs.field.vicinity import maps_of
from gapmap.visits.bound import upper_bound
from gapmap.visits.fieldsheets import FieldSheet
from gapmap.visits.plan import plan
from gapmap.visits.prospects import Condition, Prospects, make_parties
from gapmap.visits.season import plan_season
from gapmap.visits.volunteers import Volunteer, read_volunteers
from gapmap.workflow.area import read_backgrounds
from gapmap.workflow.expected import expectation
from gapmap.workflow.source import open_source
from gapmap.workflow.stages import read_and_count
from gapmap.workflow.visits import sheets_of, write_visits

Made = TypeVar("Made")


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


def islands(seasons: int = 10) -> None:
    """Walk the plan and the three habits on several islands, and say how they compare."""
    rows = []
    for seed in ISLANDS:
        whole = make_isle(seed)
        chance = chances(whole.fauna, whole.people, whole.squares)
        for share in (1.0, 1 / 3):
            isle = with_days(whole, share)
            print(f"island {seed}, {len(isle.season.visits)} days: {isle.season.closeness}", flush=True)
            told = isle.season.visits
            print(f"  the plan expects {told['new'].sum():.0f} new and {told['again'].sum():.0f} again", flush=True)
            print(f"  times of day: {told['time_of_day'].value_counts().to_dict()}", flush=True)
            rows += _walk(isle, knowing(isle, chance), seed, share, seasons)
    table = pd.DataFrame(rows, columns=["island", "share", "way", "who", "season", "new", "again"])
    table["all"] = table["new"] + table["again"]
    for share, part in table.groupby("share", sort=False):
        print(f"\n{'all' if share == 1 else 'a third of'} the days that volunteers give")
        _say(part)


def _walk(isle: Isle, best: pd.DataFrame, seed: int, share: float, seasons: int) -> list[tuple[object, ...]]:
    known, own = known_pairs(isle.counted), isle.season.visits
    rows: list[tuple[object, ...]] = []
    for season in range(seasons):
        walks: dict[tuple[str, str], pd.DataFrame] = {}
        for way in (AS_PLAN, OWN):
            walks[way, "the plan"] = own
            days = own if way == AS_PLAN else own_dates(isle)
            for habit in HABITS:
                walks[way, habit] = by_habit(habit, days, isle, season)
        walks[AS_PLAN, "knowing the whole truth"] = best
        rows += [
            (seed, share, way, who, season, *gained(isle.fauna, visits, known, season))
            for (way, who), visits in walks.items()
        ]
    return rows


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
    if what in ("all", "ceiling"):
        ceilings()
