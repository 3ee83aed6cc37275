"""Dates as people write them. What British recorders mean by them is common practice, no source."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from gapmap.records.dates.intervals import combine_parts, january_trap, texts_to_intervals
from gapmap.records.dates.texts import text_to_interval

TODAY = date(2026, 6, 1)


def read(*texts: str, pivot: int = 30) -> pd.DataFrame:
    return texts_to_intervals(list(texts), pivot=pivot, today=TODAY)


def one(text: str, pivot: int = 30) -> tuple[str, str, str, str]:
    row = read(text, pivot=pivot).iloc[0]
    first, last = ("" if pd.isna(row[name]) else str(row[name].date()) for name in ("date_from", "date_to"))
    return first, last, row["date_kind"], row["code"]


DAY = ("1998-05-12", "1998-05-12", "day", "")


@pytest.mark.parametrize(
    "text",
    ["12/5/1998", "12/05/1998", "12-5-1998", "12.5.1998", "12 May 1998", "12th May 1998", "12th of May, 1998",
     "12-May-1998", "12May1998", "May 12, 1998", "1998 May 12", "1998/05/12", "12.v.1998", "12.V.1998", "12 v 1998",
     "Tuesday 12 May 1998", "Tue 12/5/1998", "12/05/1998 14:30", "12/05/1998 00:00:00", "１２/５/１９９８",
     " 12/5/1998. ", "12–5–1998", "1998-05-12T22:15:00+01:00", "12/5/1998 at 9.30pm", "(12/5/1998)"],
)  # fmt: skip
def test_one_day_in_many_hands(text: str) -> None:
    assert one(text) == DAY


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("June 1987", ("1987-06-01", "1987-06-30", "month")),
        ("6/1987", ("1987-06-01", "1987-06-30", "month")),
        ("vi.1987", ("1987-06-01", "1987-06-30", "month")),
        ("Summer 1995", ("1995-06-01", "1995-08-31", "season")),
        ("Spring 2003", ("2003-03-01", "2003-05-31", "season")),
        ("winter 1995/96", ("1995-12-01", "1996-02-29", "season")),
        ("pre-1960", ("", "1959-12-31", "before")),
        ("before June 1987", ("", "1987-05-31", "before")),
        ("until 1960", ("", "1960-12-31", "before")),
        ("post-1960", ("1961-01-01", "", "after")),
        ("since 1960", ("1960-01-01", "", "after")),
        ("1960 onwards", ("1960-01-01", "", "after")),
        ("1970s", ("1970-01-01", "1979-12-31", "decade")),
        ("19th century", ("1801-01-01", "1900-12-31", "century")),
        ("C19", ("1801-01-01", "1900-12-31", "century")),
        ("Jun–Aug 2001", ("2001-06-01", "2001-08-31", "months")),
        ("June/July 2001", ("2001-06-01", "2001-07-31", "months")),
        ("12-14 May 2010", ("2010-05-12", "2010-05-14", "days")),
        ("11./12.5.2010", ("2010-05-11", "2010-05-12", "days")),
        ("31.5. - 1.6.2010", ("2010-05-31", "2010-06-01", "days")),
        ("night of 11/12 May 2010", ("2010-05-11", "2010-05-12", "days")),
        ("11/12 May 2010 (night)", ("2010-05-11", "2010-05-12", "days")),
        ("12, 13 May 2010", ("2010-05-12", "2010-05-13", "days")),
        ("12 May - 3 June 2010", ("2010-05-12", "2010-06-03", "days")),
        ("12-14/5/1998", ("1998-05-12", "1998-05-14", "days")),
        ("12/5/1998-14/5/1998", ("1998-05-12", "1998-05-14", "days")),
        ("30/12/1999 to 2/1/2000", ("1999-12-30", "2000-01-02", "days")),
        ("between 1990 and 1995", ("1990-01-01", "1995-12-31", "years")),
        ("1990-99", ("1990-01-01", "1999-12-31", "years")),
        ("1999-00", ("1999-01-01", "2000-12-31", "years")),
        ("1990/91", ("1990-01-01", "1991-12-31", "years")),
        ("early June 1987", ("1987-06-01", "1987-06-10", "days")),
        ("late June 1987", ("1987-06-21", "1987-06-30", "days")),
        ("early 1987", ("1987-01-01", "1987-04-30", "months")),
        ("1987.0", ("1987-01-01", "1987-12-31", "year")),
    ],
)
def test_wider_dates(text: str, expected: tuple[str, str, str]) -> None:
    assert one(text) == (*expected, "")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("c. 1950", ("1945-01-01", "1955-12-31", "circa", "approximate date")),
        ("c1950", ("1945-01-01", "1955-12-31", "circa", "approximate date")),
        ("35927", ("1998-05-12", "1998-05-12", "day", "day number")),
        ("35927.6", ("1998-05-12", "1998-05-12", "day", "day number")),
        ("00/00/1987", ("1987-01-01", "1987-12-31", "year", "day or month 00")),
        ("00/05/1987", ("1987-05-01", "1987-05-31", "month", "day or month 00")),
        ("winter 1995", ("1995-12-01", "1996-02-29", "season", "winter of two years")),
        ("Dec-Jan 2001", ("2000-12-01", "2001-01-31", "months", "range across years")),
        ("Monday 12/5/1998", ("1998-05-12", "1998-05-12", "day", "weekday differs")),
        ("05/98", ("1998-05-01", "1998-05-31", "month", "two-digit year")),
        ("may.98", ("1998-05-01", "1998-05-31", "month", "two-digit year")),
        ("Autumn '05", ("2005-09-01", "2005-11-30", "season", "two-digit year")),
        ("winter ’98/9", ("1998-12-01", "1999-02-28", "season", "two-digit year")),
        ("120598", ("1998-05-12", "1998-05-12", "day", "date run together")),
        ("2005/06", ("2005-01-01", "2006-12-31", "years", "date unclear")),
        ("1998/5", ("1998-05-01", "1998-05-31", "month", "date unclear")),
    ],
)
def test_read_with_a_remark(text: str, expected: tuple[str, str, str, str]) -> None:
    assert one(text) == expected


@pytest.mark.parametrize(
    ("text", "code", "suggestion"),
    [
        ("5/13/1998", "month before day", "13 May 1998, if the month was written first"),
        ("31/2/1998", "impossible date", "28 February 1998, or another month"),
        ("31/11/2001", "impossible date", "30 November 2001, or another month"),
        ("29/2/1900", "impossible date", "28 February or 1 March 1900"),
        ("12/5/2062", "future date", "the day or year that was meant"),
        ("2027", "future date", "the day or year that was meant"),
        ("12/5/1598", "date before 1600", "the year that was meant"),
        ("14-12 May 2010", "date ends first", "the two dates the other way round"),
        ("1999/1990", "date ends first", "the two dates the other way round"),
        ("12 May", "no year", "the year"),
        ("201005", "date unclear", "20/10/05 or 2010-05"),
        ("5/12", "no year", "the year"),
        ("c. 20", "date not read", "a date such as 12 May 1998, May 1998 or 1998"),
        ("Easter", "date not read", "a date such as 12 May 1998, May 1998 or 1998"),
    ],
)
def test_what_cannot_be_is_said_with_a_suggestion(text: str, code: str, suggestion: str) -> None:
    row = read(text).iloc[0]
    assert (row["date_kind"], row["code"], row["severity"], row["suggestion"]) == (
        "unknown",
        code,
        "not a record",
        suggestion,
    )
    assert text in row["sentence"]


def test_the_pivot_places_two_digit_years() -> None:
    assert one("12/5/98") == ("1998-05-12", "1998-05-12", "day", "two-digit year")
    assert one("12/5/12") == ("2012-05-12", "2012-05-12", "day", "two-digit year")
    assert one("12/5/12", pivot=5)[0] == "1912-05-12"


def test_a_two_digit_year_still_to_come_is_a_century_earlier_and_a_doubt() -> None:
    found = read("12/5/28").iloc[0]
    assert (str(found["date_from"].date()), found["severity"]) == ("1928-05-12", "doubt")


@pytest.mark.parametrize("text", ["", " ", "unknown", "n.d.", "?", "undated", "..", "00/00/0000"])
def test_no_date_keeps_the_record(text: str) -> None:
    row = read(text).iloc[0]
    assert (row["date_kind"], row["code"], row["severity"]) == ("unknown", "no date", "note")


def test_sentences_read_as_a_letter() -> None:
    assert read("5/13/1998").sentence[0] == "The date “5/13/1998” has no month 13 when the day comes first."
    assert read("31/2/1998").sentence[0] == "The date “31/2/1998” cannot be: February 1998 has 28 days."


def test_the_fast_way_and_the_reader_agree() -> None:
    """Every day of 29 years written plainly, against the same day in words."""
    days = pd.date_range("1996-02-20", "2024-03-05", freq="5D")
    for pattern in ("%Y-%m-%d", "%d/%m/%Y", "%Y-%m-%d 00:00:00", "%Y-%m-%dT00:00:00"):
        plain, worded = read(*days.strftime(pattern)), read(*days.strftime("%d %B %Y"))
        pd.testing.assert_frame_equal(plain, worded)
        assert (plain["date_from"].to_numpy() == days.to_numpy().astype("datetime64[s]")).all()


def test_types_and_rows_whatever_comes() -> None:
    found = read("1998-05-12", "rubbish", "")
    assert str(found["date_from"].dtype) == "datetime64[s]"
    assert read().columns.tolist() == found.columns.tolist()
    assert len(texts_to_intervals([None, np.nan, 5], pivot=30, today=TODAY)) == 3  # type: ignore[list-item]


def combined(**columns: list[str]) -> list[tuple[str, str, str, str]]:
    found = combine_parts(pd.DataFrame(columns), pivot=30, today=TODAY)
    first, last = (found[name].dt.strftime("%Y-%m-%d").fillna("") for name in ("date_from", "date_to"))
    return list(zip(first, last, found["date_kind"], found["code"], strict=True))


def test_a_month_blank_beside_the_first_of_january_means_the_year() -> None:
    """Row by row: the trap, a true New Year's Day, and a column of months that nobody filled in."""
    assert combined(date=["1998-01-01", "1998-01-01"], year=["1998", "1998"], month=["", "1"], day=["", "1"]) == [
        ("1998-01-01", "1998-12-31", "year", "year only"), ("1998-01-01", "1998-01-01", "day", ""),
    ]  # fmt: skip
    assert combined(date=["1998-01-01"], month=[""])[0][2] == "day"


