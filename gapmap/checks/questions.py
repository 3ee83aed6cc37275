"""Slips that would explain an odd record, offered as questions, the likeliest first.

Slips of place come from slips.py; here are also those of the date and the name, and places that stand in for
something else. A question never says that somebody erred.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from rapidfuzz.distance import DamerauLevenshtein

from gapmap.checks.distances import distance_words
from gapmap.checks.evidence import Trial
from gapmap.checks.habits import season_cells, stage_kinds
from gapmap.checks.known import Known
from gapmap.checks.oddness import ORDINARY
from gapmap.checks.odds import place_measures
from gapmap.checks.reasons import APART_M, WORTH_SAYING
from gapmap.checks.slips import OFFERED
from gapmap.checks.transforms import KINDS
from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import SIDES, square_at
from gapmap.grid.systems import system_of

Whole = npt.NDArray[np.int64]

#: How the date of a list is named beside another record's, by the kind of date.
_DATES = {"day": "on the same day", "unknown": "likewise without a date"}
#: Lists of several people at one exact place, from which on it may stand for something else.
SHARED_BY = 30
#: Natural log of how common slips of the date and of the name are (our judgement).
_DATE_SHARE, _NAME_SHARE = np.log(0.05), np.log(0.03)
#: Natural log of what it is worth that the same people were out on the day meant (our judgement).
_OUT_THAT_DAY = 4.0


@dataclass(frozen=True)
class Question:
    """A slip put as a question, and the natural log of how many times likelier it makes the record."""

    row: int
    gain: float
    text: str


def questions(known: Known, rows: Whole, judged: pd.DataFrame, repairs: pd.DataFrame) -> list[list[str]]:
    """At most OFFERED questions for each of the chosen records, the likeliest slip first.

    Parameters
    ----------
    known
        Evidence and yardsticks.
    rows, judged
        Rows of the evidence, shape (n,), and their measures.
    repairs
        From slips.repairs_of, for these rows and perhaps others.
    """
    asked = [
        *_about_places(known, repairs[repairs["row"].isin(rows)]),
        *_about_dates(known, rows, judged),
        *_about_names(known, rows, judged),
        *_about_defaults(known, rows, judged),
    ]
    by_row: dict[int, list[Question]] = {int(row): [] for row in rows}
    for question in asked:
        if question.gain > 0:
            by_row[question.row].append(question)
    return [[q.text for q in sorted(by_row[int(row)], key=lambda q: -q.gain)[:OFFERED]] for row in rows]


def _about_places(known: Known, repairs: pd.DataFrame) -> list[Question]:
    if not len(repairs):
        return []
    records = known.evidence.records
    own = records.iloc[[_position(known, row) for row in repairs["row"]]]
    typed = known.evidence.in_metres[repairs["row"].to_numpy(np.int64)]
    meant, written = references(repairs, typed), references(own, typed)
    names = dict(zip(known.species["species_id"], known.species["name"], strict=True))
    sensitive = dict(zip(known.species["species_id"], known.species["sensitive_m"], strict=True))
    kinds = own["date_kind"].astype("str").tolist()
    species = known.evidence.species[repairs["row"].to_numpy(np.int64)]
    return [
        Question(
            int(there["row"]),
            float(there["gain"]),
            KINDS[str(there["kind"])][1].format(meant=meant[index], written=written[index])
            + _clue(
                there,
                names.get(int(species[index]), "the species"),
                _DATES.get(kinds[index], "under the same date"),
                sensitive.get(int(species[index]), 0),
                "the same people" if known.evidence.people[int(there["row"])] > 0 else "people not named",
            ),
        )
        for index, there in enumerate(repairs.to_dict("records"))
    ]


def references(places: pd.DataFrame, in_metres: npt.NDArray[np.bool_] | None = None) -> list[str]:
    """References of squares, and latitude and longitude of points, as people write them; easting and northing of
    those points that were typed in metres."""
    system, side = places["system"].to_numpy(np.int64), places["precision_m"].to_numpy(np.int64)
    easting, northing = places["easting"].to_numpy(np.int64), places["northing"].to_numpy(np.int64)
    point = places["is_point"].to_numpy(bool)
    sized = np.isin(side, SIDES) & ~point
    texts = np.asarray(
        squares_to_references(square_at(system, easting, northing, np.where(sized, side, 1))), dtype=object
    )
    for index in np.flatnonzero(point | (texts == "")):
        if in_metres is not None and in_metres[index]:
            texts[index] = f"easting {easting[index]}, northing {northing[index]}"
            continue
        longitude, latitude = grid_to_lonlat(system_of(int(system[index])), easting[[index]], northing[[index]])
        texts[index] = f"{latitude[0]:.4f}, {longitude[0]:.4f}"
    return [str(text) for text in texts]


def _clue(there: dict[Hashable, Any], name: str, time: str, sensitive_m: int, people: str) -> str:
    """The strongest thing that speaks for a place."""
    far = {word: float(there[word]) for word in ("company", "outing_m", "rows_m", "ground_m", "nearest_m", "middles_m")}
    if far["company"] > 0:
        others = "record" if far["company"] == 1 else "records"
        return f" A list of {people} {time} stands there ({far['company']:.0f} other {others})."
    if far["outing_m"] <= APART_M:
        return f" That is {_from(far['outing_m'])}where the same people recorded {time}."
    if far["rows_m"] <= APART_M:
        return f" That is {_apart(far['rows_m'])} a row next to it in the file."
    if far["ground_m"] <= APART_M:
        return f" That is {_from(far['ground_m'])}where the same people recorded under other dates."
    return (
        f" The nearest record of {name} would then be {_apart(far['nearest_m'], sensitive_m, far['middles_m'])} it."
        if np.isfinite(far["nearest_m"])
        else ""
    )


def _apart(metres: float, sensitive_m: int = 0, between_middles: float = 0) -> str:
    """How far one place is from another; of wide references only the least is known."""
    is_least = between_middles > metres + 1
    if metres == 0 and not sensitive_m and not is_least:
        return "at the same place as"
    return f"{distance_words(metres, sensitive_m, is_least=is_least)} from"


def _from(metres: float) -> str:
    return "" if metres == 0 else f"{distance_words(metres)} from "


def _about_dates(known: Known, rows: Whole, judged: pd.DataFrame) -> list[Question]:
    """Day and month exchanged, the year off by one, ten or a hundred: for records odd by season or year."""
    odd = (judged["season_odd"] > WORTH_SAYING) | (judged["year_odd"] > WORTH_SAYING)
    chosen = np.flatnonzero(odd.to_numpy(bool))
    own = known.evidence.records.iloc[[_position(known, int(row)) for row in rows[chosen]]]
    asked = [
        (place, number, meant, wording)
        for number, (place, kind, day) in enumerate(zip(chosen, own["date_kind"], own["date_from"], strict=True))
        if kind == "day"
        for meant, wording in _other_dates(day)
    ]
    if not asked:
        return []
    places = np.array([each[0] for each in asked], dtype=np.int64)
    as_written = own.iloc[[each[1] for each in asked]].reset_index(drop=True)
    meant = pd.Series([each[2] for each in asked]).astype("datetime64[s]")
    out = _were_out(known, rows[places], meant)
    by_season, by_year = _gains_by_date(
        known, rows[places], judged.iloc[places], as_written, as_written.assign(date_from=meant, date_to=meant)
    )
    return [
        Question(
            int(rows[place]),
            float(by_season[each] + by_year[each] + _DATE_SHARE) + (_OUT_THAT_DAY if out[each] else 0.0),
            f"{wording} ({new.day} {new:%B} {new.year} rather than {old.day} {old:%B} {old.year})? "
            + (
                "The same people recorded on that day."
                if out[each]
                else "That is more usual for the species."
                if by_season[each] > 0
                else "The same people have other records of about then."
            ),
        )
        for each, ((place, _, new, wording), old) in enumerate(zip(asked, as_written["date_from"], strict=True))
        if by_season[each] + by_year[each] > 0
    ]


def _were_out(known: Known, rows: Whole, day: pd.Series) -> npt.NDArray[np.bool_]:
    """Whether the people of each record have another record of the day."""
    people = known.evidence.people[rows]
    days = day.to_numpy("datetime64[D]").astype(np.int64)
    out: npt.NDArray[np.bool_] = (people > 0) & (known.evidence.days_of_people.count(people, days) > 0)
    return out


def _gains_by_date(
    known: Known, rows: Whole, judged: pd.DataFrame, written: pd.DataFrame, changed: pd.DataFrame
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How much more ordinary each record is on another day: by season, and by the recorder's years (natural log)."""
    evidence, cell = known.evidence, season_cells(changed)
    itself = evidence.bears_witness[rows] & (cell == season_cells(written))
    habit = known.habits["season"].judge(stage_kinds(changed), cell, itself)
    people = evidence.people[rows]
    years = evidence.years_of_people.nearest(
        people, changed["date_from"].dt.year.to_numpy(float), np.zeros(len(rows)), evidence.outing[rows]
    ).metres
    closer = np.log1p(judged["year"].to_numpy(float)) - np.log1p(np.where(np.isfinite(years), years, 0.0))
    by_year = np.where((people > 0) & np.isfinite(years), closer, 0.0)
    return judged["season"].to_numpy(float) - habit.surprise, by_year


