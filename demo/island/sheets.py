"""The tables as people keep them: the society's own and those of four recorders, each in its own style."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd

from island.chance import fraction, stream
from island.fauna import Fauna
from island.writing import SOCIETY, people_of, without_repeats

Cell = str | int | float | date
Row = dict[str, Cell]
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True)
class Sheet:
    """One table of one file.

    ``first_row`` is the spreadsheet's number of the first data row; ``note`` holds for each row the row of the notes
    it was written from; ``roles`` says which header is the species, reference, date and so on.
    """

    file: str
    name: str
    headers: tuple[str, ...]
    rows: tuple[Row, ...]
    note: tuple[int, ...]
    roles: dict[str, str]
    first_row: int = 2

    def row_number(self, position: int) -> int:
        """The number a spreadsheet shows beside the row."""
        return self.first_row + position

    def with_rows(self, rows: Iterable[Row], note: Iterable[int]) -> Sheet:
        """The same table with other rows."""
        return replace(self, rows=tuple(rows), note=tuple(note))


def make_sheets(notes: pd.DataFrame, fauna: Fauna) -> list[Sheet]:
    """All tables but the archive, in the order society, Orrowby (two), Quellick, Fennimar, Vastrey."""
    vernacular = dict(zip(fauna.species["name"], fauna.species["vernacular"], strict=True))
    authority = dict(zip(fauna.species["name"], fauna.species["authority"], strict=True))
    own = dict(list(notes.groupby("file", sort=False)))
    orrowby = own["orrowby"]
    dark = orrowby["hour"] != "day"
    fennimar = own["fennimar"].assign(when=[vague_date(note) for note in own["fennimar"].itertuples()])
    fennimar = without_repeats(fennimar, ["when"])
    return [
        _sheet(
            own[SOCIETY],
            "society records 2000 onwards.csv",
            "",
            _society_row(vernacular),
            {
                "species": "Scientific name",
                "reference": "Grid reference",
                "date": "Date",
                "place": "Site",
                "count": "Count",
            },
        ),
        _sheet(orrowby[~dark], "Orrowby 2016-2026.xlsx", "Field", _orrowby_row, _ORROWBY, first_row=5),
        _sheet(orrowby[dark], "Orrowby 2016-2026.xlsx", "Town nights", _orrowby_row, _ORROWBY),
        _sheet(
            own["quellick"],
            "Quellick Ottenhaven 2010-2019.csv",
            "",
            _quellick_row(vernacular),
            {
                "species": "Species",
                "reference": "Gridref",
                "date": "Date",
                "place": "Locality",
                "count": "Count",
            },
        ),
        _sheet(
            fennimar,
            "IF notebooks.ods",
            "records",
            _fennimar_row,
            {"species": "taxon", "reference": "GR", "date": "when", "place": "site", "count": "n"},
        ),
        _sheet(
            own["vastrey"],
            "vastrey_export.csv",
            "",
            _vastrey_row(authority),
            {
                "species": "species_name",
                "latitude": "latitude",
                "longitude": "longitude",
                "uncertainty": "accuracy_m",
                "date": "observed_on",
                "place": "location",
                "count": "count",
            },
        ),
    ]


_ORROWBY = {"species": "Species", "reference": "Grid ref", "date": "Date", "place": "Where", "count": "No."}


def _sheet(
    notes: pd.DataFrame,
    file: str,
    name: str,
    to_row: Callable[..., Row],
    roles: dict[str, str],
    first_row: int = 2,
) -> Sheet:
    generator = stream("sheet", file, name)
    rows = [to_row(note, generator) for note in notes.itertuples()]
    return Sheet(file, name, tuple(rows[0]), tuple(rows), tuple(notes.index), roles, first_row)


def day_first(day: date) -> str:
    """12 May 1998 as 12/05/1998."""
    return f"{day.day:02d}/{day.month:02d}/{day.year}"


def plain_date(note: tuple) -> str:  # type: ignore[type-arg]
    """A note's date as it is usually written in Britain."""
    first: date = note.date_from
    return {
        "day": day_first(first),
        "month": f"{_MONTHS[first.month - 1]} {first.year}",
        "year": str(first.year),
    }[note.date_kind]


def _society_row(vernacular: dict[str, str]) -> Callable[..., Row]:
    def to_row(note: tuple, generator: np.random.Generator) -> Row:  # type: ignore[type-arg]
        return {
            "Record number": f"TH{note.Index:06d}",
            "Scientific name": note.name,
            "Vernacular": vernacular.get(note.name, ""),
            "Grid reference": note.reference,
            "Site": note.place,
            "Date": plain_date(note),
            "Recorder": note.recorders,
            "Determiner": note.determiner_name,
            "Count": note.quantity or "",
            "Sex": note.sex,
            "Stage": note.stage,
            "Method": note.method,
            "Habitat": note.habitat,
            "Time": note.clock or _said_hour(note),
            "Evidence": note.evidence,
            "Status": note.status,
            "Comment": "",
        }

    return to_row


def _said_hour(note: tuple) -> str:  # type: ignore[type-arg]
    return note.hour if note.hour != "day" else ""


