"""Field meetings: one day, many people, one base within reach of most, the best cluster of squares around it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from gapmap.errors import SettingsError
from gapmap.settings import VisitsSection
from gapmap.visits.agreed import Visit
from gapmap.visits.days import weekends
from gapmap.visits.prospects import Condition, Prospects, has_only_dates
from gapmap.visits.volunteers import Volunteer

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Meeting:
    """A field meeting.

    Parameters
    ----------
    number
        1, 2, 3 … as asked for.
    base
        Packed square to meet in.
    day
        The day.
    people
        Numbers of the volunteers who can come.
    visits
        Who goes round which square.
    """

    number: int
    base: int
    day: date
    people: tuple[int, ...]
    visits: tuple[Visit, ...]


def plan_meeting(
    number: int,
    when: str,
    year: int,
    prospects: Prospects,
    volunteers: Sequence[Volunteer],
    skills: Numbers,
    travel: Numbers,
    middles: tuple[Numbers, Numbers],
    section: VisitsSection,
    *,
    today: date,
) -> tuple[Meeting | None, str]:
    """Find the best day, base and squares for one field meeting.

    Pairs go round the squares of a cluster by day; what a pair cannot name, the others name back at the base.

    Parameters
    ----------
    number
        Which meeting it is.
    when
        A day (2027-05-16), a month (1 to 12), or "" for whenever it gains most.
    year
        Year of the season.
    prospects
        What is left to gain.
    volunteers, skills, travel
        People with the days they still have, V × K and V × S (metres).
    middles
        Easting and northing of the squares' middles, metres.
    section
        How many make a meeting and how far it spreads.
    today
        No meeting is planned before it.

    Returns
    -------
    Meeting or None, str
        None with the reason when no day and base bring enough people together; a meeting with what it is.

    Raises
    ------
    SettingsError
        ``when`` is no day or month, or a day that is past or lies in another year than the season.
    """
    best: tuple[float, date, int, tuple[int, ...], tuple[int, ...]] | None = None
    within = travel <= np.array([v.reach_m for v in volunteers]).reshape(-1, 1)
    for day in _days(when, year, today, volunteers):
        condition = Condition(day.month, "day")
        if condition not in prospects.conditions:
            continue
        column = prospects.conditions.index(condition)
        free = [n for n, v in enumerate(volunteers) if _is_free(v, day)]
        found = _best_base(column, free, prospects, skills, travel, within, middles, section)
        if found is not None and (best is None or found[0] > best[0] + 1e-9):
            best = (found[0], day, *found[1:])
    if best is None:
        wanted = f"for the field meeting ({when})" if when else "for a field meeting"
        return None, f"No day and place bring {section.meeting_people} people together {wanted}."
    _, day, base, people, cluster = best
    parties = _parties(people, skills, len(cluster))
    visits = tuple(
        Visit(party, int(prospects.squares[square]), Condition(day.month, "day"), day, "meeting", number, people)
        for party, square in zip(parties, cluster, strict=False)
    )
    return Meeting(number, int(prospects.squares[base]), day, people, visits), ""


def _days(when: str, year: int, today: date, volunteers: Sequence[Volunteer]) -> list[date]:
    """Days that come into question; of weekends without a named day one a month is enough, all being alike."""
    text = when.strip()
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        return [_day_to_come(text, year, today)]
    if text and not (text.isdigit() and 1 <= int(text) <= 12):
        raise SettingsError(
            "A field meeting is asked for by a day or a month", found=text, do="write 2027-05-16, 5, or any"
        )
    months = [int(text)] if text else list(range(1, 13))
    named = {day for v in volunteers for day in v.dates if day.month in months}
    given = {day for v in volunteers for day in v.given}
    return sorted(named | {day for month in months for day in _plain_days(year, month, today, named, given)})


def _plain_days(year: int, month: int, today: date, named: set[date], given: set[date]) -> list[date]:
    """A weekend's day on which nobody is out already, the second weekend's first; where there is none, all of them."""
    days = weekends(year, month)
    plain = [day for day in (*days[2:], *days[:2]) if day >= today and day not in named]
    return [day for day in plain if day not in given][:1] or plain


def _day_to_come(text: str, year: int, today: date) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise SettingsError("There is no such day for a field meeting", found=text) from None
    if day < today:
        raise SettingsError("The day of a field meeting is past", found=text, do="choose a day to come")
    if day.year != year:
        raise SettingsError(
            f"The season is that of {year}, and a field meeting is asked for in another year", found=text,
            do="set year in the section [visits], or choose another day",
        )  # fmt: skip
    return day


def _is_free(volunteer: Volunteer, day: date) -> bool:
    if volunteer.month_days.get(day.month, 0) < 1 or day in volunteer.given:
        return False
    return day in volunteer.dates if has_only_dates(volunteer, day.month) else True


def _best_base(
    column: int,
    free: Sequence[int],
    prospects: Prospects,
    skills: Numbers,
    travel: Numbers,
    within: npt.NDArray[np.bool_],
    middles: tuple[Numbers, Numbers],
    section: VisitsSection,
) -> tuple[float, int, tuple[int, ...], tuple[int, ...]] | None:
    of_people: dict[tuple[int, ...], tuple[npt.NDArray[np.bool_], Numbers]] = {}
    best = None
    usable = prospects.open_squares[:, column] & (prospects.agreed < section.most_per_square)
    for base in np.flatnonzero(usable).tolist():
        people = tuple(n for n in free if within[n, base])
        if len(people) < section.meeting_people:
            continue
        if people not in of_people:
            pooled = skills[list(people)].max(axis=0) * prospects.detect[column]
            all_may_go = np.isfinite(travel[list(people)]).all(axis=0)
            of_people[people] = usable & all_may_go, prospects.worth @ pooled
        may_go, gains = of_people[people]
        apart = np.hypot(middles[0] - middles[0][base], middles[1] - middles[1][base])
        near = np.flatnonzero((apart <= section.meeting_km * 1000) & may_go)
        cluster = near[np.argsort(-gains[near], kind="stable")][: max(len(people) // 2, 1)]
        value = float(gains[cluster].sum())
        if best is None or value > best[0] + 1e-9:
            best = (value, base, people, tuple(int(n) for n in cluster))
    return best


def _parties(people: Sequence[int], skills: Numbers, squares: int) -> list[tuple[int, ...]]:
    """Pairs of one who can name much with one who can name less; an odd one joins the last pair."""
    ordered = sorted(people, key=lambda n: (-float(skills[n].sum()), n))
    count = max(min(len(ordered) // 2, squares), 1)
    parties: list[list[int]] = [[n] for n in ordered[:count]]
    for place, person in enumerate(reversed(ordered[count:])):
        parties[place % count].append(person)
    return [tuple(sorted(party)) for party in parties]
