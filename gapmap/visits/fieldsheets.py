"""What people take in their pocket: everything a field sheet says, made ready for paper and telephone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from gapmap.coverage.gaps import MONTHS
from gapmap.coverage.reasons import percent
from gapmap.expected.seasons import MONTH_NAMES
from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import centre, square_at, unpack
from gapmap.grid.systems import System, system_of
from gapmap.records.publishing import sizes_to_publish
from gapmap.settings import Settings
from gapmap.visits.safety import SAFETY, SAFETY_TITLE
from gapmap.visits.season import Season

_LAST_VISITS = 4
#: Records with a habitat before they tell where a species is usually found.
_FEWEST_RECORDS = 5
_AT = {"day": "by day", "dusk": "at dusk", "night": "after dark"}
#: What expected.ways says of a species that is found alike in all months.
_ALWAYS = "all year"
#: Chances above it are told in tenths: between one in three and one in two no "1 in" comes near.
_TENTHS = 0.36
#: The same of a list, which may reach over several.
_LOOKED = {**_AT, "several": "at several times of day"}
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
#: Columns that the trade's recording forms have, and what stands once at their head (common practice, no source).
TALLY_COLUMNS = ("Species", "How many", "Sex, stage", "Grid reference", "Habitat", "How found", "Named by", "Kept?")
TALLY_HEAD = ("Date", "From", "To", "Weather", "Recorders")
NOTHING_EXPECTED = "No species in particular is expected here: list everything you find."
#: What to fill in before setting out.
RETURN_HEAD = ("Who knows where I am:", "I am back by:")


@dataclass(frozen=True)
class Corner:
    """A corner of the square: which, its reference, metres in the grid, degrees (WGS 84)."""

    name: str
    reference: str
    easting: int
    northing: int
    latitude: float
    longitude: float


@dataclass(frozen=True)
class Target:
    """A species to look for, in words."""

    name: str
    vernacular: str
    status: str
    chance: str
    when: str
    where: str
    how: str
    certainty: str


@dataclass(frozen=True)
class FieldSheet:
    """One visit on one sheet; nothing in it tells where anybody lives.

    Parameters
    ----------
    visit_id
        As in columns.VISITS.
    area, notice
        Name of the area, and the line that every output carries.
    square, system, side
        Packed square; grid system and metres.
    reference
        The square as written.
    people
        Who goes.
    day, month, time_of_day, when
        When, and that in words.
    corners
        South-west, north-west, north-east, south-east.
    middle
        Latitude and longitude of the middle.
    ground
        What the square is made of, in words; empty when no raster tells.
    last_visits
        Day, time of day and number of species of the latest lists made there.
    targets
        In order.
    remarks
        Such as that it is part of a field meeting.
    safety_title, safety
        The reminder.
    """

    visit_id: int
    area: str
    notice: str
    square: int
    system: System
    side: int
    reference: str
    people: tuple[str, ...]
    day: date | None
    month: int
    time_of_day: str
    when: str
    corners: tuple[Corner, ...]
    middle: tuple[float, float]
    ground: str
    last_visits: tuple[tuple[str, str, str], ...]
    targets: tuple[Target, ...]
    remarks: tuple[str, ...]
    safety_title: str = SAFETY_TITLE
    safety: tuple[str, ...] = SAFETY


def field_sheets(
    season: Season,
    lists: pd.DataFrame,
    species: pd.DataFrame,
    habitats: pd.DataFrame,
    ground: Mapping[int, Mapping[str, float]],
    settings: Settings,
) -> list[FieldSheet]:
    """Make a sheet for every visit of the plan.

    Parameters
    ----------
    season
        The plan.
    lists, species
        As in columns.LISTS and columns.SPECIES.
    habitats
        Where each species is usually found, as recorders wrote it: ``species_id, habitat, records``.
    ground
        Square → name of a habitat → its share of the square.
    settings
        Name and notice of the area, and what is sensitive.
    """
    about = _About(season, lists, species, habitats, ground, settings)
    return [about.sheet(visit) for visit in season.visits.to_dict("records")]


class _About:
    """What all sheets draw on, looked up once."""

    def __init__(
        self,
        season: Season,
        lists: pd.DataFrame,
        species: pd.DataFrame,
        habitats: pd.DataFrame,
        ground: Mapping[int, Mapping[str, float]],
        settings: Settings,
    ) -> None:
        self.season, self.settings, self.ground = season, settings, ground
        self.places: dict[int, list[tuple[str, int]]] = {}
        for kind, habitat, records in zip(
            habitats["species_id"], habitats["habitat"], habitats["records"], strict=True
        ):
            self.places.setdefault(int(kind), []).append((str(habitat), int(records)))
        named = zip(species["species_id"], species["name"], species["vernacular"], strict=True)
        self.names = {int(kind): (str(name), str(everyday or "")) for kind, name, everyday in named}
        self.sensitive = _sensitive(species, settings)
        self.lists_at = dict(list(lists[lists["square"] >= 0].groupby("square")))
        self.targets = dict(list(season.targets.groupby("visit_id")))
        self.bases = {meeting.number: meeting.base for meeting in season.meetings}

    def sheet(self, visit: Mapping[Any, Any]) -> FieldSheet:
        """The sheet of one visit."""
        square, month = int(visit["square"]), int(visit["month"])
        targets = [] if visit["visit_id"] not in self.targets else self.targets[visit["visit_id"]].to_dict("records")
        told = [target for target in targets if target["species_id"] not in self.sensitive]
        day = None if pd.isna(visit["day"]) else visit["day"].date()
        here = self.ground.get(square, {})
        system, side, corners, middle = _place(square)
        return FieldSheet(
            visit_id=int(visit["visit_id"]),
            area=self.settings.area.name,
            notice=self.settings.area.notice,
            square=square,
            system=system,
            side=side,
            reference=_reference(square),
            people=tuple(visit["volunteer"].split("; ")),
            day=day,
            month=month,
            time_of_day=visit["time_of_day"],
            when=when_in_words(day, self.season.year, month, visit["time_of_day"]),
            corners=corners,
            middle=middle,
            ground=ground_in_words(here),
            last_visits=_last_visits(self.lists_at.get(square)),
            targets=tuple(self._target(target, here) for target in told),
            remarks=tuple(self._remarks(visit, len(targets) > len(told))),
        )

    def _target(self, row: Mapping[Any, Any], here: Mapping[str, float]) -> Target:
        species_id, year = int(row["species_id"]), int(row["found_before"])
        name, vernacular = self.names[species_id]
        status = "new to the square" if year == 0 else f"last found {year}" if year > 1 else "found before"
        chance = "can't say" if row["grade"] == "can't say" else chance_in_words(row["chance_then"])
        when = best_in_words(str(row["best_months"] or ""), str(row["time_of_day"] or ""))
        where = usual_places(self.places.get(species_id, ()), here)
        return Target(
            name, vernacular, status, chance, when, where, str(row["method"] or ""), str(row["certainty"] or "")
        )

    def _remarks(self, visit: Mapping[Any, Any], some_hidden: bool) -> list[str]:
        remarks = []
        if visit["meeting"] in self.bases:
            base = _reference(self.bases[visit["meeting"]])
            remarks.append(f"Part of field meeting {visit['meeting']}: meet in {base}, name the finds together there.")
        if visit["people"] > 1:
            remarks.append("Go together and stay within call.")
        if some_hidden:
            remarks.append("Sensitive species are left off this sheet; ask the organiser.")
        return remarks


def when_in_words(day: date | None, year: int, month: int, time_of_day: str) -> str:
    """When a visit is, as people say it.

    Examples
    --------
    >>> when_in_words(date(2027, 6, 12), 2027, 6, "day"), when_in_words(None, 2027, 9, "night")
    ('Saturday 12 June 2027, by day', 'September 2027, after dark; agree the day')
    """
    at = _AT[time_of_day]
    if day is None:
        return f"{MONTHS[month - 1]} {year}, {at}; agree the day"
    return f"{_DAYS[day.weekday()]} {day.day} {MONTHS[month - 1]} {day.year}, {at}"


def best_in_words(months: str, time_of_day: str) -> str:
    """When a species is best looked for; visits at other times find it too, and their chance counts that already.

    Examples
    --------
    >>> best_in_words("Apr–Jun", "night"), best_in_words("all year", "night"), best_in_words("", "day")
    ('best Apr–Jun, after dark', 'all year, best after dark', 'best by day')
    >>> best_in_words("all year", ""), best_in_words("", "")
    ('all year', '')
    """
    at = _AT.get(time_of_day, "")
    if months in ("", _ALWAYS):
        return ", ".join(part for part in (months, f"best {at}" if at else "") if part)
    return ", ".join(part for part in (f"best {months}", at) if part)


def chance_in_words(chance: float) -> str:
    """A chance as people say it, never as certainty.

    Examples
    --------
    >>> chance_in_words(0.97), chance_in_words(0.62), chance_in_words(0.41), chance_in_words(0.34)
    ('9 in 10', '6 in 10', '4 in 10', '1 in 3')
    >>> chance_in_words(0.012)
    '1 in 83'
    """
    return f"{min(round(10 * chance), 9)} in 10" if chance > _TENTHS else f"1 in {round(1 / max(chance, 0.001))}"


def targets_in_words(targets: Sequence[Target]) -> str:
    """What to look for, by name."""
    return f"Look for: {'; '.join(target.name for target in targets)}" if targets else NOTHING_EXPECTED


def degrees(latitude: float, longitude: float) -> str:
    """A place in degrees as a telephone takes it.

    Examples
    --------
    >>> degrees(56.123456, -1.5)
    '56.12346, -1.50000'
    """
    return f"{latitude:.5f}, {longitude:.5f}"


def ground_in_words(shares: Mapping[str, float]) -> str:
    """What a square is made of, most first.

    Examples
    --------
    >>> ground_in_words({"heath": 0.25, "pasture": 0.7, "town": 0.01})
    'pasture 70 %, heath 25 %'
    """
    ordered = sorted(shares.items(), key=lambda pair: (-pair[1], pair[0]))
    return ", ".join(f"{name} {percent(share)}" for name, share in ordered[:5] if share >= 0.02)


def usual_places(own: Sequence[tuple[str, int]], here: Mapping[str, float]) -> str:
    """Where a species is usually found, the habitats of this square first; empty when records do not tell.

    Parameters
    ----------
    own
        Each habitat that recorders wrote down for the species, and on how many records.
    here
        Habitat → its share of the square.

    Examples
    --------
    >>> usual_places([("heath", 8), ("dune", 5), ("town", 1)], {"dune": 0.4, "pasture": 0.6})
    'dune'
    >>> usual_places([("heath", 8)], {"pasture": 1.0, "Heath": 0.0}), usual_places([("heath", 1)], {})
    ('heath (little of it here)', '')
    >>> usual_places([("under logs", 8)], {"pasture": 1.0})
    'under logs'
    """
    told = [(habitat, records) for habitat, records in own if habitat]
    shares = {name.lower(): share for name, share in here.items()}
    if sum(records for _, records in told) < _FEWEST_RECORDS:
        return ""
    most = max(records for _, records in told)
    usual = sorted(((-records, habitat) for habitat, records in told if records >= 0.15 * most))
    local = [pair for pair in usual if shares.get(pair[1].lower(), 0.0) >= 0.02]
    words = [habitat for _, habitat in (local or usual)[:2]]
    is_scarce = not local and all(habitat.lower() in shares for habitat in words)
    return f"{', '.join(words)}{' (little of it here)' * is_scarce}"


def _sensitive(species: pd.DataFrame, settings: Settings) -> set[int]:
    """Species that may not be told as finely as the map's square."""
    coarse = sizes_to_publish(species, settings)["sensitive_m"] > settings.area.side_m
    return set(species.loc[coarse, "species_id"].tolist())


