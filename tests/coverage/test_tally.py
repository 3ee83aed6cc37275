"""The tally and the lists, against small pictures counted by eye.

Squares of 2 km from the corner of OQ; everything below lies in the first one (0 to 2000 m east and north) or
in the one east of it.
"""

from __future__ import annotations

import random

import pandas as pd
import pytest
import sqlglot
from sqlglot import exp

from gapmap.coverage import finds
from gapmap.coverage.classes import choose_classes
from gapmap.coverage.effort import effort
from gapmap.coverage.statement import tally_sql
from gapmap.coverage.tally import across_classes, lists_and_finds, tally, too_coarse, too_coarse_squares
from gapmap.grid.squares import pack
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-2010, 2011-")
HOME = int(pack(1, 2000, 500_000, 600_000).item())
EAST = int(pack(1, 2000, 502_000, 600_000).item())


def counts(frame: pd.DataFrame, square: int, species: int) -> dict[int, tuple[int, int, int]]:
    """Records, visits and lists by date class."""
    rows = frame[(frame["square"] == square) & (frame["species_id"] == species)]
    return {int(r.date_class): (int(r.records), int(r.visits), int(r.lists)) for r in rows.itertuples()}


def test_a_record_counts_in_its_class_and_in_the_total(make_records) -> None:
    records = make_records([
        (7, 100, 100, 100, "1999-05-03", 1),
        (7, 100, 100, 100, "2005-05-03", 1),
        (7, 100, 100, 100, "2005-05-04", 1),
    ])
    assert counts(tally(records, 2000, CLASSES), HOME, 7) == {-1: (3, 3, 3), 0: (1, 1, 1), 1: (2, 2, 2)}


def test_dates_across_classes_count_in_the_total_only(make_records) -> None:
    records = make_records([(7, 0, 0, 1000, "1999/2002", 1), (7, 0, 0, 1000, "2000-12/2001-01", 1)])
    assert counts(tally(records, 2000, CLASSES), HOME, 7) == {-1: (2, 0, 1)}
    assert across_classes(records, CLASSES) == 2


def test_open_dates_belong_to_a_class_open_at_the_same_end(make_records) -> None:
    records = make_records([(7, 0, 0, 1000, "/1950", 0), (7, 0, 0, 1000, "2015/", 0), (7, 0, 0, 1000, "", 0)])
    assert counts(tally(records, 2000, CLASSES), HOME, 7) == {-1: (3, 0, 0), 0: (1, 0, 0), 2: (1, 0, 0)}


def test_what_was_not_accepted_does_not_count(make_records) -> None:
    records = make_records([
        (7, 0, 0, 100, "2005-05-03", 1, {"status": "not accepted"}),
        (8, 0, 0, 100, "2005-05-03", 1, {"status": "awaiting"}),
        (9, 0, 0, 10_000, "2005-05-03", 1, {"status": "not accepted"}),
    ])
    assert tally(records, 2000, CLASSES)["species_id"].unique().tolist() == [8]
    assert too_coarse(records, 2000) == 0
    lists, finds = lists_and_finds(records, 2000, CLASSES)
    assert finds["species_id"].tolist() == [8]
    assert lists["length"].tolist() == [1]


def test_a_record_too_coarse_is_in_no_square_and_is_counted(make_records) -> None:
    records = make_records([(7, 0, 0, 10_000, "2005", 1), (7, 0, 0, 2000, "2005", 1), (7, 2000, 0, 1000, "2005", 1)])
    frame = tally(records, 2000, CLASSES)
    assert counts(frame, HOME, 7) == {-1: (1, 0, 1), 1: (1, 0, 1)}
    assert counts(frame, EAST, 7) == {-1: (1, 0, 1), 1: (1, 0, 1)}
    assert too_coarse(records, 2000) == 1
    assert too_coarse(records, 10_000) == 0
    lists, _ = lists_and_finds(records, 2000, CLASSES)
    assert sorted(lists["square"].tolist()) == sorted([-1, HOME, EAST])


def test_one_walk_with_many_references_is_one_visit_to_the_square(make_records) -> None:
    """Three finds with their own 10 m references, the same people and day: one list of three species."""
    records = make_records([
        (1, 110, 110, 10, "2005-05-03", 4), (2, 520, 800, 10, "2005-05-03", 4), (3, 1500, 900, 10, "2005-05-03", 4),
        (1, 110, 110, 10, "2005-05-03", 5), (1, 2110, 110, 10, "2005-05-03", 4),
    ])
    lists, finds = lists_and_finds(records, 2000, CLASSES)
    home = lists[lists["square"] == HOME]
    assert home["length"].tolist() == [3, 1]
    assert home["people_id"].tolist() == [4, 5]
    assert home[["easting", "northing", "precision_m"]].to_numpy().tolist() == [
        [500_000, 600_000, 2000], [500_110, 600_110, 10],
    ]
    assert len(lists) == 3
    assert finds.groupby("list_id")["species_id"].apply(list).tolist() == [[1, 2, 3], [1], [1]]
    assert counts(tally(records, 2000, CLASSES), HOME, 1)[-1] == (2, 2, 2)


