"""Whole columns of dates → closed runs of days: plain days and years at once, all else one by one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial

import numpy as np
import pandas as pd
from scipy.stats import binom

from gapmap.records.dates.days import MONTHS
from gapmap.records.dates.texts import text_to_interval
from gapmap.records.dates.whole_columns import plain_days
from gapmap.records.verdicts import DOUBT, NOT_A_RECORD, NOTE, VERDICT_COLUMNS, Verdict, quoted, worst

#: Columns of a frame of intervals, before the verdict's.
INTERVAL_COLUMNS = ("date_from", "date_to", "date_kind")


def texts_to_intervals(texts: Sequence[str], *, pivot: int, today: date, month_first: bool = False) -> pd.DataFrame:
    """Read dates as people write them; meant for the distinct values of a column.

    Parameters
    ----------
    texts
        Any texts.
    pivot
        Two-digit years up to this are 20xx, above it 19xx.
    today
        Days after this are yet to come.
    month_first
        Whether 5/12/1998 is 12 May, as the organiser has said of the file.

    Returns
    -------
    DataFrame
        One row a text, in their order: ``date_from`` and ``date_to`` (datetime64[s], empty when open or
        unknown), ``date_kind`` as in columns.RECORDS, and the verdict ``code``, ``severity``, ``sentence``,
        ``suggestion`` (all empty when there is nothing to say). Never raises.

    Examples
    --------
    >>> found = texts_to_intervals(["1998-05-12", "1970s", ""], pivot=30, today=date(2026, 6, 1))
    >>> found.date_kind.tolist()
    ['day', 'decade', 'unknown']
    >>> found.code.tolist()
    ['', '', 'no date']
    >>> texts_to_intervals([], pivot=30, today=date(2026, 6, 1)).empty
    True
    """
    column = ["" if text is None or text != text else str(text) for text in texts]
    first, last, plain = plain_days(column, today, month_first=month_first)
    kinds = plain.astype(object)
    odd = np.flatnonzero(plain == "")
    known = {
        text: text_to_interval(text, pivot=pivot, today=today, month_first=month_first)
        for text in dict.fromkeys(column[row] for row in odd)
    }
    readings = [known[column[row]] for row in odd]
    first[odd] = np.array([reading.first for reading in readings], dtype="datetime64[s]")
    last[odd] = np.array([reading.last for reading in readings], dtype="datetime64[s]")
    kinds[odd] = [reading.kind for reading in readings]
    found = pd.DataFrame({"date_from": first, "date_to": last, "date_kind": pd.Series(kinds, dtype="str")})
    for place, name in enumerate(VERDICT_COLUMNS):
        words = np.full(len(column), "", dtype=object)
        words[odd] = [reading.verdict[place] for reading in readings]
        found[name] = pd.Series(words, dtype="str") if readings else pd.Series("", index=found.index, dtype="str")
    return found


def january_trap(days: int, january_firsts: int, *, years: int = 0) -> str:
    """Judge whether a file writes a year it knows no day of as 1 January.

    The rule, a binomial one: were all days alike, a list would fall on 1 January with chance 1/365.25. It is
    a trap when there are at least five such lists, when so many or more would come by chance less than once
    in a million files, and when they are spread over at least three years or are more than half of all lists.
    One well-attended New Year's Day outing is therefore no trap.

    Parameters
    ----------
    days
        Lists (or records) whose date is known to the day, those on 1 January among them.
    january_firsts
        Lists (or records) on 1 January.
    years
        How many years the 1 Januaries fall in; 0 when unknown, which counts as many.

    Returns
    -------
    str
        What to say about the whole file; empty when it is no trap.

    Examples
    --------
    >>> january_trap(1000, 300, years=20)
    '300 of 1000 lists known to the day fall on 1 January, where about 3 would by chance; those are taken to
    mean ...'
    >>> january_trap(1000, 4), january_trap(2000, 100, years=1)
    ('', '')
    """
    daily = 1 / 365.25
    if january_firsts < 5 or float(binom.sf(january_firsts - 1, days, daily)) >= 1e-6:
        return ""
    if 0 < years < 3 and january_firsts <= days / 2:
        return ""
    return (
        f"{january_firsts} of {days} lists known to the day fall on 1 January, where about "
        f"{max(1, round(days * daily))} would by chance; those are taken to mean the year only."
    )


def _with_year_only(intervals: pd.DataFrame, rows: pd.Series) -> pd.DataFrame:
    found = intervals.copy()
    ends = (found["date_from"] + pd.offsets.YearEnd(0)).astype(found["date_to"].dtype)
    found["date_to"] = found["date_to"].where(~rows, ends)
    found["date_kind"] = found["date_kind"].where(~rows, "year")
    return found


def combine_parts(frame: pd.DataFrame, *, pivot: int, today: date, month_first: bool = False) -> pd.DataFrame:
    """Bring together a date, its end, and the year, month and day written beside it.

    The one that is known more closely wins; where they cannot both be true the one known to the day is kept
    and a doubt says so. A year or month left blank beside a 1 January means that only the year is known, a
    day left blank beside the first of a month that only the month is, unless the column is blank all the way
    down.

    Parameters
    ----------
    frame
        Texts, one row a combination, with any of the columns ``date``, ``date_end``, ``year``, ``month``,
        ``day``.
    pivot, today, month_first
        As in `texts_to_intervals`.

    Returns
    -------
    DataFrame
        Columns as of `texts_to_intervals`, one row a row. Never raises.

    Examples
    --------
    >>> cells = pd.DataFrame({"date": ["1998-01-01", "1998-05-12"], "month": ["", "5"]})
    >>> combine_parts(cells, pivot=30, today=date(2026, 6, 1)).date_kind.tolist()
    ['year', 'day']
    """
    texts = pd.DataFrame(
        {
            name: frame[name].fillna("").astype(str).str.strip() if name in frame else ""
            for name in ("date", "date_end", "year", "month", "day")
        },
        index=frame.index,
    ).reset_index(drop=True)
    read = partial(_read_distinct, pivot=pivot, today=today, month_first=month_first)
    start = read(texts["date"])
    if {"year", "month", "day"} & set(frame.columns):
        start = _combined(start, texts, read)
    return _ended(start, texts, read(texts["date_end"])) if "date_end" in frame else start


def _read_distinct(texts: pd.Series, *, pivot: int, today: date, month_first: bool) -> pd.DataFrame:
    codes, distinct = pd.factorize(texts)
    found = texts_to_intervals(list(distinct), pivot=pivot, today=today, month_first=month_first)
    return found.take(codes).reset_index(drop=True)


def _combined(start: pd.DataFrame, texts: pd.DataFrame, read: Callable[[pd.Series], pd.DataFrame]) -> pd.DataFrame:
    parts_text = pd.Series(
        [
            _parts_to_text(year, month, day)
            for year, month, day in zip(texts["year"], texts["month"], texts["day"], strict=True)
        ],
        dtype="str",
    )
    parts = read(parts_text)
    start = _without_false_firsts(start, texts)
    has_date, has_year = texts["date"] != "", texts["year"] != ""
    date_read, parts_read = start["date_kind"] != "unknown", (parts["date_kind"] != "unknown") & has_year
    apart = date_read & parts_read & ((_ends(start) < _starts(parts)) | (_ends(parts) < _starts(start)))
    closer = _width(parts) < _width(start)
    day_only_in_parts = (parts["date_kind"] == "day") & (start["date_kind"] != "day")
    use_parts = (
        (~has_date & (parts_text != ""))
        | (parts_read & ~date_read)
        | (date_read & parts_read & np.where(apart, day_only_in_parts, closer))
    )
    found = start.where(~use_parts, parts)
    said: list[tuple[int, Verdict]] = []
    for row in map(int, np.flatnonzero(apart)):
        kept = "what stands beside it" if use_parts[row] else "the date"
        words = (
            f"The date {quoted(texts['date'][row])} and the year, month or day beside it "
            f"({quoted(_beside(texts, row))}) do not agree; {kept} was kept."
        )
        said.append((row, Verdict("dates disagree", DOUBT, words, "which of the two is right")))
    for row in map(int, np.flatnonzero(use_parts & has_date & ~date_read & (start["severity"] == NOT_A_RECORD))):
        said.append((row, _overruled(start, row, "The year, month and day beside it were used.")))
    for row in map(int, np.flatnonzero(date_read & has_year & ~parts_read)):
        said.append((row, _overruled(parts, row, "The date in the other column was used.")))
    return _with_verdicts(found, said)


def _overruled(read: pd.DataFrame, row: int, words: str) -> Verdict:
    """What is wrong with a date that another one stands in for."""
    return Verdict(read["code"][row], DOUBT, f"{read['sentence'][row]} {words}", read["suggestion"][row])


def _beside(texts: pd.DataFrame, row: int) -> str:
    return "-".join(texts[name][row] for name in ("year", "month", "day") if texts[name][row])


def _parts_to_text(year: str, month: str, day: str) -> str:
    year, month, day = (cell.removesuffix(".0") for cell in (year, month, day))
    month, day = ("" if cell.strip("0") == "" else cell for cell in (month, day))
    if not month:
        return year
    if month.isdecimal() and year.isdecimal() and len(year) == 4 and (day.isdecimal() or not day):
        return "-".join(part.zfill(2) for part in (year, month, day) if part)
    if month.isdecimal() and 1 <= int(month) <= 12:
        month = MONTHS[int(month) - 1]
    return " ".join(part for part in (day, month, year) if part)


def _without_false_firsts(start: pd.DataFrame, texts: pd.DataFrame) -> pd.DataFrame:
    """A first of January, or of a month, whose month or day is blank beside it is a year or a month."""
    used = {name: bool((texts[name] != "").any()) for name in ("year", "month", "day")}
    blank = {name: (texts[name] == "") if used[name] else pd.Series(False, index=texts.index) for name in used}
    is_first = (start["date_kind"] == "day") & (start["date_from"].dt.day == 1)
    year_only = (
        is_first & (start["date_from"].dt.month == 1) & (blank["month"] | (blank["year"] & (texts["month"] == "")))
    )
    month_only = is_first & ~year_only & blank["day"] & (texts["month"] != "")
    found = _with_year_only(start, year_only)
    ends = (found["date_from"] + pd.offsets.MonthEnd(0)).astype(found["date_to"].dtype)
    found["date_to"] = found["date_to"].where(~month_only, ends)
    found["date_kind"] = found["date_kind"].where(~month_only, "month")
    said: list[tuple[int, Verdict]] = []
    for rows, what, lacking in ((year_only, "year", "year or month"), (month_only, "month", "day")):
        for row in map(int, np.flatnonzero(rows)):
            words = (
                f"The date {quoted(texts['date'][row])} was taken to mean the {what} only, "
                f"for the {lacking} beside it is blank."
            )
            said.append((row, Verdict(f"{what} only", NOTE, words)))
    return _with_verdicts(found, said)


def _ended(start: pd.DataFrame, texts: pd.DataFrame, end: pd.DataFrame) -> pd.DataFrame:
    has_end, begun = texts["date_end"] != "", start["date_kind"] != "unknown"
    ended = has_end & (end["date_kind"] != "unknown") & (start["severity"] != NOT_A_RECORD)
    found = start.copy()
    backwards = ended & begun & (_ends(end) < _starts(start))
    both = ended & begun & ~backwards
    found["date_to"] = found["date_to"].where(~(both | (ended & ~begun)), end["date_to"])
    kinds = [_kind_of(*pair) for pair in zip(start["date_kind"], end["date_kind"], strict=True)]
    one_day = both & (start["date_kind"] == "day") & (found["date_from"] == found["date_to"])
    found["date_kind"] = found["date_kind"].where(~both | one_day, pd.Series(kinds, dtype="str"))
    found["date_kind"] = found["date_kind"].where(~(ended & ~begun), "before")
    open_ended = found["date_from"].isna() & found["date_to"].isna()
    found["date_kind"] = found["date_kind"].where(~open_ended, "unknown")
    said: list[tuple[int, Verdict]] = []
    for row in map(int, np.flatnonzero(has_end & (end["code"] != ""))):
        code, severity, sentence, hint = (end[name][row] for name in VERDICT_COLUMNS)
        if severity == NOT_A_RECORD and begun[row]:
            severity, sentence = DOUBT, f"{sentence} It is the end of a run of days, of which the first date was used."
        said.append((row, Verdict(code, severity, sentence, hint)))
    for row in map(int, np.flatnonzero(backwards)):
        first, last = quoted(texts["date"][row]), quoted(texts["date_end"][row])
        words = f"The date starts on {first} but ends before that, on {last}."
        said.append((row, Verdict("date ends first", NOT_A_RECORD, words, "the two dates the other way round")))
    found.loc[backwards, ["date_from", "date_to"]] = pd.NaT
    found["date_kind"] = found["date_kind"].where(~backwards, "unknown")
    found = _with_verdicts(found, said)
    missing = Verdict("no date", NOTE, "The record has no date that can be placed.", "the date, or the year")
    silent = np.flatnonzero(open_ended & (found["code"] == ""))
    return _with_verdicts(found, [(int(row), missing) for row in silent])


def _kind_of(start: str, end: str) -> str:
    kinds = {start, end}
    if kinds <= {"day", "days"}:
        return "days"
    if kinds <= {"year"} or not kinds <= {"day", "days", "month", "months", "season"}:
        return (
            "circa" if "circa" in kinds else "before" if start == "before" else "after" if end == "after" else "years"
        )
    return "months"


def _with_verdicts(found: pd.DataFrame, said: Sequence[tuple[int, Verdict]]) -> pd.DataFrame:
    """A frame with verdicts put in their rows, unless a more serious one stands there."""
    if not said:
        return found
    columns = {name: found[name].to_numpy(dtype=object).copy() for name in VERDICT_COLUMNS}
    for row, verdict in said:
        standing = Verdict(*(columns[name][row] for name in VERDICT_COLUMNS))
        if standing.code == "no date" or worst([verdict, standing]) == verdict:
            for name, words in zip(VERDICT_COLUMNS, verdict, strict=True):
                columns[name][row] = words
    return found.assign(**{name: pd.Series(words, found.index, dtype="str") for name, words in columns.items()})


def _starts(found: pd.DataFrame) -> pd.Series:
    return found["date_from"].fillna(pd.Timestamp("0001-01-01").as_unit("s"))


def _ends(found: pd.DataFrame) -> pd.Series:
    return found["date_to"].fillna(pd.Timestamp("9999-12-31").as_unit("s"))


def _width(found: pd.DataFrame) -> pd.Series:
    return (_ends(found) - _starts(found)).dt.days