def _reference(square: int) -> str:
    return str(squares_to_references(np.array([square]))[0])


def _place(square: int) -> tuple[System, int, tuple[Corner, ...], tuple[float, float]]:
    key, side, easting, northing = (int(part) for part in unpack(square))
    system = system_of(key)
    names = ("south-west", "north-west", "north-east", "south-east")
    east = np.array([easting, easting, easting + side, easting + side])
    north = np.array([northing, northing + side, northing + side, northing])
    longitude, latitude = grid_to_lonlat(system, east.astype(float), north.astype(float))
    references = squares_to_references(square_at(key, east, north, 1))
    corners = tuple(
        Corner(name, str(reference), int(e), int(n), float(lat), float(lon))
        for name, reference, e, n, lat, lon in zip(names, references, east, north, latitude, longitude, strict=True)
    )
    across, up = centre(np.array([square]))
    lon, lat = grid_to_lonlat(system, across, up)
    return system, side, corners, (float(lat[0]), float(lon[0]))


def _last_visits(lists: pd.DataFrame | None) -> tuple[tuple[str, str, str], ...]:
    if lists is None:
        return ()
    dated = lists[lists["date_to"].notna()].sort_values(
        ["date_to", "length", "list_id"], ascending=[False, False, True]
    )
    rows = dated.drop_duplicates(["date_from", "date_to"]).head(_LAST_VISITS)
    return tuple(
        (_period(first, last), _LOOKED.get(str(time), ""), f"{length} species")
        for first, last, time, length in zip(
            rows["date_from"], rows["date_to"], rows["time_of_day"], rows["length"], strict=True
        )
    )


def _period(first: pd.Timestamp, last: pd.Timestamp) -> str:
    """A day, a night over two days, a month, or the years of a list."""
    day = f"{last.day} {MONTH_NAMES[last.month - 1]} {last.year}"
    if first == last:
        return day
    if (last - first).days == 1:
        month = "" if first.month == last.month else f" {MONTH_NAMES[first.month - 1]}"
        return f"{first.day}{month}/{day}"
    if (first.year, first.month) == (last.year, last.month):
        return f"{MONTH_NAMES[last.month - 1]} {last.year}"
    return str(last.year) if first.year == last.year else f"{first.year}–{last.year}"