def test_a_day_blank_beside_the_first_of_a_month_means_the_month() -> None:
    assert combined(date=["1998-06-01", "1998-06-02"], year=["1998"] * 2, month=["6"] * 2, day=["", "2"])[0] == (
        "1998-06-01", "1998-06-30", "month", "month only",
    )  # fmt: skip


def test_the_day_known_one_wins() -> None:
    assert combined(date=["1998"], year=["1998"], month=["May"], day=["12"]) == [DAY]
    assert combined(date=["12/5/1998"], year=["1998"]) == [DAY]


def test_a_contradiction_is_a_doubt_and_the_date_is_kept() -> None:
    frame = pd.DataFrame({"date": ["12/5/1998"], "year": ["1997"]})
    found = combine_parts(frame, pivot=30, today=TODAY).iloc[0]
    assert (found["code"], found["severity"], found["date_from"]) == (
        "dates disagree",
        "doubt",
        pd.Timestamp("1998-05-12"),
    )
    assert "“1997”" in found["sentence"]


def test_parts_alone_and_parts_instead_of_a_bad_date() -> None:
    assert combined(year=["1998", "1998", "1998", ""], month=["5", "v", "", ""], day=["12", "12", "", ""]) == [
        DAY, DAY, ("1998-01-01", "1998-12-31", "year", ""), ("", "", "unknown", "no date"),
    ]  # fmt: skip
    found = combine_parts(
        pd.DataFrame({"date": ["rubbish"], "year": ["1998"], "month": ["5"], "day": ["12"]}), pivot=30, today=TODAY
    ).iloc[0]
    assert (found["date_kind"], found["severity"]) == ("day", "doubt")


