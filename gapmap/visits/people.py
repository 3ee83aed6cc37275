"""Who can come in the season that is planned, and a sentence for everybody who cannot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.visits.agreed import Visit
from gapmap.visits.prospects import Prospects
from gapmap.visits.volunteers import Volunteer

#: From this month on a plan without dates is for the year to come.
_YEAR_TO_COME = 10


def season_year(volunteers: Sequence[Volunteer], year: int, today: date) -> int:
    """Year of the season: as the settings say, else of the latest day that anybody named, else by today.

    Examples
    --------
    >>> season_year([], 0, date(2026, 11, 25)), season_year([], 0, date(2027, 3, 1)), season_year([], 2030, date.min)
    (2027, 2027, 2030)
    """
    named = [day.year for v in volunteers for day in v.dates]
    return year or max(named, default=0) or today.year + (today.month >= _YEAR_TO_COME)


def coming(volunteers: Sequence[Volunteer], year: int, today: date) -> tuple[list[Volunteer], list[str]]:
    """The volunteers with the days that lie ahead in the season, and a sentence for each who has none."""
    people, sentences = [], []
    for volunteer in volunteers:
        late = [day for day in volunteer.dates if day.year != year or day < today]
        lost = Counter(day.month for day in late)
        days = {
            month: max(number - lost[month], 0)
            for month, number in volunteer.month_days.items()
            if (year, month) >= (today.year, today.month)
        }
        dates = tuple(day for day in volunteer.dates if day not in late)
        words = ", ".join(day.isoformat() for day in late)
        if not any(days.values()):
            why = f": past or in another year are {words}" if late else ""
            sentences.append(f"{volunteer.name} has no days left in the season of {year}{why}.")
        elif late:
            sentences.append(f"{volunteer.name} gives days that are past or in another year than {year}: {words}.")
        people.append(replace(volunteer, month_days=days, dates=dates))
    return people, sentences


def without_reach(people: Sequence[Volunteer], travel: npt.NDArray[np.float64], prospects: Prospects) -> list[str]:
    """A sentence for each volunteer with days but no square within reach."""
    somewhere = prospects.open_squares.any(axis=1)
    return [
        f"{v.name} reaches no square of the area that may be visited, going {v.reach_m / 1000:.0f} km at most."
        for v, row in zip(people, travel, strict=True)
        if any(v.month_days.values()) and not (somewhere & (row <= v.reach_m)).any()
    ]


def busy_or_not(
    people: Sequence[Volunteer], visits: Sequence[Visit], travel: npt.NDArray[np.float64], prospects: Prospects
) -> list[str]:
    """A sentence for each volunteer with days and reach whom the plan sends nowhere."""
    used = {member for visit in visits for member in visit.members}
    somewhere = prospects.open_squares.any(axis=1)
    return [
        f"{v.name} is sent nowhere: no further visit would gain more than it costs, or the rules want company."
        for number, (v, row) in enumerate(zip(people, travel, strict=True))
        if number not in used and any(v.month_days.values()) and (somewhere & (row <= v.reach_m)).any()
    ]


def by_volunteer(visits: pd.DataFrame, volunteers: Sequence[Volunteer]) -> pd.DataFrame:
    """What the plan asks of everybody.

    Returns
    -------
    DataFrame
        ``volunteer, days_offered, visits, gain, farthest_km``; nothing in it tells where anybody lives.
    """
    rows = []
    for volunteer in volunteers:
        own = visits[np.array([volunteer.name in names.split("; ") for names in visits["volunteer"]], dtype=bool)]
        farthest = np.ceil(float(own["travel_m"].max()) / 1000) if len(own) else 0.0
        rows.append((volunteer.name, sum(volunteer.month_days.values()), len(own), float(own["gain"].sum()), farthest))
    return pd.DataFrame(rows, columns=["volunteer", "days_offered", "visits", "gain", "farthest_km"])
