"""How records are written down: how exactly the place, how exactly the date, in whose file."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import accumulate

import numpy as np
import pandas as pd

from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import square_at
from gapmap.grid.systems import system_of
from island.chance import fraction, stream
from island.fauna import Fauna
from island.recorders import RECORDERS, Recorder
from island.terrain import HABITATS
from island.ways import nearest_places

BRITISH = 1
SIDES = (10_000, 2_000, 1_000, 100, 10, 1)

#: Up to this year, how many in a hundred visits are given at each of SIDES, and to the day, month and year.
_EXACTNESS = (
    (1979, (12, 18, 60, 10, 0, 0), (76, 15, 9)),
    (1999, (3, 7, 48, 42, 0, 0), (90, 6, 4)),
    (2012, (1, 2, 22, 64, 11, 0), (97, 2, 1)),
    (2026, (0.5, 1.5, 12, 46, 36, 4), (99, 0.7, 0.3)),
)
ARCHIVE, SOCIETY = "archive", "society"
_LAST_ARCHIVE_YEAR = 1999


def write_down(fauna: Fauna, visits: pd.DataFrame, found: pd.DataFrame, places: pd.DataFrame) -> pd.DataFrame:
    """Every record as it was meant to be written, before any mistake.

    Returns
    -------
    DataFrame
        One row a record in the order of files and dates: the columns of ``found`` and, from its visit, file, name,
        true_name, date_kind, date_from, date_to, side (metres), reference, latitude, longitude (of the reference's
        centre), people, recorders, place, habitat, method, hour, clock (empty when not noted), determiner_name,
        status.
    """
    written = _exactness(visits)
    written["place"] = places["name"].to_numpy()[
        nearest_places(places, written["easting"], written["northing"])
    ]
    notes = found.merge(written, on="visit_id", how="left")
    notes = notes.rename(columns={"habitat": "habitat_code"})
    names = fauna.species["name"].to_numpy()
    notes["true_name"] = names[notes["true_species"]]
    genus = np.array([f"{name.split()[0]} sp." for name in names])
    notes["name"] = np.where(notes["level"] == "genus", genus[notes["species"]], names[notes["species"]])
    notes["habitat"] = _sometimes(notes["habitat_code"].map(HABITATS), 0.6, "habitat")
    notes["method"] = np.where(
        notes["hour"] == "day", _sometimes(notes["method"], 0.7, "method"), notes["method"]
    )
    notes["determiner_name"] = [RECORDERS[n].initials for n in notes["determiner"]]
    notes["status"] = _status(notes)
    notes = notes.sort_values(["file", "date", "visit_id", "name"], kind="stable", ignore_index=True)
    return without_repeats(notes, ["people", "date_from", "date_to"]).reset_index(drop=True)


def without_repeats(notes: pd.DataFrame, list_keys: list[str]) -> pd.DataFrame:
    """Leave out a species already written down on the same list: at the same reference, or in the same 10 km square at
    another size. Who writes a list does not write a species twice; those who do so here do it on purpose."""
    keys = [*list_keys, "name", notes["easting"] // 10_000, notes["northing"] // 10_000]
    notes = notes[notes["side"] == notes.groupby(keys, sort=False)["side"].transform("first")]
    return notes[~notes.duplicated([*list_keys, "name", "reference"])]


def people_of(text: str) -> list[Recorder]:
    """The recorders of a visit, from its ``people`` column."""
    return [RECORDERS[int(number)] for number in text.split()]


def references(easting: np.ndarray, northing: np.ndarray, side: np.ndarray) -> np.ndarray:
    """Grid references at each row's own size in metres."""
    return np.asarray(squares_to_references(square_at(BRITISH, easting, northing, side)), dtype=object)


def _exactness(visits: pd.DataFrame) -> pd.DataFrame:
    sides, kinds, firsts, lasts, clocks = [], [], [], [], []
    for visit in visits.itertuples():
        day = (visit.people, visit.date)  # one day's places and dates are written alike
        _, sizes, vagueness = next(row for row in _EXACTNESS if visit.year <= row[0])
        sides.append(SIDES[_pick(fraction("side", *day), sizes)])
        kind = ("day", "month", "year")[_pick(fraction("kind", *day), vagueness)]
        first, last = _interval(visit.date, kind)
        kinds.append(kind)
        firsts.append(first)
        lasts.append(last)
        noted = fraction("clock", visit.visit_id) < (0.75 if visit.hour != "day" else 0.15)
        clocks.append(visit.clock if noted and kind == "day" else "")
    written = visits.drop(columns=["clock"]).assign(
        side=sides,
        date_kind=kinds,
        date_from=firsts,
        date_to=lasts,
        clock=clocks,
        file=[
            _file_of(people_of(people), year)
            for people, year in zip(visits["people"], visits["year"], strict=True)
        ],
        recorders=[" & ".join(r.initials for r in people_of(people)) for people in visits["people"]],
    )
    side = written["side"].to_numpy()
    written["reference"] = references(written["easting"].to_numpy(), written["northing"].to_numpy(), side)
    middle = written["easting"] // side * side + side / 2, written["northing"] // side * side + side / 2
    longitude, latitude = grid_to_lonlat(system_of(BRITISH), middle[0].to_numpy(), middle[1].to_numpy())
    return written.assign(longitude=longitude, latitude=latitude)


def _pick(draw: float, shares: tuple[float, ...]) -> int:
    return next(place for place, upto in enumerate(accumulate(shares)) if draw * sum(shares) < upto)


def _interval(day: date, kind: str) -> tuple[date, date]:
    if kind == "day":
        return day, day
    if kind == "year":
        return date(day.year, 1, 1), date(day.year, 12, 31)
    first = day.replace(day=1)
    return first, (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)


def _file_of(people: list[Recorder], year: int) -> str:
    first, last = people[0].own_years
    if len(people) == 1 and people[0].file and first <= year <= last:
        return people[0].file
    return ARCHIVE if year <= _LAST_ARCHIVE_YEAR else SOCIETY


def _sometimes(values: pd.Series, share: float, purpose: str) -> np.ndarray:
    return np.where(stream("sometimes", purpose).random(len(values)) < share, values, "")


def _status(notes: pd.DataFrame) -> np.ndarray:
    draw = stream("status").random(len(notes))
    doubtful = ((notes["species"] != notes["true_species"]) | (notes["level"] == "genus")).to_numpy()
    status = np.where(draw < 0.86, "accepted", np.where(draw < 0.985, "", "awaiting"))
    return np.where(
        doubtful & (draw < 0.2), "not accepted", np.where(doubtful & (draw < 0.7), "awaiting", status)
    )