def test_start_and_end() -> None:
    assert combined(date=["12/5/1998", "12/5/1998", "May 1998"], date_end=["14/5/1998", "12/5/1998", ""]) == [
        ("1998-05-12", "1998-05-14", "days", ""), DAY, ("1998-05-01", "1998-05-31", "month", ""),
    ]  # fmt: skip
    assert combined(date=["14/5/1998"], date_end=["12/5/1998"]) == [("", "", "unknown", "date ends first")]


def test_the_january_trap() -> None:
    """By the stated rule, worked by hand: of 1000 lists 2.7 fall on one day by chance."""
    assert january_trap(1000, 300, years=20).startswith(
        "300 of 1000 lists known to the day fall on 1 January, where about 3"
    )
    assert january_trap(1000, 3) == ""
    assert january_trap(0, 0) == ""
    # A well-attended New Year's Day outing: many lists, but of one year, and far from half of all.
    assert january_trap(2000, 120, years=1) == ""
    # A file of one year in which nearly everything is on that day.
    assert january_trap(130, 120, years=1) != ""


@pytest.mark.parametrize("text", ["32/05/2018", "2026-05-32", "32.5.18", "45 May 2001", "2018-05-32 00:00:00"])
def test_a_day_that_no_month_has(text: Any) -> None:
    found = texts_to_intervals([text, "12/05/1998"], pivot=30, today=date(2026, 6, 1)).iloc[0]
    assert (found["date_kind"], found["code"], found["severity"]) == ("unknown", "impossible date", "not a record")
    assert "no month has a day" in found["sentence"]
    assert found["suggestion"] == ""


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("12051998", date(1998, 5, 12), date(1998, 5, 12)),
        ("end May 2001", date(2001, 5, 21), date(2001, 5, 31)),
        ("end of May 2001", date(2001, 5, 21), date(2001, 5, 31)),
        ("start of 1995", date(1995, 1, 1), date(1995, 4, 30)),
        ("May 1998 - present", date(1998, 5, 1), None),
        ("from 2001 to date", date(2001, 1, 1), None),
    ],
)
def test_further_ways_of_writing(text: str, first: date, last: date | None) -> None:
    found = text_to_interval(text, pivot=30, today=date(2026, 6, 1))
    assert (found.first, found.last) == (first, last)