def _other_dates(day: pd.Timestamp) -> list[tuple[pd.Timestamp, str]]:
    """Days one slip away that there were, none of them yet to come."""
    other = []
    if day.day <= 12 and day.day != day.month:
        other.append((day.replace(month=day.day, day=day.month), "Could day and month have changed places"))
    for year in (day.year + years for years in (-100, -10, -1, 1, 10, 100)):
        if year > 1600 and day.day <= monthrange(year, day.month)[1]:
            other.append((day.replace(year=year), "Could the year be meant otherwise"))
    return [(meant, wording) for meant, wording in other if meant <= pd.Timestamp.now()]


def _about_names(known: Known, rows: Whole, judged: pd.DataFrame) -> list[Question]:
    """The next name in an alphabetical list or one a letter or two away, where that species would be ordinary."""
    odd = (judged["range_odd"] > WORTH_SAYING).to_numpy(bool)
    near = {int(species): _near_names(known, int(species)) for species in np.unique(known.evidence.species[rows[odd]])}
    pairs = [
        (row, other, how, float(far))
        for row, far in zip(rows[odd], judged.loc[odd, "range_odd"], strict=True)
        for other, how in near[int(known.evidence.species[row])]
    ]
    if not pairs or known.spacing is None:
        return []
    row, species = np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs], dtype=np.int64)
    evidence = known.evidence
    there = place_measures(evidence, Trial(row, evidence.x[row], evidence.y[row], species, evidence.blur[row]))
    far = known.spacing.surprise(species, there["least_felt_m"].to_numpy(float), np.zeros(len(row), bool))
    names = dict(zip(known.species["species_id"], known.species["name"], strict=True))
    sensitive = dict(zip(known.species["species_id"], known.species["sensitive_m"], strict=True))
    nearest, middles = (there[name].to_numpy(float) for name in ("nearest_m", "middles_m"))
    return [
        Question(
            int(pairs[index][0]),
            pairs[index][3] - float(far[index]) + _NAME_SHARE,
            f"Could {names[pairs[index][1]]} be meant, {pairs[index][2]}? Its nearest record is "
            f"{_apart(float(nearest[index]), sensitive.get(pairs[index][1], 0), float(middles[index]))} this one.",
        )
        for index in np.flatnonzero(np.isfinite(nearest) & (far < ORDINARY))
    ]


