"""Pieces of dates made whole: what one end of a range leaves out, the century, and a note for every choice made."""

from __future__ import annotations

from datetime import date

from gapmap.records.dates.days import LATEST_YEAR, MONTHS, CannotBeError, day_in_words, serial_to_day
from gapmap.records.dates.pieces import Piece, piece_to_interval
from gapmap.records.verdicts import DOUBT, NOTE

#: Code, severity, words after "The date …", and suggestion.
Note = tuple[str, str, str, str]
Found = tuple[date | None, date | None, str, list[Note]]


def year_and_short(year: int, short: str, pivot: int, today: date) -> Found:
    """2005/06 can be two years or a month; two years, which hold the month too, where they follow each other."""
    number = int(short)
    if len(short) == 2 and number == (year + 1) % 100:
        found = pieces_to_found([Piece(year=year), Piece(year=year + 1)], pivot, today)
        words = f"can be two years or a month, and was read as {year} to {year + 1}"
    else:
        found = pieces_to_found([Piece(year=year, month=number)], pivot, today)
        words = f"was read as {MONTHS[number - 1].capitalize()} {year}"
    return (
        *found[:3],
        [*found[3], ("date unclear", DOUBT, words, "write the month as a word, or both years in full")],
    )


def serial_to_found(plain: str) -> Found:
    day = serial_to_day(float(plain))
    if day.year > LATEST_YEAR:
        raise CannotBeError("date not read", "has a year that cannot be", "a date such as 12 May 1998")
    note = (
        "day number",
        NOTE,
        f"is a spreadsheet's day number and was read as {day_in_words(day)}",
        "if the workbook counts its days from 1904, the day is four years and a day later",
    )
    return day, day, "day", [note]


def completed(start: Piece, end: Piece) -> tuple[Piece, Piece] | None:
    """Both ends of a range with the year, month or century that only one of them states."""
    if start.year is None and end.year is None:
        return None
    if end.year is None:
        return start, _borrowed(end, start)
    if start.year is None:
        begun = _borrowed(start, end)
        if begun.month and end.month and begun.month > end.month and not end.short:
            begun = begun._replace(year=(begun.year or 0) - 1, rolled=True)
        return begun, end
    return start, end


def pieces_to_found(pieces: list[Piece], pivot: int, today: date) -> Found:
    """One or two completed pieces as days, with a note for every choice that was made."""
    notes: list[Note] = []
    intervals = []
    for piece in pieces:
        intervals.append(piece_to_interval(_with_century(piece, pivot, today, notes), today))
        if piece.note:
            notes.append(piece.note)
    first, last = intervals[0].first, intervals[-1].last
    if any(piece.word == "winter" and not piece.winter_said for piece in pieces):
        notes.append(
            (
                "winter of two years",
                NOTE,
                f"was read as {day_in_words(first)} to {day_in_words(last)}",
                "say both years, as in winter 1995/96",
            )
        )
    if any(piece.rolled for piece in pieces):
        notes.append(
            (
                "range across years",
                DOUBT,
                f"was read as {day_in_words(first)} to {day_in_words(last)}",
                "say the year of both months",
            )
        )
    if len(pieces) == 1 or first == last:
        return first, last, intervals[0].kind if len(pieces) == 1 else "day", notes
    kinds = {interval.kind for interval in intervals}
    if kinds <= {"day", "days"}:
        return first, last, "days", notes
    return first, last, "months" if kinds <= {"day", "days", "month", "season"} else "years", notes


def _borrowed(piece: Piece, lender: Piece) -> Piece:
    year = lender.year or 0
    if piece.number is None:
        return piece._replace(year=year, short=lender.short)
    number, digits = piece.number, piece.digits
    if lender.day:
        return piece._replace(year=year, month=lender.month, day=number, short=lender.short)
    if lender.month:
        return piece._replace(year=year, month=number, short=lender.short)
    unit = {1: 10, 2: 100}.get(digits, 1)
    whole = year // unit * unit + number
    if whole < year and unit == 100:
        whole += 100
    return piece._replace(year=whole)


def _with_century(piece: Piece, pivot: int, today: date, notes: list[Note]) -> Piece:
    if not piece.short or piece.year is None or piece.year > 99:
        return piece
    year = piece.year + (2000 if piece.year <= pivot else 1900)
    severity, why = NOTE, f"two-digit years up to {pivot:02d} are taken as 20xx, later ones as 19xx"
    if year > today.year:
        year, severity, why = year - 100, DOUBT, f"{year} is still to come"
    if not any(note[0] == "two-digit year" for note in notes):
        what = "names no century" if piece.span > 1 else "has a two-digit year"
        words = f"{what}, read as {year}{'s' * (piece.span > 1)} ({why})"
        notes.append(("two-digit year", severity, words, "write all four digits of the year"))
    return piece._replace(year=year)
