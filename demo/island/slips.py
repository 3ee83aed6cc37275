"""Slips of the pen: each takes a cell as it should be and gives what somebody wrote instead; nothing when it cannot."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from shapely import contains_xy
from shapely.geometry import MultiPolygon

from island.sheets import Cell, Row, day_first

_STRANGERS = (
    "beetle indet.",
    "Tharnsey stripy thing",
    "not sure, brown one",
    "Arthropoda",
    "Carabus violaceus",
    "snail (garden)",
)


@dataclass(frozen=True)
class Slip:
    """One kind of mistake.

    ``role`` is the column it happens in; ``seen`` says what it takes to notice it: ``cell`` the row alone,
    ``context`` the boundary, the places or the rest of the file, ``note`` readable but worth a remark.
    """

    kind: str
    role: str
    seen: str
    make: Callable[[Row, str, np.random.Generator], Cell | None]


@dataclass(frozen=True)
class Surroundings:
    """What a slip has to know: every name there is and where the land lies."""

    names: frozenset[str]
    boundary: MultiPolygon


def _text(row: Row, column: str) -> str:
    value = row[column]
    return day_first(value) if isinstance(value, date) else str(value)


def text_to_day(value: Cell) -> date | None:
    """The day a cell means, when it means one and is written in figures."""
    if isinstance(value, date):
        return value
    text = str(value)
    numbers = [int(part) for part in re.findall(r"\d+", text)]
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        return date(*numbers)
    if re.fullmatch(r"\d\d[/.]\d\d[/.]\d{4}", text):
        return date(numbers[2], numbers[1], numbers[0])
    return None


def _day(row: Row, column: str) -> date | None:
    return text_to_day(row[column])


def _like(row: Row, column: str, day: int, month: int, year: int) -> str:
    """A day that may not exist, in the way the column writes days."""
    if re.match(r"\d{4}-", _text(row, column)):
        return f"{year:04d}-{month:02d}-{day:02d}"
    mark = "." if "." in _text(row, column) else "/"
    return f"{day:02d}{mark}{month:02d}{mark}{year:04d}"


def make_slips(around: Surroundings) -> dict[str, Slip]:
    """All kinds of slips by their name."""
    slips = [
        *_name_slips(around),
        *_reference_slips(around),
        *_date_slips(),
        *_coordinate_slips(),
        *_other_slips(),
    ]
    return {slip.kind: slip for slip in slips}


def _name_slips(around: Surroundings) -> list[Slip]:
    def misspelt(row: Row, column: str, generator: np.random.Generator) -> str | None:
        words = _text(row, column).split(" ")
        if len(words) < 2 or len(words[1]) < 6 or not words[1].isalpha():
            return None
        at = 1 + int(generator.integers(len(words[1]) - 3))
        word = words[1]
        wrong = (
            word[:at] + word[at + 1] + word[at] + word[at + 2 :],
            word[:at] + word[at + 1 :],
            word[:at] + word[at] + word[at:],
        )[int(generator.integers(3))]
        changed = " ".join([words[0], wrong, *words[2:]])
        return None if wrong == word or " ".join(changed.split(" ")[:2]) in around.names else changed

    def abbreviated(row: Row, column: str, generator: np.random.Generator) -> str | None:
        genus, _, rest = _text(row, column).partition(" ")
        return f"{genus[0]}. {rest}" if rest and rest != "sp." else None

    def uncertain(row: Row, column: str, generator: np.random.Generator) -> str | None:
        genus, _, rest = _text(row, column).partition(" ")
        return (
            None
            if rest in ("", "sp.")
            else (f"{genus} cf. {rest}", f"{genus} {rest}?", f"? {genus} {rest}")[int(generator.integers(3))]
        )

    return [
        Slip("name misspelt", "species", "cell", misspelt),
        Slip("name abbreviated", "species", "cell", abbreviated),
        Slip("name uncertain", "species", "cell", uncertain),
        Slip(
            "name unknown",
            "species",
            "cell",
            lambda row, column, generator: str(generator.choice(_STRANGERS)),
        ),
        Slip("name missing", "species", "cell", lambda row, column, generator: ""),
    ]


def _reference_slips(around: Surroundings) -> list[Slip]:
    def bare(row: Row, column: str) -> str:
        return _text(row, column).replace(" ", "").upper()

    def whole(row: Row, column: str, least: int) -> str | None:
        text = bare(row, column)
        return text if text[2:].isdigit() and len(text) - 2 >= least else None

    def odd_digits(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 4)
        if text is None:
            return None
        at = 2 + int(generator.integers(len(text) - 2))
        return text[:at] + text[at + 1 :]

    def letter_i(row: Row, column: str, generator: np.random.Generator) -> str:
        return "OI" + bare(row, column)[2:]

    def tetrad_o(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 4)
        half = (len(text) - 2) // 2 if text else 0
        return f"{text[:2]}{text[2]}{text[2 + half]}O" if text else None

    def letter_after_monad(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 4)
        return f"{text}{'PQTV'[int(generator.integers(4))]}" if text and len(text) == 6 else None

    # All of them at sea: a mistake, too, must not pass for a record of a real place.
    def far_letters(row: Row, column: str, generator: np.random.Generator) -> str:
        return ("OA", "OG", "OC", "JW")[int(generator.integers(4))] + bare(row, column)[2:]

    def moved(text: str) -> tuple[float, float, int]:
        half = (len(text) - 2) // 2
        side = 10 ** (5 - half)
        return (
            {"OQ": 500_000, "OR": 600_000}[text[:2]] + int(text[2 : 2 + half]) * side,
            600_000 + int(text[2 + half :]) * side,
            side,
        )

    def in_the_sea(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 4)
        if text is None:
            return None
        half = (len(text) - 2) // 2
        changed = text[:2] + text[2 + half :] + text[2 : 2 + half]
        east, north, side = moved(changed)
        corners = np.array(
            [(east + x * side, north + y * side) for x in (-1, 0, 1, 2) for y in (-1, 0, 1, 2)]
        )
        on_land = contains_xy(around.boundary.buffer(1500), corners[:, 0], corners[:, 1]).any()
        return None if on_land or changed == text else changed

    def exchanged(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 4)
        half = (len(text) - 2) // 2 if text else 0
        return (
            None
            if text is None or text[2 : 2 + half] == text[2 + half :]
            else text[:2] + text[2 + half :] + text[2 : 2 + half]
        )

    def other_letters(row: Row, column: str, generator: np.random.Generator) -> str:
        text = bare(row, column)
        return ("OQ" if text[:2] == "OR" else "OR") + text[2:]

    def two_digits(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 6)
        half = (len(text) - 2) // 2 if text else 0
        at = 2 + half * int(generator.integers(2))
        return (
            None
            if text is None or text[at] == text[at + 1]
            else text[:at] + text[at + 1] + text[at] + text[at + 2 :]
        )

    def leading_digit(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = whole(row, column, 4)
        if text is None:
            return None
        at = 2 + (len(text) - 2) // 2 * int(generator.integers(2))
        digit = str((int(text[at]) + int(generator.integers(2, 9))) % 10)
        return text[:at] + digit + text[at + 1 :]

    return [
        Slip("reference with an odd number of digits", "reference", "cell", odd_digits),
        Slip("reference with letters that cannot be", "reference", "cell", letter_i),
        Slip("tetrad letter that cannot be", "reference", "cell", tetrad_o),
        Slip("tetrad letter on the wrong length", "reference", "cell", letter_after_monad),
        Slip("reference missing", "reference", "cell", lambda row, column, generator: ""),
        Slip("letters of a square far away", "reference", "context", far_letters),
        Slip("reference in the sea", "reference", "context", in_the_sea),
        Slip("easting and northing exchanged", "reference", "odd", exchanged),
        Slip("wrong letters", "reference", "odd", other_letters),
        Slip("two digits exchanged", "reference", "odd", two_digits),
        Slip("wrong leading digit", "reference", "odd", leading_digit),
    ]


def _date_slips() -> list[Slip]:
    def impossible(row: Row, column: str, generator: np.random.Generator) -> str | None:
        day = _day(row, column)
        wrong = ((31, 4), (31, 6), (30, 2), (31, 9), (32, 5))[int(generator.integers(5))]
        return _like(row, column, *wrong, day.year) if day else None

    def month_first(row: Row, column: str, generator: np.random.Generator) -> str | None:
        day = _day(row, column)
        return _like(row, column, day.month, day.day, day.year) if day and day.day > 12 else None

    def future(row: Row, column: str, generator: np.random.Generator) -> str | None:
        day = _day(row, column)
        year = day.year + int(generator.integers(3, 7)) * 10 if day else 0
        return (
            _like(row, column, min(day.day, 28), day.month, year + 10 * (year < 2036))
            if day and day.year >= 2000
            else None
        )

    def too_early(row: Row, column: str, generator: np.random.Generator) -> str | None:
        day = _day(row, column)
        return _like(row, column, min(day.day, 28), day.month, day.year - 1000) if day else None

    def two_figures(row: Row, column: str, generator: np.random.Generator) -> str | None:
        day = _day(row, column)
        return f"{day.day}/{day.month}/{day.year % 100:02d}" if day else None

    def end_first(row: Row, column: str, generator: np.random.Generator) -> str | None:
        day = _day(row, column)
        return (
            f"{day_first(day)} - {day_first(day - timedelta(days=int(generator.integers(2, 20))))}"
            if day
            else None
        )

    def shifted(
        change: Callable[[date, np.random.Generator], date | None],
    ) -> Callable[[Row, str, np.random.Generator], Cell | None]:
        def make(row: Row, column: str, generator: np.random.Generator) -> Cell | None:
            day = _day(row, column)
            new = change(day, generator) if day and day.day < 29 else None
            return (
                None
                if new is None or new > date(2026, 10, 31)
                else _like(row, column, new.day, new.month, new.year)
            )

        return make

    return [
        Slip("date that cannot be", "date", "cell", impossible),
        Slip("month before day", "date", "cell", month_first),
        Slip("date in the future", "date", "cell", future),
        Slip("date before 1600", "date", "cell", too_early),
        Slip("year in two figures", "date", "note", two_figures),
        Slip("end before start", "date", "cell", end_first),
        Slip("date missing", "date", "cell", lambda row, column, generator: ""),
        Slip(
            "day and month exchanged",
            "date",
            "odd",
            shifted(
                lambda day, _: (
                    day.replace(day=day.month, month=day.day)
                    if day.day <= 12 and abs(day.day - day.month) > 2
                    else None
                )
            ),
        ),
        Slip(
            "year off by ten", "date", "odd", shifted(lambda day, generator: day.replace(year=day.year - 10))
        ),
        Slip(
            "out of season",
            "date",
            "odd",
            shifted(lambda day, _: day.replace(month=(day.month + 5) % 12 + 1)),
        ),
    ]


def _coordinate_slips() -> list[Slip]:
    def minutes(row: Row, column: str, generator: np.random.Generator) -> str:
        degrees = float(_text(row, column))
        return f"{int(degrees)}.{int(degrees % 1 * 60):02d}"

    def sign(row: Row, column: str, generator: np.random.Generator) -> str | None:
        text = _text(row, column)  # beyond 1.65 degrees the mirrored place may be on a real coast
        return f"-{text}" if float(text) < 1.65 else None

    return [
        Slip(
            "latitude and longitude exchanged",
            "latitude",
            "context",
            lambda row, column, generator: row["longitude"],
        ),
        Slip("sign of the longitude", "longitude", "context", sign),
        Slip("minutes read as decimals", "latitude", "context", minutes),
        Slip(
            "decimal point left out",
            "latitude",
            "cell",
            lambda row, column, generator: _text(row, column).replace(".", ""),
        ),
        Slip("latitude missing", "latitude", "cell", lambda row, column, generator: ""),
        Slip(
            "uncertainty that cannot be",
            "uncertainty",
            "cell",
            lambda row, column, generator: str(generator.choice(["-5", "bad signal"])),
        ),
    ]


def _other_slips() -> list[Slip]:
    return [
        Slip(
            "count that cannot be",
            "count",
            "cell",
            lambda row, column, generator: str(generator.choice(["-4", "1O"])),
        )
    ]