def test_year_lists_nobody_signed_stay_apart(make_records) -> None:
    """Two references in one square in 2005: signed they are one list, unsigned two; unsigned visits are one."""
    def lists_of(dates: str, people: int) -> int:
        rows = [(1, 0, 0, 1000, dates, people), (2, 1000, 0, 1000, dates, people)]
        return len(lists_and_finds(make_records(rows), 2000, CLASSES)[0])

    assert (lists_of("2005", 4), lists_of("2005", 0), lists_of("2005-05-01", 0)) == (1, 2, 1)


def test_a_year_list_is_a_list_and_no_visit(make_records) -> None:
    records = make_records([(1, 0, 0, 1000, dates, 4) for dates in ("2005", "2005-05", "2005-05-02")])
    assert counts(tally(records, 2000, CLASSES), HOME, 1)[1] == (3, 1, 3)
    lists, _ = lists_and_finds(records, 2000, CLASSES)
    assert lists[["year", "month"]].to_numpy().tolist() == [[2005, 0], [2005, 5], [2005, 5]]
    assert lists["is_visit"].tolist() == [False, False, True]


def test_a_night_over_two_days_is_one_visit_in_the_month_of_its_first(make_records) -> None:
    """Traps set in the evening and emptied in the morning: three nights are three visits, two of them of May."""
    nights = ("2005-05-11/2005-05-12", "2005-05-31/2005-06-01", "2004-12-31/2005-01-01")
    records = make_records([(1, 0, 0, 1000, dates, 4) for dates in (*nights, "2005-05-11/2005-05-13")])
    assert counts(tally(records, 2000, CLASSES), HOME, 1)[1] == (4, 3, 4)
    lists, _ = lists_and_finds(records, 2000, CLASSES)
    assert sorted(lists.loc[lists["is_visit"], ["year", "month"]].to_numpy().tolist()) == [[2004, 12], [2005, 5], [2005, 5]]
    total = effort(records, 2000, CLASSES).query("date_class == -1").iloc[0]
    assert (total["lists"], total["visits"], total["days"]) == (4, 3, 3)
    assert total["months"] == 1 << 4 | 1 << 11


def test_first_and_last_year(make_records) -> None:
    records = make_records([
        (1, 0, 0, 1000, "1980/1989", 0), (1, 0, 0, 1000, "1995-02-02", 0), (1, 0, 0, 1000, "2003", 0),
        (2, 0, 0, 1000, "1950/1975", 0), (3, 0, 0, 1000, "/1920", 0), (4, 0, 0, 1000, "", 0),
    ])
    total = tally(records, 2000, CLASSES).query("date_class == -1").set_index("species_id")
    assert total[["first", "last"]].to_numpy().tolist() == [[1995, 2003], [1950, 1975], [1920, 1920], [0, 0]]


def test_known_from_is_the_first_class_that_begins_after_a_record(make_records) -> None:
    records = make_records([
        (1, 0, 0, 1000, "1990", 0), (2, 0, 0, 1000, "1998/2005", 0), (3, 0, 0, 1000, "2012", 0),
    ])
    total = tally(records, 2000, CLASSES).query("date_class == -1").set_index("species_id")
    assert total["known_from"].tolist() == [1, 2, 3]


def test_names_that_are_no_species_are_marked_and_do_not_lengthen_a_list(make_records) -> None:
    records = make_records([(1, 0, 0, 1000, "2005-05-02", 4), (2, 0, 0, 1000, "2005-05-02", 4)], others=[2])
    frame = tally(records, 2000, CLASSES)
    assert frame.groupby("species_id")["counts"].all().to_dict() == {1: True, 2: False}
    lists, finds = lists_and_finds(records, 2000, CLASSES)
    assert lists["length"].tolist() == [1]
    assert finds["species_id"].tolist() == [1, 2]


def test_a_list_has_the_hour_that_its_records_tell(make_records) -> None:
    """Hours at most two apart are one outing; wider apart, or none, tell of no hour."""
    told = {"2005-05-01": ["10", "12"], "2005-05-02": ["09", "15"], "2005-05-03": ["night"], "2005-05-04": ["00", ""]}
    rows = [(1, 0, 0, 1000, day, 4, {"time_of_day": hour}) for day, hours in told.items() for hour in hours]
    lists, _ = lists_and_finds(make_records(rows), 2000, CLASSES)
    assert lists["hour"].tolist() == [11, -1, -1, 0]


