"""Visits that are settled before the planning begins: agreed ones from a file, and field meetings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt

from gapmap.coverage.gaps import MONTHS
from gapmap.errors import ColumnError
from gapmap.records.own_lists import read_own_list
from gapmap.settings import AreaSection
from gapmap.visits.outlook import TIMES_OF_DAY
from gapmap.visits.prospects import Condition, Prospects
from gapmap.visits.rules import find_squares
from gapmap.visits.volunteers import Volunteer

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Visit:
    """A visit on the way to the plan.

    Parameters
    ----------
    members
        Numbers of the volunteers.
    square
        Packed square.
    condition
        Month and time of day.
    day
        The day; None while only the month is fixed.
    kind
        ``planned``, ``agreed`` or ``meeting``.
    meeting
        Number of the field meeting it belongs to; 0 for none.
    namers
        Numbers of the volunteers who name the finds, where more than the members do: all who come to a meeting.
    """

    members: tuple[int, ...]
    square: int
    condition: Condition
    day: date | None = None
    kind: str = "planned"
    meeting: int = 0
    namers: tuple[int, ...] = ()


def read_agreed(
    path: Path,
    volunteers: Sequence[Volunteer],
    squares: npt.NDArray[np.int64],
    area: AreaSection,
    year: int,
    today: date,
) -> tuple[list[Visit], list[str]]:
    """Read visits agreed already.

    Parameters
    ----------
    path
        CSV with the columns ``volunteer`` (names joined by ``;``), ``square``, ``month`` or ``day`` (such as
        2027-05-03), and if wanted ``time_of_day``; the table ``visits.csv`` of an earlier plan will do.
    volunteers
        Those who can be planned for.
    squares
        Squares of the map.
    area
        Grid and zones to read references with.
    year
        Year of the season; visits of another year are no part of it.
    today
        Visits before today are finished: their records speak for them.

    Returns
    -------
    list of Visit, list of str
        The visits that stay, and one sentence for each row that cannot.

    Raises
    ------
    FileError
        The file is missing or lacks a column.
    """
    visits: list[Visit] = []
    sentences: list[str] = []
    rows = _rows(path)
    if any(row.get("kind", "") == "meeting" for _, row in rows):
        sentences.append(
            f"{path.name} holds visits of a field meeting: they stay as agreed ones, and their sheets do not say where "
            "to meet; tell those who come."
        )
    for number, row in rows:
        try:
            visit = _visit(row, volunteers, squares, area)
            _must_lie_ahead(visit, year, today)
            if visit.day is not None and visit in visits:
                raise ValueError(f"the visit of {visit.day} stands in the file twice; the first row was used")
            visits.append(visit)
        except ValueError as error:
            sentences.append(f"{path.name}, row {number}: {error}.")
    return visits, sentences


def settle(
    prospects: Prospects, volunteers: Sequence[Volunteer], skills: Numbers, visits: Sequence[Visit]
) -> tuple[Prospects, list[Volunteer]]:
    """What is left to gain, and the days people still have, once these visits are made."""
    worth, agreed = prospects.worth.copy(), prospects.agreed.copy()
    people = list(volunteers)
    for visit in visits:
        at = int(np.searchsorted(prospects.squares, visit.square))
        worth[at] *= 1 - chances(prospects, skills, visit)
        agreed[at] += 1
        for member in visit.members:
            people[member] = without_day(people[member], visit.condition.month, visit.day)
    return replace(prospects, worth=worth, agreed=agreed), people


def chances(prospects: Prospects, skills: Numbers, visit: Visit) -> Numbers:
    """K: chance that the visit finds each species where it lives, and that somebody names it."""
    detect = prospects.detect[prospects.conditions.index(visit.condition)]
    found: Numbers = skills[list(visit.namers or visit.members)].max(axis=0) * detect
    return found


def without_day(volunteer: Volunteer, month: int, day: date | None) -> Volunteer:
    """The volunteer with one day less to give in a month, and that day given away."""
    days = {**volunteer.month_days, month: max(volunteer.month_days.get(month, 0) - 1, 0)}
    given = volunteer.given if day is None else (*volunteer.given, day)
    return replace(volunteer, month_days=days, dates=tuple(d for d in volunteer.dates if d != day), given=given)


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    do = "head its columns volunteer, square, day (or month), time_of_day"
    written = read_own_list(path, "the file of agreed visits", needs=("volunteer", "square"), do=do)
    if not {"month", "day"} & {name.lower() for name in written.header}:
        raise ColumnError(
            f"The file of agreed visits {path.name} has no column of days", found=", ".join(written.header), do=do
        )
    return written.dicts()


def _visit(
    row: dict[str, str], volunteers: Sequence[Volunteer], squares: npt.NDArray[np.int64], area: AreaSection
) -> Visit:
    number_of = {v.name: n for n, v in enumerate(volunteers)}
    names = [name.strip() for name in row.get("volunteer", "").split(";") if name.strip()]
    strangers = [name for name in names if name not in number_of]
    if strangers or not names:
        raise ValueError(
            f"{strangers[0] if strangers else 'nobody'} is not among the volunteers who can be planned for"
        )
    found, missing = find_squares([row.get("square", "")], area, squares)
    if missing:
        raise ValueError(f"{missing[0] or 'an empty cell'} is no square of the area")
    day = _day(row.get("day", ""))
    time = row.get("time_of_day", "") or "day"
    if time not in TIMES_OF_DAY:
        raise ValueError(f"the time of day should be {', '.join(TIMES_OF_DAY)}, is '{time[:40]}'")
    month = day.month if day else _month(row.get("month", ""))
    members = tuple(sorted(number_of[name] for name in set(names)))
    return Visit(members, int(found[0]), Condition(month, time), day, "agreed")


def _must_lie_ahead(visit: Visit, year: int, today: date) -> None:
    when = visit.day or f"{MONTHS[visit.condition.month - 1]} {year}"
    if visit.day is not None and visit.day >= today and visit.day.year != year:
        raise ValueError(f"the visit of {when} is in another year than the season of {year}")
    month_over = (year, visit.condition.month) < (today.year, today.month)
    if month_over if visit.day is None else visit.day < today:
        raise ValueError(f"the visit of {when} is past; its records now count instead")


def _day(text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"the day '{text[:40]}' cannot be read; write it as 2027-05-03") from None


def _month(text: str) -> int:
    if text.isdigit() and 1 <= int(text) <= 12:
        return int(text)
    raise ValueError(f"the month '{text[:40]}' should be a number from 1 to 12")