def _signs(note: tuple, generator: np.random.Generator) -> str:  # type: ignore[type-arg]
    """A count with the signs for male and female, as field people write it."""
    if note.sex == "both":
        females = max(1, note.quantity // 2)
        return f"{max(1, note.quantity - females)}♂ {females}♀"
    if note.sex:
        return f"{note.quantity or 1}{'♂' if note.sex == 'male' else '♀'}"
    if note.stage == "juvenile":
        return f"{note.quantity or 1} juv"
    return str(note.quantity) if note.quantity else ("several" if generator.random() < 0.04 else "")


def _spaced(reference: str, generator: np.random.Generator, loose: float) -> str:
    """The reference as typed: most as it should be, some with spaces or in lower case."""
    if generator.random() > loose or len(reference) < 6:
        return reference
    half = (len(reference) - 2) // 2
    if not reference[-1].isdigit():
        return reference.lower()
    return generator.choice(
        [
            f"{reference[:2]} {reference[2 : 2 + half]} {reference[2 + half :]}",
            f"{reference[:2]} {reference[2:]}",
            reference.lower(),
        ]
    ).item()


def _orrowby_row(note: tuple, generator: np.random.Generator) -> Row:  # type: ignore[type-arg]
    when: Cell = note.date_from if note.date_kind == "day" and generator.random() < 0.93 else plain_date(note)
    helper = note.determiner_name if note.determiner_name != "T. Orrowby" else ""
    return {
        "Species": note.name,
        "Grid ref": _spaced(note.reference, generator, 0.25),
        "Where": note.place,
        "Date": when,
        "Time": note.clock or _said_hour(note),
        "Seen by": "T. Orrowby",
        "How found": note.method,
        "No.": _signs(note, generator),
        "Det. by": helper,
        "Evidence": note.evidence,
        "Notes": generator.choice(["", "", "", "under bark", "on the wall", "lots"]).item(),
    }


def _quellick_row(vernacular: dict[str, str]) -> Callable[..., Row]:
    def to_row(note: tuple, generator: np.random.Generator) -> Row:  # type: ignore[type-arg]
        when = plain_date(note)
        return {
            "Species": note.name,
            "English name": vernacular.get(note.name, ""),
            "Gridref": _spaced(note.reference, generator, 0.1),
            "Locality": note.place,
            "Date": when.replace("/", ".") if generator.random() < 0.3 else when,
            "Recorder": "Quellick, D.",
            "Det": note.determiner_name,
            "Count": note.quantity or "",
            "Sex": note.sex,
            "Habitat": note.habitat,
            "Remarks": generator.choice(
                ["", "", "", "café wall – at dusk", "½ hour’s search", "naïve guess at the age: 2 yrs"]
            ).item(),
        }

    return to_row


_SHORT_METHODS = {"hand search": "hs", "sieving": "sv", "shore search": "shore", "torch": "torch", "": ""}


def _fennimar_row(note: tuple, generator: np.random.Generator) -> Row:  # type: ignore[type-arg]
    return {
        "taxon": note.name,
        "GR": _spaced(note.reference, generator, 0.3),
        "site": note.place,
        "when": note.when,
        "leg.": "IF",
        "det.": "IF" if note.determiner_name == "I. Fennimar" else note.determiner_name,
        "n": _signs(note, generator),
        "method": _SHORT_METHODS.get(note.method, note.method),
        "rem": "",
    }


def vague_date(note: tuple) -> str:  # type: ignore[type-arg]
    """The date of a visit in a notebook kept for oneself: now exact, now a season; the same for the whole visit."""
    day: date = note.date
    draw = fraction("vague", note.date)
    season = ("Winter", "Spring", "Summer", "Autumn")[day.month % 12 // 3]
    if note.date_kind != "day":
        return plain_date(note)
    if draw < 0.04 and season != "Winter":
        return f"{season} {day.year}"
    if draw < 0.06:
        return f"c. {day.year}"
    if draw < 0.07 and day.year < 1985:
        return "pre-1985"
    if draw < 0.09 and 2 <= day.month <= 11:
        return f"{_MONTHS[day.month - 2][:3]}–{_MONTHS[day.month][:3]} {day.year}"
    if draw < 0.11 and day.day < 26:
        return f"{day.day}-{day.day + 2} {_MONTHS[day.month - 1]} {day.year}"
    if draw < 0.12 and day.year < 2000:
        return f"{day.year // 10 * 10}s"
    return f"{day.day} {_MONTHS[day.month - 1][:3]} {day.year}" if draw < 0.5 else day_first(day)


def _vastrey_row(authority: dict[str, str]) -> Callable[..., Row]:
    def to_row(note: tuple, generator: np.random.Generator) -> Row:  # type: ignore[type-arg]
        wide = note.side > 100
        label = f"{note.name} {authority[note.name]}" if note.name in authority else note.name
        stage = "" if not note.stage else note.stage
        return {
            "id": f"v{note.Index}",
            "species_name": label,
            "latitude": f"{note.latitude:.6f}",
            "longitude": f"{note.longitude:.6f}",
            "accuracy_m": round(note.side / 2**0.5) if wide else int(generator.choice([4, 6, 10, 25])),
            "location": note.place,
            "observed_on": {"day": str(note.date), "month": f"{note.date:%Y-%m}", "year": f"{note.date:%Y}"}[
                note.date_kind
            ],
            "time": note.clock,
            "observer": people_of(note.people)[0].name,
            "count": note.quantity or "",
            "life_stage": stage,
            "sex": note.sex,
            "photo": "yes" if note.evidence == "photograph" else "",
        }

    return to_row
