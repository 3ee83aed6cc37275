"""Dates against published examples: ISO 8601 and its extended profile, Darwin Core, and spreadsheets' day numbers."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from openpyxl.utils.datetime import from_excel

from gapmap.records.dates.days import CannotBeError, serial_to_day
from gapmap.records.dates.texts import text_to_interval

TODAY = date(2026, 6, 1)


def read(text: str) -> tuple[str, str, str]:
    found = text_to_interval(text, pivot=30, today=TODAY)
    return str(found.first or ""), str(found.last or ""), found.kind


# Extended Date/Time Format (EDTF) Specification, Library of Congress, 4 February 2019, level 0: the examples given
# there for dates, dates with times and intervals. The first and last day follow from the meaning stated beside each.
LEVEL_0 = {
    "1985-04-12": ("1985-04-12", "1985-04-12", "day"),
    "1985-04": ("1985-04-01", "1985-04-30", "month"),
    "1985": ("1985-01-01", "1985-12-31", "year"),
    "1985-04-12T23:20:30": ("1985-04-12", "1985-04-12", "day"),
    "1985-04-12T23:20:30Z": ("1985-04-12", "1985-04-12", "day"),
    "1985-04-12T23:20:30-04": ("1985-04-12", "1985-04-12", "day"),
    "1985-04-12T23:20:30+04:30": ("1985-04-12", "1985-04-12", "day"),
    "1964/2008": ("1964-01-01", "2008-12-31", "years"),
    "2004-06/2006-08": ("2004-06-01", "2006-08-31", "months"),
    "2004-02-01/2005-02-08": ("2004-02-01", "2005-02-08", "days"),
    "2004-02-01/2005-02": ("2004-02-01", "2005-02-28", "months"),
    "2004-02-01/2005": ("2004-02-01", "2005-12-31", "years"),
    "2005/2006-02": ("2005-01-01", "2006-02-28", "years"),
}

# The same specification, level 1: seasons (21 to 24), unspecified digits, open and unknown ends. Which months a season
# has the standard leaves open; that spring is March to May is this program's stated choice.
LEVEL_1 = {
    "2001-21": ("2001-03-01", "2001-05-31", "season"),
    "2001-22": ("2001-06-01", "2001-08-31", "season"),
    "2001-23": ("2001-09-01", "2001-11-30", "season"),
    "2001-24": ("2001-12-01", "2002-02-28", "season"),
    "201X": ("2010-01-01", "2019-12-31", "decade"),
    "20XX": ("2000-01-01", "2099-12-31", "century"),
    "2004-XX": ("2004-01-01", "2004-12-31", "year"),
    "1985-04-XX": ("1985-04-01", "1985-04-30", "month"),
    "1985-XX-XX": ("1985-01-01", "1985-12-31", "year"),
    "1985-04-12/..": ("1985-04-12", "", "after"),
    "1985-04/..": ("1985-04-01", "", "after"),
    "1985/..": ("1985-01-01", "", "after"),
    "../1985-04-12": ("", "1985-04-12", "before"),
    "../1985-04": ("", "1985-04-30", "before"),
    "../1985": ("", "1985-12-31", "before"),
    "1985-04-12/": ("1985-04-12", "", "after"),
    "1985-04/": ("1985-04-01", "", "after"),
    "1985/": ("1985-01-01", "", "after"),
    "/1985-04-12": ("", "1985-04-12", "before"),
    "/1985-04": ("", "1985-04-30", "before"),
    "/1985": ("", "1985-12-31", "before"),
}


@pytest.mark.parametrize(("text", "expected"), [*LEVEL_0.items(), *LEVEL_1.items()])
def test_examples_of_the_extended_date_format(text: str, expected: tuple[str, str, str]) -> None:
    assert read(text) == expected


@pytest.mark.parametrize(
    ("text", "holds"),
    # Level 1 again: uncertain (?), approximate (~) and both (%). How far they reach the standard does not say; what is
    # stated must lie within what is read, and the reading must say that it is approximate.
    [
        ("1984?", (date(1984, 1, 1), date(1984, 12, 31))),
        ("2004-06~", (date(2004, 6, 1), date(2004, 6, 30))),
        ("2004-06-11%", (date(2004, 6, 11), date(2004, 6, 11))),
        ("1984~/2004-06", (date(1984, 1, 1), date(2004, 6, 30))),
        ("1984/2004-06~", (date(1984, 1, 1), date(2004, 6, 30))),
        ("1984~/2004~", (date(1984, 1, 1), date(2004, 12, 31))),
        ("1984?/2004%", (date(1984, 1, 1), date(2004, 12, 31))),
    ],
)
def test_qualified_dates_reach_around_what_is_stated(text: str, holds: tuple[date, date]) -> None:
    found = text_to_interval(text, pivot=30, today=TODAY)
    assert found.kind == "circa"
    assert found.first is not None
    assert found.first <= holds[0]
    assert found.last is not None
    assert found.last >= holds[1]
    assert found.verdict.code == "approximate date"


@pytest.mark.parametrize("text", ["Y170000002", "Y-170000002", "-1985"])
def test_years_of_other_ages_are_said_not_read(text: str) -> None:
    """Level 1 examples too; no wildlife record is from then."""
    found = text_to_interval(text, pivot=30, today=TODAY)
    assert (found.kind, found.verdict.severity) == ("unknown", "not a record")


# Darwin Core quick reference guide, term eventDate: its examples with the meaning it states for each.
DARWIN_CORE = {
    "1963-03-08T14:07-0600": ("1963-03-08", "1963-03-08", "day"),
    "2009-02-20T08:40Z": ("2009-02-20", "2009-02-20", "day"),
    "2018-08-29T15:19": ("2018-08-29", "2018-08-29", "day"),
    "1809-02-12": ("1809-02-12", "1809-02-12", "day"),
    "1906-06": ("1906-06-01", "1906-06-30", "month"),
    "1971": ("1971-01-01", "1971-12-31", "year"),
    "2007-03-01T13:00:00Z/2008-05-11T15:30:00Z": ("2007-03-01", "2008-05-11", "days"),
    "1900/1909": ("1900-01-01", "1909-12-31", "years"),
    "2007-11-13/15": ("2007-11-13", "2007-11-15", "days"),
    # and from the Darwin Core wiki's page on events
    "2010-01-17T09:26Z": ("2010-01-17", "2010-01-17", "day"),
    "2009/2010": ("2009-01-01", "2010-12-31", "years"),
    "2009-02/2010-01": ("2009-02-01", "2010-01-31", "months"),
    "2009-02/10": ("2009-02-01", "2009-10-31", "months"),
    "2009-02-12/2009-10-08": ("2009-02-12", "2009-10-08", "days"),
    "2010-01-17T12:26Z/12:52:17Z": ("2010-01-17", "2010-01-17", "day"),
    "1963-03-08T14:07-0600/1971-08-03T06:00-0000": ("1963-03-08", "1971-08-03", "days"),
}


@pytest.mark.parametrize(("text", "expected"), DARWIN_CORE.items())
def test_examples_of_darwin_core(text: str, expected: tuple[str, str, str]) -> None:
    assert read(text) == expected


@pytest.mark.parametrize(
    ("serial", "day"),
    [
        (1, date(1900, 1, 1)),  # Excel's help, "Date systems in Excel": the first day that is supported
        (35981, date(1998, 7, 5)),  # knowledge-base article 214330: "if you enter July 5, 1998"
        (40729, date(2011, 7, 5)),  # Excel's help, "Date systems in Excel": July 5, 2011
        (36161, date(1999, 1, 1)),  # Excel help, DATE function pages (widely reprinted)
        (2958465, date(9999, 12, 31)),  # the last day that is supported
        (59, date(1900, 2, 28)),  # "Excel incorrectly assumes that the year 1900 is a leap year": the day before …
        (61, date(1900, 3, 1)),  # … and the day after the false one
    ],
)
def test_day_numbers_of_spreadsheets(serial: int, day: date) -> None:
    assert serial_to_day(serial) == day


def test_the_false_leap_day_is_no_day() -> None:
    """Article "Excel incorrectly assumes that the year 1900 is a leap year": number 60 shows 29 February 1900."""
    with pytest.raises(CannotBeError):
        serial_to_day(60)
    assert text_to_interval("29/2/1900", pivot=30, today=TODAY).verdict.code == "impossible date"


def test_day_numbers_agree_with_a_spreadsheet_library() -> None:
    """openpyxl's conversion, every day number of a century and the days around the false one."""
    for serial in [*range(1, 60), *range(61, 2000), *range(10_000, 46_000, 7)]:
        assert serial_to_day(serial) == from_excel(serial).date()


def test_the_1904_system_is_four_years_and_a_day_away() -> None:
    """Knowledge-base article 214330: the two systems differ by 1,462 days, and 5 July 1998 is 34519 in the other."""
    assert serial_to_day(34519) + timedelta(days=1462) == date(1998, 7, 5)
    found = text_to_interval("34519", pivot=30, today=TODAY)
    assert (
        found.verdict.suggestion == "if the workbook counts its days from 1904, the day is four years and a day later"
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    # ISO 8601-1: basic format, ordinal dates, week dates. The week dates' days are from Python's own ISO calendar.
    [
        ("19850412", ("1985-04-12", "1985-04-12", "day")),
        ("1985-102", ("1985-04-12", "1985-04-12", "day")),
        ("1985-W15-5", ("1985-04-12", "1985-04-12", "day")),
        ("1985-W15", ("1985-04-08", "1985-04-14", "days")),
    ],
)
def test_other_iso_forms_of_the_12th_of_april_1985(text: str, expected: tuple[str, str, str]) -> None:
    """The standard's own running example, 12 April 1985, in its other notations (from memory of ISO 8601)."""
    assert date.fromisocalendar(1985, 15, 5) == date(1985, 4, 12)
    assert read(text) == expected
