"""The pieces dates are made of: years, months, days, seasons, decades, and the days they stand for."""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date, timedelta
from typing import NamedTuple

from gapmap.records.dates.days import LATEST_YEAR, MONTHS, CannotBeError, Interval, day_in_words

_ROMAN = {
    "i": 1,
    "ii": 2,
    "iii": 3,
    "iv": 4,
    "v": 5,
    "vi": 6,
    "vii": 7,
    "viii": 8,
    "ix": 9,
    "x": 10,
    "xi": 11,
    "xii": 12,
}
_NAMED = {short: number for number, name in enumerate(MONTHS, 1) for short in (name, name[:3], f"{name[:3]}.")} | {
    "sept": 9,
    "sept.": 9,
}
_SEASONS = {"spring": (3, 5), "summer": (6, 8), "autumn": (9, 11), "fall": (9, 11), "winter": (12, 2)}
_SEASON_NUMBERS = {21: "spring", 22: "summer", 23: "autumn", 24: "winter"}
_TENS = {
    "twenties": 20,
    "thirties": 30,
    "forties": 40,
    "fifties": 50,
    "sixties": 60,
    "seventies": 70,
    "eighties": 80,
    "nineties": 90,
}
_CENTURIES = {
    word: number
    for number, word in enumerate(
        ("sixteenth", "seventeenth", "eighteenth", "nineteenth", "twentieth", "twenty-first"), 16
    )
}

_MONTH = r"(?P<name>[a-z]{3,9}\.?)"
_ROMAN_MONTH = r"(?P<roman>[ivx]{1,4})"
_YEAR = r"(?P<year>\d{4}|'?\d{2})"
_LONG_YEAR = r"(?P<year>\d{4})"

_FORMS = [
    re.compile(form)
    for form in (
        rf"{_LONG_YEAR}(?:\.0+)?",  # 1998, and 1998.0 from a spreadsheet
        rf"{_LONG_YEAR}\s?([-/.])\s?(?P<month>\d{{1,2}})\s?\2\s?(?P<day>\d{{1,2}}|xx)",  # 1998-05-12
        rf"{_LONG_YEAR}-(?P<month>\d{{2}}|xx)",  # 1998-05, 2001-21
        rf"{_LONG_YEAR}[-/](?P<month>xx|\d{{2}})-(?P<day>xx)",  # 1985-04-XX
        r"(?P<year>\d{4})-(?P<month>xx)-(?P<day>\d{2}|xx)",
        rf"(?P<day>\d{{1,2}})\s?([-/.]|\s)\s?(?P<month>\d{{1,2}})\s?\2\s?{_YEAR}",  # 12/5/1998
        r"(?P<month>\d{1,2})\s?[-/.]\s?(?P<year>\d{4})",  # 5/1998
        rf"(?P<day>\d{{1,2}})[\s./-]*{_ROMAN_MONTH}[\s./-]+{_YEAR}",  # 12.v.1998
        rf"{_ROMAN_MONTH}[\s./-]+{_LONG_YEAR}",  # v.1998
        rf"(?P<day>\d{{1,2}})[\s./-]*(?:of )?{_MONTH}[\s./-]*{_YEAR}",  # 12 May 1998
        rf"{_MONTH}[\s./-]*(?:of )?{_LONG_YEAR}",  # May 1998
        rf"{_MONTH}[\s/-]*(?P<year>'\d{{2}})",  # May '98
        r"(?P<name>[a-z]{3,9})[-/. ](?P<year>\d{2})",  # May-98
        r"(?P<month>0?[1-9]|1[0-2])[-/](?P<year>3[2-9]|[4-9]\d)",  # 05/98, which no day of a month can be
        rf"{_MONTH}[\s./-]*(?P<day>\d{{1,2}})[\s.]+{_LONG_YEAR}",  # May 12 1998
        rf"{_LONG_YEAR}[\s./-]*{_MONTH}(?:[\s./-]*(?P<day>\d{{1,2}}))?",  # 1998 May 12
        r"(?P<year>\d{4})(?P<month>\d{2})(?P<day>\d{2})",  # 19980512
        rf"(?P<day>\d{{1,2}})[\s./-]*{_MONTH}",  # 12 May (of a range)
        r"(?P<day>\d{1,2})[/.-](?P<month>\d{1,2})",  # 12/5 (of a range)
        rf"{_MONTH}",  # May (of a range)
    )
]
_SEASON = re.compile(
    r"(?P<word>spring|summer|autumn|fall|winter)"
    r"(?:[\s/-]*(?:of )?(?P<year>\d{4}|'\d{2})(?:\s?[/-]\s?(?P<next>\d{1,4}))?)?"
)
_YEAR_SEASON = re.compile(r"(?P<year>\d{4})[\s/-]+(?P<word>spring|summer|autumn|fall|winter)")
_ORDINAL_DAY = re.compile(r"(?P<year>\d{4})-(?P<day>\d{3})")
_WEEK = re.compile(r"(?P<year>\d{4})-?w(?P<week>\d{2})(?:-?(?P<day>[1-7]))?")
_DECADE = re.compile(r"(?:(?P<year>\d{3})(?:0\s?'?s|x)|'?(?P<short>\d)0\s?'?s)")
_CENTURY = re.compile(
    r"(?:(?P<number>\d{1,2})(?:st|nd|rd|th)?\s*-?(?:century|cent\.?|c\.?)"
    r"|c\.?(?P<other>1[6-9]|2[01])|(?P<xx>\d{2})xx|(?P<s>1[6-9]|20)00\s?'?s)"
)
_EIGHT = re.compile(r"(\d{2})(\d{2})((?:1[6-9]|20)\d{2})")
_SIX = re.compile(r"(\d{2})(\d{2})(\d{2})")