def test_no_records(make_records) -> None:
    records = make_records([])
    lists, finds = lists_and_finds(records, 2000, CLASSES)
    assert len(tally(records, 2000, CLASSES)) == len(lists) == len(finds) == too_coarse(records, 2000) == 0
    assert [one.label for one in choose_classes(records)] == ["all years"]


def test_classes_chosen_hold_every_dated_record(make_records) -> None:
    records = make_records([(1, 0, 0, 1000, str(year), 0) for year in range(1960, 2024)])
    classes = choose_classes(records)
    assert [one.label for one in classes] == ["to 2000", "2001–2010", "from 2011"]
    assert across_classes(records, classes) == 0


@pytest.mark.parametrize("side", [1000, 2000, 5000, 10_000])
def test_rows_and_records_add_up(make_records, side: int) -> None:
    """Every record that counts is in one square's total or too coarse."""
    rows = []
    for n in range(300):
        width = (10, 100, 1000)[n % 3]
        east, north = (step * n % 20_000 // width * width for step in (37, 91))
        rows.append((n % 5, east, north, width, str(1990 + n % 30), n % 4))
    records = make_records([*rows, *[(1, 0, 0, 10_000, "2001", 0)] * 7])
    total = tally(records, side, CLASSES).query("date_class == -1")["records"].sum()
    assert total + too_coarse(records, side) == 307


def test_records_too_coarse_are_shown_in_the_smallest_square_that_holds_them(make_records) -> None:
    """Two of a hectad, one of a tetrad that lies across two quadrants, one of a monad that is fine enough."""
    records = make_records([
        (7, 0, 0, 10_000, "2005-05-03", 1),
        (8, 0, 0, 10_000, "2006-05-03", 1),
        (7, 4_000, 2_000, 2_000, "2005-05-03", 1),
        (7, 0, 0, 1_000, "2005-05-03", 1),
        (7, 0, 0, 10_000, "2005-05-03", 1, {"status": "not accepted"}),
    ])
    at_two, at_five = too_coarse_squares(records, 2_000), too_coarse_squares(records, 5_000)
    hectad = int(pack(1, 10_000, 500_000, 600_000).item())
    assert dict(zip(at_two["square"], at_two["records"], strict=True)) == {hectad: 2}
    assert dict(zip(at_five["square"], at_five["records"], strict=True)) == {hectad: 3}
    assert at_five["records"].sum() == too_coarse(records, 5_000)
    assert too_coarse_squares(records, 10_000).empty


DATES = (
    "1999-05-03", "2000-12-31", "2001-01-01", "2011-07", "2005", "1990/2005", "/1950", "2012/", "", "2000-12/2001-01",
)  # fmt: skip


@pytest.mark.parametrize("at_once", [7, finds.MOST_AT_ONCE])
@pytest.mark.parametrize("classes", ["-2000, 2001-2010, 2011-", "1990-1999"])
def test_the_tally_is_what_the_relational_statement_says(make_records, monkeypatch, at_once, classes) -> None:
    """DuckDB's own grouping is the reference; whole squares at a time give the same as all at once."""
    monkeypatch.setattr(finds, "MOST_AT_ONCE", at_once)
    monkeypatch.setattr(finds, "MOST_GROUPED", 5 * at_once)
    lot = random.Random(20_262)
    rows = [
        (
            lot.randrange(5), 1000 * lot.randrange(8), 1000 * lot.randrange(4), lot.choice((100, 1000, 2000, 5000)),
            lot.choice(DATES), lot.randrange(3), {"status": lot.choice(("", "", "not accepted"))},
        )
        for _ in range(400)
    ]  # fmt: skip
    records, parted = make_records(rows, others=[3]), text_to_classes(classes)
    expected = records.connection.execute(tally_sql(records, 2000, parted)).df().astype({"species_id": "int32"})
    assert len(expected) > 50
    pd.testing.assert_frame_equal(tally(records, 2000, parted), expected)


def test_the_relational_statement_reckons_with_no_bare_dates(make_records) -> None:
    """The difference of two dates is a number in DuckDB, an interval in standard SQL (ISO/IEC 9075, from memory)."""
    statement = tally_sql(make_records([(1, 0, 0, 100, "2001-05-03", 1)]), 2000, CLASSES)
    tree = sqlglot.parse_one(statement, read="duckdb")
    dates = [cast for cast in tree.find_all(exp.Cast) if cast.is_type("date")]
    assert len(dates) > 5
    assert not [cast.parent.sql() for cast in dates if isinstance(cast.parent, exp.Add | exp.Sub)]
    assert "DATEDIFF" in tree.sql(dialect="spark")


def test_no_records_have_an_empty_tally(make_records) -> None:
    assert tally(make_records([]), 2000, CLASSES).empty