def _near_names(known: Known, species: int) -> list[tuple[int, str]]:
    frame = known.species[
        known.species["counts"] & (known.species["species_id"] < len(known.evidence.places_of_species))
    ]
    names = dict(zip(frame["species_id"], frame["name"], strict=True))
    near = [(other, "the next name in an alphabetical list") for other in (species - 1, species + 1) if other in names]
    letters = [
        (int(other), "nearly the same spelling")
        for other, name in names.items()
        if other != species and DamerauLevenshtein.distance(name, names.get(species, ""), score_cutoff=2) <= 2
    ]
    return letters + [pair for pair in near if pair[0] not in {other for other, _ in letters}]


def _about_defaults(known: Known, rows: Whole, judged: pd.DataFrame) -> list[Question]:
    """Places that stand in for something coarser: corners of hectads, the origin, an exact place that many share."""
    evidence = known.evidence
    own = evidence.records.iloc[[_position(known, row) for row in rows]]
    exact = ((own["precision_m"] <= 1000) | own["is_point"]).to_numpy(bool) & np.isfinite(evidence.x[rows])
    easting, northing = own["easting"].to_numpy(np.int64), own["northing"].to_numpy(np.int64)
    corner = exact & (easting % 10_000 == 0) & (northing % 10_000 == 0)
    origin = exact & (np.abs(easting) < 1_000) & (np.abs(northing) < 1_000)
    written = references(own, evidence.in_metres[rows])
    hectad = references(
        own.assign(
            precision_m=10_000, is_point=False, easting=easting // 10_000 * 10_000, northing=northing // 10_000 * 10_000
        )
    )
    asked = []
    for index in np.flatnonzero(origin | corner):
        text = (
            f"{written[index]} is the origin of the grid: was the place perhaps left empty?"
            if origin[index]
            else f"{written[index]} is the very corner of a hectad: could the whole of {hectad[index]} be meant?"
        )
        asked.append(Question(int(rows[index]), 1.0, text))
    return asked + _shared(known, rows, exact & own["is_point"].to_numpy(bool), written)


def _shared(known: Known, rows: Whole, exact: npt.NDArray[np.bool_], written: list[str]) -> list[Question]:
    evidence = known.evidence
    if not exact.any():
        return []
    frame = pd.DataFrame({"x": evidence.x, "y": evidence.y, "people": evidence.people, "outing": evidence.outing})
    frame = frame[evidence.bears_witness]
    sharing = frame.groupby(["x", "y"]).agg(lists=("outing", "nunique"), people=("people", "nunique"))
    sharing = sharing[(sharing["lists"] >= SHARED_BY) & (sharing["people"] >= 3)]
    asked = []
    for index in np.flatnonzero(exact):
        place = (evidence.x[rows[index]], evidence.y[rows[index]])
        if place in sharing.index:
            lists, people = sharing.loc[place]
            asked.append(
                Question(
                    int(rows[index]),
                    0.5,
                    f"{written[index]} stands on {lists} lists by {people} sets of people: could it "
                    "stand for an office or the middle of a wider area?",
                )
            )
    return asked


def _position(known: Known, row: int) -> int:
    return int(row) if len(known.evidence.records) == len(known.evidence.x) else 0
