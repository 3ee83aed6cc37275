"""A small invented area with its expectation, for the tests of planning and of what people take along."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.columns import STANDING
from gapmap.expected.model import Expectation, expect
from gapmap.grid.squares import pack
from gapmap.grid.systems import system_of
from gapmap.settings import Settings
from gapmap.visits.season import Season, plan_season
from gapmap.visits.volunteers import Volunteer, read_volunteers

SYSTEM = system_of(1)
#: Five by five tetrads in the sea square OR.
SQUARES = np.array([int(pack(1, 2000, 620_000 + 2000 * x, 660_000 + 2000 * y)) for y in range(5) for x in range(5)])
TODAY = date(2026, 12, 1)
VOLUNTEERS = """name,home,days,travel,night,methods,groups,means
Ann Ashdown,OR2261,2 a month May-Jun,30 km,yes,,,
Ben Birchall,OR2765,2027-05-08; 2027-06-12,30 km,yes,hand search,woodlice,hand lens
"Cy <b>Cole</b> & Co",OR2461,"May 1, Jun 1",30 km,no,,harvestmen,sight
"""
#: As in VOLUNTEERS, in every way that an output might spell a home.
HOMES = ("OR2261", "OR2765", "OR2461", "OR 22 61", "OR 27 65", "OR 24 61", "622500", "661500", "627500", "665500",
         "624500")  # fmt: skip


def frames() -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    rng = np.random.default_rng(7)
    names = [f"Species {letter}" for letter in "abcdefghijkl"]
    species = pd.DataFrame(
        {
            "species_id": range(12), "name": names, "vernacular": ["<i>odd</i> {{ name }}"] + [""] * 11,
            "group": ["woodlice"] * 6 + ["harvestmen"] * 6, "rank": "species", "counts": True,
            "difficulty": ["sight", "hand lens", "microscope"] * 4, "months": "4-10", "time_of_day": "",
            "sensitive_m": [0] * 11 + [10_000],
        }
    )  # fmt: skip
    lives = rng.random((25, 12)) < 0.6
    rows, finds = [], []
    for number in range(120):
        at = int(rng.integers(0, 20))
        year = 1995 + number % 30
        day = pd.Timestamp(year, int(rng.integers(4, 11)), int(rng.integers(1, 28)))
        seen = np.flatnonzero(lives[at] & (rng.random(12) < 0.3))
        rows.append((number, SQUARES[at], 1, 620_000, 660_000, 2000, day, day, year, day.month, int(year >= 2010), True, 1,
                     "", "hand search", len(seen)))  # fmt: skip
        finds += [(number, int(k), 1) for k in seen]
    names_of_lists = ["list_id", "square", "system", "easting", "northing", "precision_m", "date_from", "date_to", "year",
                      "month", "date_class", "is_visit", "people_id", "time_of_day", "method", "length"]  # fmt: skip
    return (
        pd.DataFrame(rows, columns=names_of_lists),
        pd.DataFrame(finds, columns=["list_id", "species_id", "records"]),
        species,
    )


def settings(**visits: object) -> Settings:
    return Settings.model_validate(
        {
            "area": {"name": "Smallholm (invented)", "square": "2km", "classes": "-2009, 2010-", "notice": "Invented."},
            "visits": visits,
        }
    )


def told(chosen: Settings) -> Expectation:
    lists, finds, species = frames()
    return expect(lists, finds, species, SQUARES, chosen)


def people(folder: Path, text: str = VOLUNTEERS) -> tuple[list[Volunteer], list[str]]:
    path = folder / "volunteers.csv"
    path.write_text(text.replace("2 a month May-Jun", '"2 a month, May-Jun"'), encoding="utf-8")
    return read_volunteers(path, SYSTEM)


def season(folder: Path, chosen: Settings | None = None, text: str = VOLUNTEERS, **wanted: object) -> Season:
    chosen = chosen or settings()
    volunteers, _ = people(folder, text)
    return plan_season(told(chosen), STANDING.empty(), frames()[2], chosen, SYSTEM, volunteers, **({"today": TODAY} | wanted))  # type: ignore[arg-type]
