"""The plan as tables: a row a visit, and the targets of each in order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.expected.model import Expectation
from gapmap.settings import Settings
from gapmap.visits.agreed import Visit, chances
from gapmap.visits.outlook import TIMES_OF_DAY, Outlook, by_species, near_squares
from gapmap.visits.volunteers import Volunteer

Numbers = npt.NDArray[np.float64]

#: Chances below this are no target.
_LEAST = 0.01
_HOW = ("grade", "found_before", "best_months", "time_of_day", "method", "certainty", "why")


@dataclass(frozen=True)
class Found:
    """What one visit is expected to find, given those before it: K chances of being the one to find it."""

    visit: Visit
    row: int
    gain: Numbers


def in_order(visits: Sequence[Visit], outlook: Outlook, skills: Numbers) -> list[Found]:
    """The visits in date order with what each is expected to find."""
    left = outlook.parts.copy()
    found = []
    for visit in sorted(visits, key=_when):
        row = int(np.searchsorted(outlook.prospects.squares, visit.square))
        gain = left[row] * chances(outlook.prospects, skills, visit)
        left[row] -= gain
        found.append(Found(visit, row, by_species(gain)))
    return found


def tabulate(
    visits: Sequence[Visit],
    people: Sequence[Volunteer],
    outlook: Outlook,
    skills: Numbers,
    travel: Numbers,
    standing: pd.DataFrame,
    settings: Settings,
) -> tuple[pd.DataFrame, list[Found]]:
    """The plan as in columns.VISITS (targets are filled by name elsewhere), and what each visit finds."""
    order = in_order(visits, outlook, skills)
    near = near_squares(standing, settings.thresholds)
    again = outlook.again
    rows = [
        (
            number, "; ".join(people[m].name for m in found.visit.members), found.visit.square,
            found.visit.condition.month, pd.NaT if found.visit.day is None else pd.Timestamp(found.visit.day),
            found.visit.condition.time_of_day, float(found.gain.sum()),
            _farthest(travel[list(found.visit.members), found.row]), "",
            found.visit.kind, found.visit.meeting, len(found.visit.members),
            float(found.gain[~again[found.row]].sum()), float(found.gain[again[found.row]].sum()),
            bool(found.visit.square in near),
        )
        for number, found in enumerate(order, start=1)
    ]  # fmt: skip
    names = [
        "visit_id", "volunteer", "square", "month", "day", "time_of_day", "gain", "travel_m", "targets", "kind",
        "meeting", "people", "new", "again", "near",
    ]  # fmt: skip
    frame = pd.DataFrame(rows, columns=names)
    kinds = {
        "visit_id": "int64", "square": "int64", "month": "int64", "meeting": "int64", "people": "int64",
        "gain": "float64", "travel_m": "float64", "new": "float64", "again": "float64", "near": "bool",
        "volunteer": "str", "time_of_day": "str", "targets": "str", "kind": "str", "day": "datetime64[s]",
    }  # fmt: skip
    return frame.astype(kinds), order


def targets_of(order: Sequence[Found], outlook: Outlook, skills: Numbers, told: Expectation, most: int) -> pd.DataFrame:
    """The targets of every visit, those likeliest to be found on it first."""
    species = outlook.prospects.species_id
    parts = []
    for number, found in enumerate(order, start=1):
        best = np.argsort(-found.gain, kind="stable")[:most]
        best = best[found.gain[best] >= _LEAST]
        parts.append(
            pd.DataFrame(
                {
                    "visit_id": np.full(len(best), number, dtype=np.int64),
                    "square": np.full(len(best), found.visit.square, dtype=np.int64),
                    "species_id": species[best],
                    "chance": outlook.chance[found.row, best],
                    "chance_then": found.gain[best],
                }
            )
        )
    empty = {
        "visit_id": "int64",
        "square": "int64",
        "species_id": "int64",
        "chance": "float64",
        "chance_then": "float64",
    }
    table = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(empty)).astype(empty)
    return table.merge(told.table[["square", "species_id", *_HOW]], on=["square", "species_id"], how="left")


def _farthest(travel: Numbers) -> float:
    """Metres of the member who goes farthest; not a number for an agreed visit to where somebody would not be sent."""
    metres = float(travel.max())
    return metres if np.isfinite(metres) else float("nan")


def _when(visit: Visit) -> tuple[int, date, int, int, tuple[int, ...]]:
    month, time = visit.condition.month, TIMES_OF_DAY.index(visit.condition.time_of_day)
    return month, visit.day or date.max, time, visit.square, visit.members
