"""Who can come in the season that is planned, and a sentence for everybody who cannot."""

from __future__ import annotations

from calendar import monthrange
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.visits.agreed import Visit
from gapmap.visits.prospects import Prospects
from gapmap.visits.targets import Found
from gapmap.visits.volunteers import Volunteer

#: From this month on a plan without dates is for the year to come.
_YEAR_TO_COME = 10
#: Groups or methods of the area that a sentence names at most.
_MOST_WORDS = 12


def season_year(volunteers: Sequence[Volunteer], year: int, today: date) -> int:
    """Year of the season: as the settings say, else of most days to come that people named, else by today.

    Examples
    --------
    >>> season_year([], 0, date(2026, 11, 25)), season_year([], 0, date(2027, 3, 1)), season_year([], 2030, date.min)
    (2027, 2027, 2030)
    """
    ahead = Counter(day.year for v in volunteers for day in v.dates if day >= today)
    named = max(ahead, key=lambda each: (ahead[each], each), default=0)
    return year or named or today.year + (today.month >= _YEAR_TO_COME)


def coming(volunteers: Sequence[Volunteer], year: int, today: date) -> tuple[list[Volunteer], list[str]]:
    """The volunteers with the days that lie ahead in the season, and a sentence for each who has none."""
    people, sentences = [], []
    for volunteer in volunteers:
        late = [day for day in volunteer.dates if day.year != year or day < today]
        lost = Counter(day.month for day in late)
        days = {
            month: min(max(number - lost[month], 0), _days_ahead(year, month, today))
            for month, number in volunteer.month_days.items()
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


def _days_ahead(year: int, month: int, today: date) -> int:
    """Days of a month that are not past.

    Examples
    --------
    >>> [_days_ahead(2028, month, date(2028, 2, 28)) for month in (1, 2, 3)]
    [0, 2, 31]
    """
    days = monthrange(year, month)[1]
    return min(max(days - (today - date(year, month, 1)).days, 0), days)


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


def by_volunteer(
    order: Sequence[Found], volunteers: Sequence[Volunteer], travel: npt.NDArray[np.float64]
) -> pd.DataFrame:
    """What the plan asks of everybody.

    Parameters
    ----------
    order
        The visits and what each finds.
    volunteers
        As they were read, with all their days.
    travel
        V × S metres, infinite to where somebody would not be sent.

    Returns
    -------
    DataFrame
        ``volunteer, days_offered, visits, gain, farthest_km`` (their own way, not that of who goes with them).
    """
    rows = []
    for number, volunteer in enumerate(volunteers):
        own = [found for found in order if number in found.visit.members]
        metres = [float(travel[number, found.row]) for found in own if np.isfinite(travel[number, found.row])]
        gain = sum(float(found.gain.sum()) for found in own)
        farthest = float(np.ceil(max(metres, default=0.0) / 1000))
        rows.append((volunteer.name, sum(volunteer.month_days.values()), len(own), gain, farthest))
    names = ["volunteer", "days_offered", "visits", "gain", "farthest_km"]
    kinds = dict(zip(names, ("str", "int64", "int64", "float64", "float64"), strict=True))
    return pd.DataFrame(rows, columns=names).astype(kinds)


def strange_methods(volunteers: Sequence[Volunteer], told: pd.DataFrame) -> list[str]:
    """A sentence for each volunteer by none of whose methods any species is usually found, such as misspelt ones.

    Parameters
    ----------
    volunteers
        Who can come.
    told
        As in columns.EXPECTED: its methods are the usual ones.
    """
    usual = sorted({str(method).lower() for method in told["method"].unique()} - {""})
    return [
        f"{v.name} looks by {', '.join(sorted(v.methods))}, by which no species here is usually found; that is by "
        f"{_some_of(usual)}."
        for v in volunteers
        if usual and v.methods and not v.methods & set(usual)
    ]


def strange_groups(volunteers: Sequence[Volunteer], species: pd.DataFrame) -> list[str]:
    """A sentence for each volunteer who names a group that no recorded species has, such as a misspelt one."""
    groups = sorted({str(group).lower() for group in species["group"].dropna()} - {""})
    if not groups:
        return []
    strange = [(v.name, ", ".join(sorted(v.groups - set(groups)))) for v in volunteers]
    return [
        f"{name} names groups that no recorded species has: {words}; the groups here are {_some_of(groups)}."
        for name, words in strange
        if words
    ]


def without_season(told: pd.DataFrame) -> list[str]:
    """A sentence where nothing tells one month from another.

    Parameters
    ----------
    told
        As in columns.EXPECTED: its best months come from the records and the checklist.
    """
    if told.empty or (told["best_months"] != "").any():
        return []
    return [
        "Neither the records nor lookups/checklist.csv tell when species are about, so that to the plan January is as "
        "good as June: write their months into the checklist (as 5-9), or give volunteers' days in the right months "
        "only (as Jun 2; Jul 3)."
    ]


def _some_of(words: Sequence[str]) -> str:
    return f"{', '.join(words[:_MOST_WORDS])}{' and others' if len(words) > _MOST_WORDS else ''}"
