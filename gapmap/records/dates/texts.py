"""One date as people write it → the closed run of days it can mean.

The rules, in the order they are tried:

* ISO 8601 and its extended profile (levels 0 and 1): days, months, years, times, intervals, ``..`` and
  unknown ends, ``X`` for unknown digits, ``?``, ``~`` and ``%``, seasons 21 to 24, ordinal days and weeks.
* British forms, day first unless the organiser has said otherwise of the file: ``12/5/1998``, ``12.v.1998``,
  ``12th May 1998``, ``May 1998``, ranges.
* Words: seasons, decades, centuries, ``c.``, ``pre-``, ``since``, ``early``, ``mid``, ``late``.
* Day numbers of a spreadsheet (its 1900 date system), from 10000 on.

Stated choices: seasons are the northern ones by whole months (spring is March to May), a winter is called by
the year it begins in; *circa* widens a year by five years, a month by one month and a day by three days to
each side; the 19th century is 1801 to 1900; a two-digit year is placed by a pivot, and a century earlier when
that is yet to come.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from typing import NamedTuple

from gapmap.records.dates.days import (
    CannotBeError,
    Interval,
    day_in_words,
    shifted_month,
    thirds,
)
from gapmap.records.dates.month_first import day_first_again, with_day_first
from gapmap.records.dates.pieces import text_to_piece
from gapmap.records.dates.plain import text_to_plain, without_time, without_weekday
from gapmap.records.dates.wholes import Found, Note, completed, pieces_to_found, serial_to_found, year_and_short
from gapmap.records.verdicts import DOUBT, NOT_A_RECORD, NOTE, Verdict, quoted, worst

#: No record is believed to be older than this.
EARLIEST_YEAR = 1600
_LONGEST = 120

_UNKNOWN = re.compile(
    r"(unknown|unk|undated|no date|not dated|not known|not given|n\.? ?d\.?|n/a|na|none|nil|null|nan|nat"
    r"|\?+|-+|\.+|date unknown|unknown date|xxxx|00[/.-]00[/.-]0000|0000-00-00|/|\.\./\.\.|/\.\.|\.\./)"
)
_CIRCA = re.compile(
    r"^(?:(?:circa|approximately|approx\.?|about|around|probably|prob\.?|ca?\.?|~|\?)\s*)(?=[\d\w])(?!entury)"
)
_CIRCA_WORD = re.compile(r"^c(?=[a-z])")
_BEFORE = re.compile(r"^(?:before|pre|prior to|earlier than|<(?!=))[\s-]*")
_UNTIL = re.compile(r"^(?:until|till|up to|to|by|not after|<=|≤)\s*(?=\w)")
_AFTER = re.compile(r"^(?:after|post|later than|>(?!=))[\s-]*")
_SINCE = re.compile(r"^(?:since|from|not before|>=|≥)\s*(?!.*(?: to | until |\w-|\w/))")
_ONWARDS = re.compile(r"\s*(?:onwards?|or later|or after|and after|(?:-|to)\s*(?:present|now|today|date)|\+|\s-|-)$")
_EARLIER = re.compile(r"\s*(?:or earlier|or before|and before|or older)$")
_PART = re.compile(r"^(early|beginning|start|mid|middle|late|end)\b[\s-]*(?:of )?(?:the )?")
_YEAR_AND_SHORT = re.compile(r"(\d{4})/(0?[1-9]|1[0-2])")
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Reading(NamedTuple):
    """What a text can mean: first and last day (None when open or unknown), kind, what to say about it."""

    first: date | None
    last: date | None
    kind: str
    verdict: Verdict


def text_to_interval(text: str, *, pivot: int, today: date, month_first: bool = False) -> Reading:
    """Read one date as people write it.

    Parameters
    ----------
    text
        Anything.
    pivot
        Two-digit years up to this are 20xx, above it 19xx.
    today
        Days after this are yet to come.
    month_first
        Whether 5/12/1998 is 12 May, as the organiser has said of the file.

    Returns
    -------
    Reading
        Never raises; what cannot be read has kind ``unknown`` and a verdict that says why.

    Examples
    --------
    >>> told = dict(pivot=30, today=date(2026, 6, 1))
    >>> text_to_interval("12/5/1998", **told)[:3]
    (datetime.date(1998, 5, 12), datetime.date(1998, 5, 12), 'day')
    >>> text_to_interval("Jun–Aug 2001", **told)[:3]
    (datetime.date(2001, 6, 1), datetime.date(2001, 8, 31), 'months')
    >>> text_to_interval("pre-1960", **told)[:3]
    (None, datetime.date(1959, 12, 31), 'before')
    >>> text_to_interval("5/13/1998", **told).verdict.suggestion
    '13 May 1998, if the month was written first'
    >>> text_to_interval("", **told).kind
    'unknown'
    """
    plain = text_to_plain(text)
    if not plain or _UNKNOWN.fullmatch(plain):
        return Reading(None, None, "unknown", _missing(text))
    try:
        if len(plain) > _LONGEST:
            raise CannotBeError("date not read", "is too long to be a date")
        undated, weekday = without_weekday(without_time(plain))
        found = _read(with_day_first(undated) if month_first else undated, pivot, today, 0)
        if found is None or (found[0] is None and found[1] is None):
            raise CannotBeError(
                "date not read", "could not be read as a date", "a date such as 12 May 1998, May 1998 or 1998"
            )
        first, last, kind, notes = found
        verdicts = [
            Verdict(code, severity, f"The date {quoted(text)} {words}.", hint) for code, severity, words, hint in notes
        ]
        if first is not None and first > today:
            raise CannotBeError("future date", "is still to come", "the day or year that was meant")
        if (first or last or today).year < EARLIEST_YEAR:
            raise CannotBeError(
                "date before 1600",
                f"is before {EARLIEST_YEAR}, earlier than any record",
                "the year that was meant",
            )
        if first is not None and last is not None and last < first:
            raise CannotBeError("date ends first", "ends before it starts", "the two dates the other way round")
    except CannotBeError as fault:
        error = day_first_again(fault) if month_first else fault
        verdict = Verdict(error.code, NOT_A_RECORD, f"The date {quoted(text)} {error.words}.", error.suggestion)
        return Reading(None, None, "unknown", verdict)
    if weekday and kind == "day" and first is not None and _WEEKDAYS[first.weekday()] != weekday:
        name = first.strftime("%A")
        verdicts.append(
            Verdict(
                "weekday differs",
                DOUBT,
                f"The date {quoted(text)} names another day of the week: {day_in_words(first)} was a {name}.",
                "the day or the year may be wrong",
            )
        )
    return Reading(first, last, kind, worst(verdicts))


def _missing(text: str) -> Verdict:
    if not str(text).strip():
        return Verdict("no date", NOTE, "The record has no date.", "the date, or at least the year")
    return Verdict(
        "no date",
        NOTE,
        f"The date is given as {quoted(text)}, which tells no day or year.",
        "the date, or at least the year",
    )


def _read(plain: str, pivot: int, today: date, depth: int) -> Found | None:
    """First and last day, kind and notes; None when nothing fits."""
    if depth > 3 or not plain:
        return None
    for reader in (_open_iso, _single, _qualified, _range):
        found = reader(plain, pivot, today, depth)
        if found is not None:
            return found
    return None


def _single(plain: str, pivot: int, today: date, depth: int) -> Found | None:
    if re.fullmatch(r"\d{5,7}(\.\d+)?", plain) and not re.fullmatch(r"\d{6}", plain):
        return serial_to_found(plain)
    if match := _YEAR_AND_SHORT.fullmatch(plain):
        return year_and_short(int(match[1]), match[2], pivot, today)
    piece = text_to_piece(plain)
    if piece is None:
        return None
    if piece.year is None and piece.digits == 2 and depth == 0:
        piece = piece._replace(year=piece.number, short=True)
    if piece.year is None:
        if depth == 0 and (piece.month or piece.word):
            raise CannotBeError("no year", "has no year", "the year")
        return None
    return pieces_to_found([piece], pivot, today)


def _open_iso(plain: str, pivot: int, today: date, depth: int) -> Found | None:
    """Intervals with an open or unknown end: ``1985/..``, ``../1985``, ``1985/``, ``/1985``."""
    if re.fullmatch(r".*\w.*/\s*(\.\.|open|now|present|unknown)?", plain) and plain.count("/") == 1:
        start = _read(plain.split("/")[0].strip(), pivot, today, depth + 1)
        return (start[0], None, "after", start[3]) if start else None
    if re.fullmatch(r"(\.\.|open|unknown)?\s*/[^/]*\w", plain):
        end = _read(plain.split("/")[1].strip(), pivot, today, depth + 1)
        return (None, end[1], "before", end[3]) if end else None
    return None


def _qualified(plain: str, pivot: int, today: date, depth: int) -> Found | None:
    """Dates with a word before or after them: circa, before, after, early, late."""

    def inner(rest: str) -> Found | None:
        return _read(rest.strip(" -"), pivot, today, depth + 1)

    circa = _CIRCA.sub("", plain, count=1).strip()
    if circa == plain:
        circa = re.sub(r"\s*(?:[?~%]+|\(?(?:approx\.?|circa)\)?)$", "", plain)
    if circa != plain and (found := inner(circa)):
        return _widened(found)
    if (rest := _BEFORE.sub("", plain, count=1)) != plain and (found := inner(rest)) and found[0]:
        return None, found[0] - timedelta(days=1), "before", found[3]
    if (rest := _AFTER.sub("", plain, count=1)) != plain and (found := inner(rest)) and found[1]:
        return found[1] + timedelta(days=1), None, "after", found[3]
    for pattern in (_UNTIL, _EARLIER):
        if (rest := pattern.sub("", plain, count=1)) != plain and (found := inner(rest)):
            return None, found[1], "before", found[3]
    for pattern in (_SINCE, _ONWARDS):
        if (rest := pattern.sub("", plain, count=1)) != plain and (found := inner(rest)):
            return found[0], None, "after", found[3]
    part = _PART.match(plain)
    if part and (found := inner(plain[part.end() :])) and found[0] and found[1]:
        which = {"early": 0, "beginning": 0, "start": 0, "mid": 1, "middle": 1, "late": 2, "end": 2}[part[1]]
        return (*thirds(Interval(found[0], found[1], found[2]), which), found[3])
    return None


def _widened(found: Found) -> Found:
    first, last, kind, notes = found
    if kind in ("day", "days"):
        first, last = first and first - timedelta(days=3), last and last + timedelta(days=3)
    elif kind in ("month", "months", "season"):
        first = first and shifted_month(first, -1)
        last = last and shifted_month(last + timedelta(days=1), 1) - timedelta(days=1)
    elif kind in ("year", "years"):
        first, last = first and first.replace(year=first.year - 5), last and last.replace(year=last.year + 5)
    if first and last:
        notes = [*notes, _approximate(first, last)]
    return first, last, "circa" if kind not in ("before", "after") else kind, notes


def _approximate(first: date, last: date) -> Note:
    return (
        "approximate date",
        NOTE,
        f"is approximate and was read as {day_in_words(first)} to {day_in_words(last)}",
        "",
    )


def _range(plain: str, pivot: int, today: date, depth: int) -> Found | None:
    """Two dates with something between them; what one lacks it takes from the other."""
    text = re.sub(r"^(between|from)\s+", "", plain)
    bare = (r"\s*-\s*", r"\s*/\s*") if text.count("/") > 1 else (r"\s*/\s*", r"\s*-\s*")
    fault: CannotBeError | None = None
    for mark in (
        r"\s+(?:to|until|till|through|thru)\s+",
        r"\s+-\s+",
        *bare,
        r"\s*(?:&|\+|\band\b|\bor\b)\s*",
    ):
        for match in re.finditer(mark, text):
            left, right = text[: match.start()].strip(), text[match.end() :].strip()
            try:
                found = _joined(left, right, pivot, today, depth) if left and right else None
            except CannotBeError as error:
                fault, found = fault or error, None
            if found is not None:
                return found
    if fault is not None:
        raise fault
    return None


def _joined(left: str, right: str, pivot: int, today: date, depth: int) -> Found | None:
    start, end = text_to_piece(left), text_to_piece(right)
    if start is not None and end is not None:
        ends = completed(start, end)
        return pieces_to_found(list(ends), pivot, today) if ends else None
    earlier, later = _read(left, pivot, today, depth + 1), _read(right, pivot, today, depth + 1)
    if earlier is None or later is None or earlier[2] in ("before", "after") or later[2] in ("before", "after"):
        return None
    notes = [note for note in (*earlier[3], *later[3]) if note[0] != "approximate date"]
    if "circa" in (earlier[2], later[2]) and earlier[0] and later[1]:
        return earlier[0], later[1], "circa", [*notes, _approximate(earlier[0], later[1])]
    return earlier[0], later[1], "years", notes
