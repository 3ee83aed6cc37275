"""What stands in the queue and in the letters, counted by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest

from gapmap.checks.queue import queue, replies
from gapmap.checks.range import findings
from gapmap.records.table import Records
from gapmap.settings import Settings
from gapmap.workflow.odd import newest_year

MakeRecords = Callable[..., Records]
MakeRow = Callable[..., dict[str, Any]]
Rows = list[dict[str, Any]]


def moved(rows: Rows, *numbers: int, **others: Any) -> Rows:
    """The rows, some of them a hundred kilometres west of where they belong."""
    return [
        row | {"easting": row["easting"] - 100_000, **others} if number in numbers else row
        for number, row in enumerate(rows)
    ]


def test_what_its_own_file_calls_not_accepted_is_asked_about_no_more(records_of: MakeRecords, coast_rows: Rows) -> None:
    for status, is_asked in (("", True), ("accepted", True), ("awaiting", True), ("not accepted", False)):
        records = records_of(moved(coast_rows, 700, status=status))
        assert (701 in set(queue(findings(records, Settings()), records)["record_id"])) is is_asked


@pytest.mark.parametrize(("first", "last", "words"), [
    # "Before 1950" ends with 1949 and "after 1990" begins with 1991 (as records/dates reads them).
    (None, "1949-12-31", "1949 or before"), ("1991-01-01", None, "1991 or later"),
    (None, "1949-06-15", "15 June 1949 or before"), ("1991-05-01", None, "May 1991 or later"), (None, None, "no date"),
    ("2015-06-15", "2015-06-15", "15 June 2015"), ("2016-02-01", "2016-02-29", "February 2016"),
    ("2015-02-01", "2015-02-28", "February 2015"), ("2016-02-01", "2016-02-28", "1 February 2016 to 28 February 2016"),
    ("1998-01-01", "1998-12-31", "1998"), ("1990-01-01", "1999-12-31", "1990 to 1999"),
    ("1998-04-01", "1998-06-30", "April 1998 to June 1998"), ("2015-12-01", "2016-02-29", "December 2015 to February 2016"),
    ("2015-12-01", "2015-12-31", "December 2015"), ("2015-01-01", "2015-01-31", "January 2015"),
    ("2015-01-01", "2015-06-30", "January 2015 to June 2015"), ("2015-07-01", "2016-12-31", "July 2015 to December 2016"),
    ("2015-01-01", "2015-01-02", "1 January 2015 to 2 January 2015"),
])  # fmt: skip
def test_dates_are_said_as_the_days_they_hold(
    records_of: MakeRecords, row: MakeRow, first: str | None, last: str | None, words: str
) -> None:
    records = records_of([row("Oniscus asellus", 0, 0) | {"date_from": first, "date_to": last, "date_kind": "days"}])
    assert queue(findings(records, Settings()).assign(first=True), records)["date"].tolist() == [words]


def test_a_letter_counts_and_names_as_people_do() -> None:
    def letter(records: int, who: str = "A. Marsh; B. Holt; C. Fenn") -> str:
        item = {"recorders": who, "species": "Oniscus asellus", "reference": "OR467723", "place": "", "date": "2015",
                "reasons": "", "slips": "", "ask_for": "a photograph"}  # fmt: skip
        return replies(pd.DataFrame([item] * records))[who]

    assert letter(1).startswith("Dear A. Marsh, B. Holt and C. Fenn,")
    assert letter(1, "A. Marsh").startswith("Dear A. Marsh,")
    assert "more, which can wait" not in letter(12)
    assert "(There is 1 more, which can wait.)" in letter(13)
    assert "(There are 2 more, which can wait.)" in letter(14)


def test_the_newest_year_counts_what_stands_in_the_queue(
    records_of: MakeRecords, row: MakeRow, coast_rows: Rows
) -> None:
    """180 records lie in 2015, one of them far off; a record of the 2020s lies in no year."""
    decade = row("Oniscus asellus", 0, 0) | {"date_from": "2020-01-01", "date_to": "2029-12-31", "date_kind": "decade"}
    rows = [*moved(coast_rows, 700), decade]
    assert sum(r["date_from"][:4] == "2015" for r in rows) == 180
    records = records_of(rows)
    told = findings(records, Settings())
    table = queue(told, records)
    first = table[table["first"]]["record_id"].tolist()
    assert rows[700]["date_from"][:4] == "2015"
    in_2015 = sum(rows[number - 1]["date_from"][:4] == "2015" for number in first)
    assert newest_year(table, records).startswith(f"Of the 180 records of 2015, {in_2015} ")
    assert in_2015 >= 1
    everything = pd.DataFrame({"record_id": first, "decision": "accepted"})
    records.connection.register("settled", everything)
    records.connection.execute("create table decided as select * from settled")
    assert newest_year(queue(told, records), records).startswith("Of the 180 records of 2015, 0 are among")


def test_of_a_handful_of_records_no_share_is_given(records_of: MakeRecords, row: MakeRow, coast_rows: Rows) -> None:
    """One record of one is 100 %, which says nothing."""
    late = row("Oniscus asellus", 0, 0) | {"date_from": "2030-05-01", "date_to": "2030-05-01"}
    records = records_of([*coast_rows, late])
    said = newest_year(queue(findings(records, Settings()), records), records)
    assert said.startswith("Of the 1 record of 2030, ")
    assert "%" not in said
