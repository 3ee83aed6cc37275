"""How good the plans are: beside the bound at size, and beside plain habits on the invented island's truth.

    python tests/benchmarks/visits.py            # both; the island must have been made: python demo/make.py
    python tests/benchmarks/visits.py size
    python tests/benchmarks/visits.py island [SEEDS]

The three habits a plan is set beside, in the same run, with the same people on the same days in the same months, all
of them within reach: random squares; the squares with fewest records first; the nearest square without records first.
A plan that knows the island's truth says how much could be gained on those days at all.
"""

# ruff: noqa: E402  (the island is imported from the demo folder)
from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

PROJECT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(PROJECT), str(PROJECT / "demo")]

from island.fauna import make_fauna
from island.season import season_finds
from island.terrain import make_terrain

from gapmap.columns import ALL_DATES
from gapmap.grid.squares import square_at, unpack
from gapmap.visits.bound import upper_bound
from gapmap.visits.plan import plan
from gapmap.visits.prospects import Condition, Prospects, make_parties
from gapmap.visits.season import plan_season
from gapmap.visits.travel import straight_lines
from gapmap.visits.volunteers import Volunteer, read_volunteers
from gapmap.workflow.expected import expectation
from gapmap.workflow.source import open_source
from gapmap.workflow.stages import read_and_count


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


def island(seeds: int = 20) -> None:
    """Walk the plan and the three habits on the island's truth."""
    source = open_source([str(PROJECT / "demo" / "area")])
    counted = read_and_count(source)
    told = expectation(source, counted)
    people, _ = read_volunteers(source.folder / "volunteers.csv", counted.records.system)
    season = plan_season(
        told, counted.standing, counted.records.species, source.settings, counted.records.system, people,
        today=date(2026, 11, 25),
    )  # fmt: skip
    print(season.closeness)
    expected_new, expected_again = season.visits["new"].sum(), season.visits["again"].sum()
    print(f"The plan expects {expected_new:.0f} new and {expected_again:.0f} found again.")
    knowing = plan_season(
        replace(told, table=_truth(counted)), counted.standing, counted.records.species, source.settings,
        counted.records.system, people, today=date(2026, 11, 25),
    )  # fmt: skip
    fauna = make_fauna(make_terrain())
    known = _known(counted)
    plans: dict[str, Callable[[int], pd.DataFrame]] = {
        "plan": lambda seed: season.visits,
        "plan knowing the truth": lambda seed: knowing.visits,
    }
    for name in ("random", "fewest records first", "nearest empty first"):
        plans[name] = lambda seed, name=name: _habit(name, season.visits, counted, people, seed)
    results = {name: [_gained(fauna, make(seed), known, seed) for seed in range(seeds)] for name, make in plans.items()}
    base = np.mean([sum(pair) for pair in results["fewest records first"]])
    for name, pairs in results.items():
        new, again = np.mean([p[0] for p in pairs]), np.mean([p[1] for p in pairs])
        spread = np.std([sum(p) for p in pairs])
        print(
            f"{name:22} {new:7.1f} new + {again:6.1f} found again = {new + again:7.1f} ± {spread:.1f} species × squares"
            f"   {(new + again) / base:.2f} × fewest records first; new alone "
            f"{new / np.mean([p[0] for p in results['fewest records first']]):.2f} ×"
        )
    print(f"{len(season.visits)} visits each, {seeds} seasons")


def _truth(counted: object) -> pd.DataFrame:
    """What really lives in each square and was not found there in the last date class, as if it were expected."""
    presence = pd.read_parquet(PROJECT / "demo" / "truth" / "presence.parquet")
    square = square_at(counted.records.system.key, presence["easting"], presence["northing"], counted.side)
    pairs = pd.DataFrame({"square": square, "name": presence["name"]}).drop_duplicates()
    pairs = pairs.merge(counted.records.species[["name", "species_id"]], on="name")
    _, now = _known(counted)
    still = [pair not in now for pair in zip(pairs["square"], pairs["name"], strict=True)]
    words = dict.fromkeys(("best_months", "time_of_day", "method", "certainty", "why"), "")
    told = pairs[still].assign(chance=1.0, found_before=0, grade="good", **words)
    return told[told["species_id"].isin(counted.tally["species_id"]) & told["square"].isin(counted.squares)]


def _known(counted: object) -> tuple[set[tuple[int, str]], set[tuple[int, str]]]:
    """Square × species known at all, and known in the last date class."""
    tally = counted.tally.merge(counted.records.species[["species_id", "name"]], on="species_id")
    ever = tally[tally["date_class"] == ALL_DATES]
    now = tally[tally["date_class"] == len(counted.classes) - 1]
    return set(zip(ever["square"], ever["name"], strict=True)), set(zip(now["square"], now["name"], strict=True))


def _habit(name: str, visits: pd.DataFrame, counted: object, people: list[Volunteer], seed: int) -> pd.DataFrame:
    """The same visits with the squares chosen by a plain habit."""
    rng = np.random.default_rng(seed)
    squares = counted.squares
    effort = counted.effort[counted.effort["date_class"] == ALL_DATES].set_index("square")["records"]
    records = effort.reindex(squares).fillna(0).to_numpy().astype(float)
    travel = straight_lines(people, squares, counted.records.system)
    number = {person.name: n for n, person in enumerate(people)}
    taken = np.zeros(len(squares))
    chosen = []
    for visit in visits.itertuples():
        members = [number[one] for one in visit.volunteer.split("; ")]
        far = travel[members].max(axis=0)
        reach = min(people[m].reach_m for m in members)
        can = np.flatnonzero((far <= reach) & (taken < (1 if (taken[far <= reach] < 1).any() else 9)))
        tie = rng.random(len(can))
        if name == "random":
            best = can[np.argmin(tie)]
        elif name == "fewest records first":
            best = can[np.lexsort((tie, records[can]))[0]]
        else:
            best = can[np.lexsort((far[can], records[can] > 0))[0]]
        taken[best] += 1
        chosen.append(squares[best])
    return visits.assign(square=chosen)


def _gained(
    fauna: object, visits: pd.DataFrame, known: tuple[set[tuple[int, str]], set[tuple[int, str]]], seed: int
) -> tuple[int, int]:
    """Species × squares new, and found again, on a season of these visits."""
    ever, now = known
    _, side, easting, northing = unpack(visits["square"].to_numpy(np.int64))
    walk = pd.DataFrame(
        {
            "easting": easting, "northing": northing, "side": side, "month": visits["month"].to_numpy(),
            "time_of_day": visits["time_of_day"].to_numpy(), "volunteer": visits["volunteer"].str.split("; ").str[0],
        }
    )  # fmt: skip
    finds = season_finds(fauna, walk, seed)
    pairs = set(zip(visits["square"].to_numpy()[finds["visit"]], finds["name"], strict=True))
    return len(pairs - ever), len((pairs & ever) - now)


if __name__ == "__main__":
    what = sys.argv[1] if len(sys.argv) > 1 else "all"
    if what in ("all", "size"):
        size()
    if what in ("all", "island"):
        island(int(sys.argv[2]) if len(sys.argv) > 2 else 20)