class Piece(NamedTuple):
    """What one end of a date states; None or 0 where it states nothing."""

    year: int | None = None
    month: int = 0
    day: int = 0
    word: str = ""
    span: int = 1
    short: bool = False
    number: int | None = None
    digits: int = 0
    winter_said: bool = False
    rolled: bool = False
    note: tuple[str, str, str, str] | None = None
    whole: Interval | None = None
    year_first: bool = False


def text_to_piece(text: str) -> Piece | None:
    """The parts of one date that a text states, or None when it is no single date.

    Examples
    --------
    >>> text_to_piece("12.v.1998")[:3]
    (1998, 5, 12)
    >>> text_to_piece("jun")[:2]
    (None, 6)
    >>> text_to_piece("gorse") is None
    True
    """
    if re.fullmatch(r"'?\d{1,2}", text):
        number = text.lstrip("'")
        if len(text) > 2:
            return Piece(year=int(number), short=True)
        return Piece(number=int(number), digits=len(number))
    if run_together := _eight_digits(text):
        return run_together
    for form in _FORMS:
        match = form.fullmatch(text)
        piece = _match_to_piece(match.groupdict()) if match else None
        if piece is not None:
            return piece
    return _season(text) or _decade_or_century(text) or _ordinal_or_week(text) or _six_digits(text)


def _match_to_piece(found: dict[str, str | None]) -> Piece | None:
    month = 0
    if found.get("name"):
        month = _NAMED.get(found["name"] or "", 0)
        if not month:
            return None
    elif found.get("roman"):
        month = _ROMAN.get(found["roman"] or "", 0)
        if not month:
            return None
    elif (found.get("month") or "xx") != "xx":
        month = int(found["month"] or 0)
    text = found.get("year")
    year = int(text.lstrip("'")) if text else None
    short = text is not None and len(text.lstrip("'")) == 2
    day = 0 if (found.get("day") or "xx") == "xx" else int(found["day"] or 0)
    if found.get("month") and not found.get("day") and year is not None and not short:
        if month in _SEASON_NUMBERS and not day:
            return Piece(year=year, word=_SEASON_NUMBERS[month])
        if not 1 <= month <= 12 and (month or found["month"] == "00"):
            return None
    if found.get("month") == "xx":
        day = 0
    piece = Piece(year=year, month=month, day=day, short=short, year_first=next(iter(found)) == "year")
    return _checked(piece, stated_zero=found.get("day") in ("0", "00"), zero_month=found.get("month") in ("0", "00"))


def _checked(piece: Piece, *, stated_zero: bool, zero_month: bool) -> Piece:
    if (stated_zero or zero_month) and piece.year is not None:
        less = ("day or month 00", "note", "has a 00, taken to mean that it is not known", "")
        return piece._replace(day=0, month=0 if zero_month else piece.month, note=less)
    return piece


def _season(text: str) -> Piece | None:
    match = _SEASON.fullmatch(text) or _YEAR_SEASON.fullmatch(text)
    if match is None:
        return None
    found = match.groupdict()
    if not found["year"]:
        return Piece(word=found["word"] or "")
    year, following = int(found["year"].lstrip("'")), found.get("next")
    if following and (found["word"] != "winter" or (year + 1) % 10 ** len(following) != int(following)):
        return None
    return Piece(year=year, word=found["word"] or "", short=len(found["year"]) < 4, winter_said=bool(following))


def _decade_or_century(text: str) -> Piece | None:
    bare = re.sub(r"^the ", "", text)
    if bare in _TENS:
        return Piece(year=_TENS[bare], span=10, short=True)
    match = _CENTURY.fullmatch(bare)
    if match:
        if match["xx"] or match["s"]:
            return Piece(year=int(match["xx"] or match["s"]) * 100, span=100)
        number = int(match["number"] or match["other"])
        return Piece(year=number * 100 - 99, span=100) if 1 <= number <= 99 else None
    word = re.fullmatch(r"([a-z-]+) century", bare)
    if word and word[1] in _CENTURIES:
        return Piece(year=_CENTURIES[word[1]] * 100 - 99, span=100)
    match = _DECADE.fullmatch(bare)
    if match and match["year"]:
        return Piece(year=int(match["year"]) * 10, span=10)
    return Piece(year=int(match["short"]) * 10, span=10, short=True) if match else None


