"""Which day of the month: the days that people named, else weekends, spread over the month."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from gapmap.coverage.gaps import MONTHS
from gapmap.visits.agreed import Visit
from gapmap.visits.prospects import has_only_dates
from gapmap.visits.volunteers import Volunteer

SATURDAY = 5


def give_days(
    visits: Sequence[Visit], volunteers: Sequence[Volunteer], year: int, today: date
) -> tuple[list[Visit], list[str]]:
    """Give every visit a day on which all its people are free, where there is one.

    Parameters
    ----------
    visits
        Settled and planned visits; those with a day keep it.
    volunteers
        As they were read, with all their days.
    year
        Year of the season.
    today
        No visit is planned before it.

    Returns
    -------
    list of Visit, list of str
        The visits, and a sentence for each that has a month only.
    """
    taken: dict[int, set[date]] = {n: set() for n in range(len(volunteers))}
    for visit in visits:
        if visit.day is not None:
            for member in visit.members:
                taken[member].add(visit.day)
    order = sorted(range(len(visits)), key=lambda n: (visits[n].condition.month, -len(visits[n].members), n))
    given, sentences = list(visits), []
    for number in order:
        visit = visits[number]
        if visit.day is not None:
            continue
        people = [volunteers[member] for member in visit.members]
        free = [
            day
            for day in possible_days(people, year, visit.condition.month)
            if day >= today and not any(day in taken[member] for member in visit.members)
        ]
        if not free:
            names, common = " and ".join(v.name for v in people), " in common" if len(people) > 1 else ""
            month = MONTHS[visit.condition.month - 1]
            sentences.append(f"No free day{common} was found for {names} in {month} {year}; agree one.")
            continue
        named = [day for day in free if all(day in person.dates for person in people)]
        day = _farthest([d for member in visit.members for d in taken[member]], named or free)
        for member in visit.members:
            taken[member].add(day)
        given[number] = replace(visit, day=day)
    return given, sentences


def possible_days(people: Sequence[Volunteer], year: int, month: int) -> list[date]:
    """Days in a month that all could give: the named ones, else Saturdays and Sundays.

    Examples
    --------
    >>> one = Volunteer("A", 0, 0, 1, {5: 1})
    >>> [day.day for day in possible_days([one], 2027, 5)]
    [1, 2, 8, 9, 15, 16, 22, 23, 29, 30]
    >>> two = Volunteer("B", 0, 0, 1, {5: 1}, (date(2027, 5, 3),))
    >>> possible_days([one, two], 2027, 5)
    [datetime.date(2027, 5, 3)]
    """
    days = weekends(year, month)
    named: set[date] | None = None
    for volunteer in people:
        own = {day for day in volunteer.dates if day.month == month}
        if has_only_dates(volunteer, month):
            named = own if named is None else named & own
    if named is not None:
        return sorted(named)
    own = {day for volunteer in people for day in volunteer.dates if day.month == month}
    return [*sorted(own), *(day for day in days if day not in own)] if len(people) == 1 else days


def weekends(year: int, month: int) -> list[date]:
    """Saturdays and Sundays of a month."""
    first = date(year, month, 1)
    month_days = (first + timedelta(days=n) for n in range(31))
    return [day for day in month_days if day.month == month and day.weekday() >= SATURDAY]


def _farthest(taken: Sequence[date], free: Sequence[date]) -> date:
    """The free day farthest from all taken ones; the earliest of equals."""
    if not taken:
        return free[len(free) // 3]
    return max(free, key=lambda day: (min(min(abs((day - other).days), 40) for other in taken), -day.toordinal()))
