"""What only all the dates of a file together tell: whether the month stands before the day.

That two numbers and a year are written month first in the United States and day first in Britain is common knowledge,
no source; so is that a spreadsheet program set to one of the two turns round what it can of the other.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from gapmap.records.dates.texts import text_to_interval
from gapmap.records.table import Records

DAYS = [date(2019, 1, 3) + timedelta(days=11 * step) for step in range(33)]
EITHER = [day for day in DAYS if day.day <= 12 and day.day != day.month]
TOLD = {"pivot": 30, "today": date(2026, 6, 1)}


def file_of(days: list[str], header: str = "Date") -> str:
    return f"Species,Grid ref,{header}\n" + "".join(f"Aglais io,NT2776,{day}\n" for day in days)


def days_read(records: Records) -> list[str]:
    return [str(day.date()) for day in records.frame().sort_values("source_row")["date_from"]]


def american(day: date) -> str:
    return f"{day.month}/{day.day}/{day.year}"


def test_a_file_written_month_first_says_so_and_is_not_switched(read: Callable[..., Records]) -> None:
    records = read(file_of([american(day) for day in DAYS]))
    problems = records.problems()
    [whole] = problems[problems["code"] == "month first"].to_dict("records")
    assert whole["row"] == 0
    assert whole["severity"] == "doubt"
    assert "were read day first all the same" in whole["sentence"]
    assert 'month_first = ["club.csv"]' in whole["suggestion"]
    doubted = problems[problems["code"] == "month or day"]
    assert doubted["value"].tolist() == [american(day) for day in EITHER]
    assert doubted["suggestion"].str.startswith(tuple(f"{day.day} {day:%B %Y}" for day in EITHER)).all()
    refused = problems[problems["code"] == "month before day"]
    assert len(refused) == sum(day.day > 12 for day in DAYS)
    assert records.files["records"][0] == len(DAYS) - len(refused)
    read_so = dict(zip(records.frame()["source_row"], records.frame()["date_from"].dt.date, strict=True))
    for row, day in enumerate(DAYS, start=2):
        if day.day <= 12:
            assert read_so[row] == date(day.year, day.day, day.month)


def test_the_organiser_decides(read: Callable[..., Records]) -> None:
    records = read(file_of([american(day) for day in DAYS]), month_first=["club.csv"])
    assert days_read(records) == [str(day) for day in DAYS]
    assert records.problems()[["code", "severity"]].to_numpy().tolist() == [["month first", "note"]]


def test_the_setting_is_for_the_named_file_only(read: Callable[..., Records]) -> None:
    records = read(file_of(["1/2/2019"]), month_first=["other.csv"])
    assert days_read(records) == ["2019-02-01"]
    assert any("other.csv" in remark for remark in records.remarks)


def test_a_header_that_says_so_is_believed_and_said(read: Callable[..., Records]) -> None:
    records = read(file_of(["1/2/2019", "12/31/2019"], "Date (mm/dd/yyyy)"))
    assert days_read(records) == ["2019-01-02", "2019-12-31"]
    assert "the header says" in records.problems()["sentence"][0]


def test_a_slip_or_two_accuse_no_other_row(read: Callable[..., Records]) -> None:
    british = [f"{day:%d/%m/%Y}" for day in DAYS]
    records = read(file_of([*british, "5/13/2019", "6/14/2019"]))
    assert set(records.problems()["code"]) == {"month before day"}


def test_a_file_written_both_ways_says_so(read: Callable[..., Records]) -> None:
    records = read(file_of([*(f"{day:%d/%m/%Y}" for day in DAYS), *(american(day) for day in DAYS)]))
    [whole] = records.problems().query("code == 'month first'")["sentence"]
    assert "only day first" in whole
    assert "month or day" in set(records.problems()["code"])


def test_days_that_a_spreadsheet_turned_round_are_doubted(read: Callable[..., Records]) -> None:
    """Opened where the day comes first, 4/7/2019 becomes the cell 4 July; 4/17/2019 stays the text it was."""
    cells = [str(date(d.year, d.day, d.month)) if d.day <= 12 else american(d) for d in DAYS]
    for told in ([], ["club.csv"]):
        records = read(file_of(cells), month_first=told)
        turned = records.problems().query("code == 'month or day'")
        assert turned["value"].tolist() == [str(date(day.year, day.day, day.month)) for day in EITHER]
        assert turned["sentence"].str.contains("turned round").all()


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("5/13/1998", "1998-05-13", "1998-05-13"),
        ("05-04-98", "1998-05-04", "1998-05-04"),
        ("5/4/1998 14:30", "1998-05-04", "1998-05-04"),
        ("5/4/1998 - 6/3/1998", "1998-05-04", "1998-06-03"),
        ("5/4 - 6/3/1998", "1998-05-04", "1998-06-03"),
        ("c. 5/4/1998", "1998-05-01", "1998-05-07"),
        ("1998-05-04", "1998-05-04", "1998-05-04"),
        ("12-14 May 2010", "2010-05-12", "2010-05-14"),
        ("4 May 1998", "1998-05-04", "1998-05-04"),
        ("5/1998", "1998-05-01", "1998-05-31"),
    ],
)
def test_month_first_dates(text: str, first: str, last: str) -> None:
    found = text_to_interval(text, **TOLD, month_first=True)
    assert (str(found.first), str(found.last)) == (first, last)


def test_an_impossible_month_first_date_is_suggested_day_first() -> None:
    found = text_to_interval("13/5/1998", **TOLD, month_first=True)
    assert found.kind == "unknown"
    assert found.verdict.code == "day before month"
    assert found.verdict.suggestion == "13 May 1998, if the day was written first"


MONTHS = [date(2019 + step // 12, 1 + step % 12, 1) for step in range(1, 30)]


def test_far_too_many_firsts_of_a_month_are_doubted_and_stay(read: Callable[..., Records]) -> None:
    """A spreadsheet keeps May 2019 as 1 May 2019 (common knowledge, no source); twelve days in 365 are firsts."""
    rows = [str(day) for day in (*MONTHS, *DAYS)]
    records = read(file_of(rows))
    [said] = records.problems().query("code == 'first of the month'").to_dict("records")
    assert (said["row"], said["severity"]) == (0, "doubt")
    assert f"{len(MONTHS) + sum(day.day == 1 for day in DAYS)} of {len(rows)} rows" in said["sentence"]
    assert set(records.frame()["date_kind"]) == {"day"}


@pytest.mark.parametrize(
    "days",
    [
        [str(day) for day in DAYS],
        [str(MONTHS[3])] * 20 + [str(day) for day in DAYS],
        [f"{day:%B %Y}" for day in MONTHS],
    ],
    ids=["any days", "one outing on a first", "months as months"],
)
def test_other_firsts_are_no_matter(read: Callable[..., Records], days: list[str]) -> None:
    assert "first of the month" not in set(read(file_of(days)).problems()["code"])