def _ordinal_or_week(text: str) -> Piece | None:
    match = _ORDINAL_DAY.fullmatch(text)
    if match and int(match["year"]) and 1 <= int(match["day"]) <= 366:
        day = date(int(match["year"]), 1, 1) + timedelta(days=int(match["day"]) - 1)
        return Piece(day.year, day.month, day.day) if day.year == int(match["year"]) else None
    match = _WEEK.fullmatch(text)
    if match is None:
        return None
    try:
        first = date.fromisocalendar(int(match["year"]), int(match["week"]), int(match["day"] or 1))
        last = first if match["day"] else date.fromisocalendar(int(match["year"]), int(match["week"]), 7)
    except ValueError:
        return None
    return Piece(year=first.year, whole=Interval(first, last, "day" if match["day"] else "days"))


def _eight_digits(text: str) -> Piece | None:
    """12051998 is a day; read year first it has a month of 16 or more, so the two are never mistaken."""
    match = _EIGHT.fullmatch(text)
    if match is None:
        return None
    day, month, year = (int(part) for part in match.groups())
    if not (1 <= day <= 31 and 1 <= month <= 12):
        return None
    words = f"was read day first, as {day}/{month}/{year}"
    note = ("date run together", "doubt", words, "write the day, month and year apart")
    return Piece(year=year, month=month, day=day, note=note)


def _six_digits(text: str) -> Piece | None:
    """120598 is a day, 199805 a month; where both would do, nobody can say."""
    match = _SIX.fullmatch(text)
    if match is None:
        return None
    day, month, year = (int(part) for part in match.groups())
    is_day = 1 <= day <= 31 and 1 <= month <= 12
    is_month = 16 <= day <= 20 and 1 <= year <= 12
    if is_day and is_month:
        raise CannotBeError(
            "date unclear", "can be a day or a month", f"{day}/{month}/{year:02d} or {text[:4]}-{text[4:]}"
        )
    if is_month:
        return Piece(year=int(text[:4]), month=year)
    note = (
        "date run together",
        "doubt",
        f"was read day first, as {day}/{month}/{year:02d}",
        "write the day, month and year apart",
    )
    return Piece(year=year, month=month, day=day, short=True, note=note) if is_day else None


def piece_to_interval(piece: Piece, today: date) -> Interval:
    """The days that a completed piece stands for.

    Raises
    ------
    CannotBeError
        There is no such day, month or year.

    Examples
    --------
    >>> piece_to_interval(Piece(year=1995, word="winter"), date(2026, 6, 1)).last
    datetime.date(1996, 2, 29)
    """
    year = piece.year or 0
    if not 100 <= year <= LATEST_YEAR:
        raise CannotBeError("date not read", "has a year that cannot be", "the year that was meant")
    if piece.whole:
        return piece.whole
    if piece.word:
        begin, end = _SEASONS[piece.word]
        last_year = year + (end < begin)
        return Interval(date(year, begin, 1), date(last_year, end, monthrange(last_year, end)[1]), "season")
    if piece.span > 1:
        return Interval(
            date(year, 1, 1), date(year + piece.span - 1, 12, 31), "decade" if piece.span == 10 else "century"
        )
    if not piece.month:
        return Interval(date(year, 1, 1), date(year, 12, 31), "year")
    if piece.month > 12:
        raise _no_such_month(piece)
    length = monthrange(year, piece.month)[1]
    if not piece.day:
        return Interval(date(year, piece.month, 1), date(year, piece.month, length), "month")
    if piece.day > length:
        raise _no_such_day(piece, length, today)
    day = date(year, piece.month, piece.day)
    return Interval(day, day, "day")


def _no_such_month(piece: Piece) -> CannotBeError:
    if 1 <= piece.day <= 12 and piece.month <= monthrange(piece.year or 1, piece.day)[1]:
        meant = f"{day_in_words(date(piece.year or 1, piece.day, piece.month))}, if the month was written first"
        if piece.year_first:
            return CannotBeError(
                "month before day",
                f"has no month {piece.month}",
                meant.replace("month was written first", "day was written before the month"),
            )
        return CannotBeError("month before day", f"has no month {piece.month} when the day comes first", meant)
    return CannotBeError("impossible date", f"has no month {piece.month}: there are twelve", "the month that was meant")


def _no_such_day(piece: Piece, length: int, today: date) -> CannotBeError:
    month, year = MONTHS[piece.month - 1].capitalize(), piece.year or 0
    if piece.day > 31:
        return CannotBeError("impossible date", f"cannot be: no month has a day {piece.day}")
    if piece.month == 2 and piece.day == 29:
        words = f"cannot be: {year} was no leap year" if year < today.year else f"cannot be: {year} is no leap year"
        if year == 1900:
            words += ", although spreadsheets show that day"
        return CannotBeError("impossible date", words, f"28 February or 1 March {year}")
    return CannotBeError(
        "impossible date",
        f"cannot be: {month} {year} has {length} days",
        f"{length} {month} {year}, or another month",
    )
