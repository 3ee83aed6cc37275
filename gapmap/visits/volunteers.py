"""Who can go: the volunteers' file read into checked volunteers, with a sentence for every row that cannot be used."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from gapmap.checks.identification import LEVELS
from gapmap.columns import NO_SQUARE
from gapmap.coverage.gaps import MONTHS
from gapmap.grid.projections import grid_to_grid
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import centre, unpack
from gapmap.grid.systems import System, system_of
from gapmap.records.details.methods import texts_to_method
from gapmap.records.own_lists import read_own_list
from gapmap.settings import AreaSection

#: Speed at which minutes of travel count as distance when no travel table is given: 40 km in an hour, straight line.
METRES_A_MINUTE = 40_000 / 60
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
#: What naming a species takes, the easiest first.
MEANS = LEVELS
#: Metres of each unit in which people write how far they go.
_METRES = {
    "m": 1.0,
    **dict.fromkeys(("km", "kms"), 1000.0),
    **dict.fromkeys(("mi", "mile", "miles"), 1609.344),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), METRES_A_MINUTE),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 60 * METRES_A_MINUTE),
}
_WRITE_DAYS = "write '2 a month', or how many in which month ('Apr 2; May 3'), or dates ('2027-05-03; 2027-06-12')"
_YES = {"yes", "y", "true", "1"}
_NO = {"no", "n", "false", "0", ""}
_EVERYTHING = {"", "all", "any", "everything"}
_ANY_AREA = AreaSection()
#: Saturdays and Sundays of a month at most: a fact of the calendar.
_MOST_WEEKEND_DAYS = 10


@dataclass(frozen=True)
class Volunteer:
    """One person and what they offer.

    Parameters
    ----------
    name
        Name or alias, as printed on plans.
    easting, northing
        Where they start from, metres in the map's grid; never written to anything that leaves the folder.
    reach_m
        How far they travel one way, metres.
    month_days
        Days they can give in each month, 1 to 12.
    dates
        The days themselves, where they named them; they are counted in ``month_days`` too.
    given
        Days that are given away already: on none of them is there a second visit.
    night
        Whether they go out after dark.
    methods
        How they look, in lower case and with short forms written out, as in the records; empty for every way.
    groups
        Taxon groups they can name, in lower case; empty for all.
    means
        The hardest means of naming at their hand, one of ``MEANS``; empty for all of them.
    tides
        Whether they go where the tide sets the hours.
    """

    name: str
    easting: float
    northing: float
    reach_m: float
    month_days: Mapping[int, int]
    dates: tuple[date, ...] = field(default=())
    given: tuple[date, ...] = field(default=(), kw_only=True)
    night: bool = False
    methods: frozenset[str] = frozenset()
    groups: frozenset[str] = frozenset()
    means: str = ""
    tides: bool = False


def read_volunteers(path: Path, system: System, area: AreaSection = _ANY_AREA) -> tuple[list[Volunteer], list[str]]:
    """Read the volunteers' file.

    Parameters
    ----------
    path
        CSV with the columns ``name``, ``home`` (a grid reference), ``days`` (``2 a month``, ``Apr 2; May 3``,
        ``4-9: 2`` or dates), ``travel`` (``25 km`` or ``40 min``), and if wanted ``night`` and ``tides`` (yes, no),
        ``methods`` and ``groups`` (separated by semicolons) and ``means`` (sight, hand lens, microscope or
        dissection: the hardest at their hand).
    system
        Grid system of the map.
    area
        Grid and zones to read homes with; a home that is in no such grid may be in any other.

    Returns
    -------
    list of Volunteer, list of str
        Those who can be planned for, and one sentence for each row that cannot, or that may mean something else.

    Raises
    ------
    FileError
        The file is missing, or lacks one of the four columns.
    """
    rows = _rows(path)
    volunteers: list[Volunteer] = []
    sentences: list[str] = []
    for number, row in rows:
        if not any(row.values()):
            sentences.append(f"{path.name}, row {number}: the row is empty.")
            continue
        try:
            volunteer = _volunteer(row, system, area)
            if any(volunteer.name == other.name for other in volunteers):
                raise ValueError(f"{volunteer.name} stands in the file twice; the first row was used")
            volunteers.append(volunteer)
            sentences += [f"{path.name}, row {number}: {sentence}." for sentence in _many_days(volunteer)]
        except ValueError as error:
            sentences.append(f"{path.name}, row {number}: {error}.")
    return volunteers, sentences


def text_to_days(text: str) -> tuple[dict[int, int], tuple[date, ...]]:
    """Read the days a person can give.

    Examples
    --------
    >>> text_to_days("Apr 2; May 3")
    ({4: 2, 5: 3}, ())
    >>> text_to_days("4-6: 2")[0], text_to_days("1 a month, Nov-Jan")[0]
    ({4: 2, 5: 2, 6: 2}, {11: 1, 12: 1, 1: 1})
    >>> text_to_days("2027-05-03; 2027-05-10")
    ({5: 2}, (datetime.date(2027, 5, 3), datetime.date(2027, 5, 10)))
    """
    found: dict[int, int] = {}
    dates: list[date] = []
    everywhere = re.match(r"\s*(\d+)\s*(?:days?\s*)?(?:a|per|each)\s*month\s*[,:]?\s*(.*)$", text, re.IGNORECASE)
    if everywhere:
        text = f"{everywhere[2].strip() or '1-12'}: {everywhere[1]}"
    for part in (piece.strip() for piece in re.split(r"[;,]", text)):
        if not part:
            continue
        try:
            dates.append(date.fromisoformat(part))
        except ValueError:
            months, days = _months_and_days(part)
            for month in months:
                found[month] = found.get(month, 0) + days
    named = tuple(sorted(set(dates)))
    for day in named:
        found[day.month] = found.get(day.month, 0) + 1
    return found, named


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    written = read_own_list(
        path, "the volunteers' file", needs=("name", "home", "days", "travel"),
        do="head its columns name, home, days, travel, night, methods, groups, means, tides",
    )  # fmt: skip
    return written.dicts()


def _many_days(volunteer: Volunteer) -> list[str]:
    """A sentence for each month with more days than weekends have: a date may be meant."""
    return [
        f"{volunteer.name} gives {days} days in {MONTHS[month - 1]}; if a date is meant, write it as 2027-05-03"
        for month, days in volunteer.month_days.items()
        if days > _MOST_WEEKEND_DAYS and sum(day.month == month for day in volunteer.dates) < days
    ]


def _volunteer(row: dict[str, str], system: System, area: AreaSection) -> Volunteer:
    name = row.get("name", "")
    if not name:
        raise ValueError("nobody is named; give a name or an alias")
    if ";" in name:
        raise ValueError(f"the name {name} holds a semicolon, which stands between people; write it without")
    easting, northing = _home(name, row.get("home", ""), system, area)
    month_days, dates = text_to_days(row.get("days", ""))
    if not month_days or not any(month_days.values()):
        raise ValueError(f"{name} gives no days; {_WRITE_DAYS}")
    impossible = [month for month, number in month_days.items() if number > 31]
    if impossible:
        raise ValueError(f"{name} gives {month_days[impossible[0]]} days in one month; nobody has so many")
    return Volunteer(
        name,
        easting,
        northing,
        _reach(name, row.get("travel", "")),
        month_days,
        dates,
        _yes_or_no(name, "night work", row.get("night", "")),
        frozenset(texts_to_method(sorted(_words(row.get("methods", ""))))["value"]),
        _words(row.get("groups", "")),
        _means(name, row.get("means", "")),
        _yes_or_no(name, "tides", row.get("tides", "")),
    )


def _means(name: str, text: str) -> str:
    word = " ".join(text.lower().split())
    if word in _EVERYTHING:
        return ""
    if word not in MEANS:
        raise ValueError(f"the means of {name} should be one of {', '.join(MEANS)}, is '{text[:40]}'")
    return word


def _home(name: str, text: str, system: System, area: AreaSection) -> tuple[float, float]:
    square = references_to_squares([text], area.grid, area.zones).squares
    if square[0] == NO_SQUARE:
        square = references_to_squares([text]).squares
    if square[0] == NO_SQUARE:
        raise ValueError(f"the home of {name} is no grid reference that can be read; a 1 km square is enough")
    key, _, _, _ = unpack(square)
    easting, northing = centre(square)
    easting, northing = grid_to_grid(system_of(int(key[0])), system, easting, northing)
    return float(easting[0]), float(northing[0])


def _reach(name: str, text: str) -> float:
    match = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*([a-z]*)\.?\s*", text, re.IGNORECASE)
    unit = (match[2].lower() or "km") if match else ""
    number = float(match[1].replace(",", ".")) if match else 0.0
    if number <= 0 or unit not in _METRES:
        raise ValueError(f"how far {name} travels cannot be read ('{text[:40]}'); write it as '25 km' or '40 min'")
    return number * _METRES[unit]


def _yes_or_no(name: str, what: str, text: str) -> bool:
    word = text.lower()
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise ValueError(f"{what} of {name} should be yes or no, is '{text[:40]}'")


def _words(text: str) -> frozenset[str]:
    words = frozenset(word.strip().lower() for word in text.split(";") if word.strip())
    return frozenset() if words <= _EVERYTHING else words


def _months_and_days(part: str) -> tuple[list[int], int]:
    match = re.fullmatch(r"([a-z]+|\d{1,2})\s*(?:[-–]\s*([a-z]+|\d{1,2}))?\s*[: ]\s*(\d{1,2})", part, re.IGNORECASE)
    if match is None:
        raise ValueError(f"the days '{part[:40]}' cannot be read; {_WRITE_DAYS}")
    first = _month(match[1])
    last = _month(match[2]) if match[2] else first
    months = [(first - 1 + step) % 12 + 1 for step in range((last - first) % 12 + 1)]
    return months, int(match[3])


def _month(text: str) -> int:
    if text.isdigit():
        if 1 <= int(text) <= 12:
            return int(text)
    elif text[:3].lower() in _MONTHS:
        return _MONTHS.index(text[:3].lower()) + 1
    raise ValueError(f"'{text}' is no month")
