"""The numbers in the sentences, each counted by hand on a dense cluster of records and a few far from it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from gapmap.checks.between import between, firsts
from gapmap.checks.evidence import Evidence
from gapmap.checks.oddness import spacing
from gapmap.checks.queue import queue, replies
from gapmap.checks.range import findings, judge_record, load_known
from gapmap.grid.references import references_to_squares
from gapmap.grid.systems import system_named
from gapmap.records.table import Records
from gapmap.settings import Settings

MakeRecords = Callable[..., Records]
MakeRow = Callable[..., dict[str, Any]]
Row = dict[str, Any]
OTHER = "by other people or of another date"


@pytest.fixture
def home(row: MakeRow) -> list[Row]:
    """Sixty records of Rare one within a kilometre of OR4070, a list for each, and another species on each list."""
    rows = []
    for number in range(60):
        place, day = (number % 8 * 100, number // 8 * 100), f"20{10 + number % 8}-06-{number % 28 + 1:02d}"
        rows += [row(name, *place, day, number % 4 + 1) for name in ("Rare one", "Common one")]
    return rows


def said(records: Records, number: int = -1) -> list[str]:
    told = findings(records, Settings()).iloc[number]
    assert told["one_in"] >= 20
    return str(told["reasons"]).splitlines()


def test_the_nearest_record_has_its_own_distance_and_year(records_of: MakeRecords, row: MakeRow, home: list[Row]) -> None:
    """5 km off in 1950 is nearer than 9 km off in 2014, though an old record is felt as farther."""
    far = [row("Rare one", 45_000, 0, "1950-06-15", 5), row("Rare one", 40_000, 9_000, "2014-06-15", 6),
           row("Rare one", 40_000, 0, "2015-06-15", 7)]  # fmt: skip
    assert any(f"Rare one, {OTHER}, is 5.0 km away (1950);" in line for line in said(records_of([*home, *far])))
    # The same people on the same day at the old place too: what makes it another record is still of 1950.
    far.insert(0, row("Rare one", 45_000, 0, "2015-06-15", 7))
    assert any(f"Rare one, {OTHER}, is 5.0 km away (1950);" in line for line in said(records_of([*home, *far])))
    far[1] |= {"date_from": "1940-01-01", "date_to": "1949-12-31", "date_kind": "decade"}
    assert any(f"Rare one, {OTHER}, is 5.0 km away (1940 to 1949);" in line for line in said(records_of([*home, *far])))


def test_the_squares_on_the_way_are_all_counted(records_of: MakeRecords, row: MakeRow, home: list[Row]) -> None:
    """200 km east of the cluster's eastern edge in OR4070 lie 99 squares of 2 km in between, one of them looked at."""
    looked = row("Common one", 60_000, 0, "2012-06-15", 5)
    lines = said(records_of([*home, looked, row("Rare one", 200_700, 0, "2015-06-15", 6)]))
    assert (
        "On the way there nobody has looked much (1 square is hardly worked, 98 squares are without any record (land or sea)), "
        "so that the gap by itself says little." in lines
    )
    # Ten lists make a square well worked; those that name a hectad lie in none of its squares.
    many = [row("Common one", 60_000, 0, f"2012-07-{n + 1:02d}", 5) for n in range(10)]
    coarse = [row("Common one", 80_000, 0, f"2012-08-{n + 1:02d}", 5, precision_m=10_000) for n in range(10)]
    lines = said(records_of([*home, *many, *coarse, row("Rare one", 200_700, 0, "2015-06-15", 6)]))
    assert "On the way there 1 square is well worked and without it, 98 squares are without any record (land or sea)." in lines


def test_squares_at_sea_are_not_said_to_be_without_records(records_of: MakeRecords, row: MakeRow, home: list[Row]) -> None:
    """Of the 98 squares nobody has looked at, three belong to the area; the one looked at counts wherever it lies."""
    looked = row("Common one", 60_000, 0, "2012-06-15", 5)
    records = records_of([*home, looked, row("Rare one", 200_700, 0, "2015-06-15", 6)])
    area = references_to_squares(["OR60A", "OR47A", "OR57A", "OR57F", "OR67F"], "british").squares
    told = findings(records, Settings(), area=area).iloc[-1]
    assert "(1 square is hardly worked, 3 squares are without any record)" in told["reasons"]


@pytest.mark.parametrize(("places", "degrees"), [
    ([(20_000, 0)], 360), ([(20_000, 0), (0, 20_000)], 270), ([(20_000, 0), (-20_000, 0)], 180),
    ([(20_000, 0), (0, 20_000), (-20_000, 0), (0, -20_000)], 90),
])  # fmt: skip
def test_the_widest_empty_sector(
    records_of: MakeRecords, row: MakeRow, places: Sequence[tuple[int, int]], degrees: int
) -> None:
    rows = [row("Rare one", 0, 0, "2015-06-15", 1), *(row("Rare one", *at, "2014-06-15", 2) for at in places)]
    found = between(Evidence(records_of(rows).frame(), system_named("british")), np.array([0]), *np.full((2, 1), np.nan), 2_000, 10)
    assert found.empty_sector.tolist() == [degrees]


def test_a_gap_between_two_clusters_is_inside_the_range(records_of: MakeRecords, row: MakeRow) -> None:
    """Thirty places 20 km east, thirty 25 km west: the nearest two dozen all lie east, and the west counts as well."""
    rows = [row("Rare one", 0, 0, "2015-06-15", 1)]
    for n in range(30):
        rows += [row("Rare one", east, 200 * (n - 15), f"2014-06-{n % 28 + 1:02d}", 2) for east in (20_000, -25_000)]
    evidence = Evidence(records_of(rows).frame(), system_named("british"))
    assert between(evidence, np.array([0]), *np.full((2, 1), np.nan), 2_000, 10).empty_sector[0] < 180
    # A slip of a hundred kilometres on the far side is no part of what lies around.
    rows = [one for one in rows if one["easting"] >= 640_000] + [row("Rare one", -100_000, 0, "2014-06-20", 3)]
    found = between(Evidence(records_of(rows).frame(), system_named("british")), np.array([0]), *np.full((2, 1), np.nan), 2_000, 10)
    assert found.empty_sector[0] > 340
    assert 39_000 < found.looked_m[0] < 41_000  # twice as far as the nearest


def test_how_far_apart_a_species_usually_stands_is_told_in_true_metres(records_of: MakeRecords, row: MakeRow) -> None:
    """Forty places a kilometre apart, 1950 and 2010 in turn; felt, the next of its own time is nearer."""
    rows = [row("Rare one", 1_000 * n, 0, f"{1950 if n % 2 else 2010}-06-15", 1 + n % 2) for n in range(40)]
    rows = [one | {"people_id": 1 + n % 8} for n, one in enumerate(rows)]
    known, _, _ = load_known(records_of([*rows, *(one | {"species": "Common one"} for one in rows)]), Settings())
    assert known.spacing is not None
    assert known.spacing.usual(1) == (1_000, 1_000)


def test_of_few_records_nothing_usual_is_said(records_of: MakeRecords, row: MakeRow, coast_rows: list[Row]) -> None:
    """Rare one is known from one list alone, which has no other to be apart from."""
    yard = spacing(np.zeros(3, np.int64), np.full(3, np.inf), np.ones(3, bool), 1)
    assert yard.usual(0) is None
    assert spacing(np.zeros(9, np.int64), np.ones(9), np.ones(9, bool), 1).usual(0) is None
    assert spacing(np.zeros(10, np.int64), np.ones(10), np.ones(10, bool), 1).usual(0) == (1, 1)


def test_a_hectad_s_record_is_the_first_of_no_square(records_of: MakeRecords, row: MakeRow, home: list[Row]) -> None:
    """A hectad, a place finely told in the square around its middle, and a second one beside that."""
    hectad = row("Rare one", 60_000, 0, "2015-06-15", 5, precision_m=10_000)
    assert "It is the first for its hectad." in said(records_of([*home, hectad]))
    rows = [hectad, row("Rare one", 65_000, 5_000, "2014-06-15", 6), row("Rare one", 65_100, 5_000, "2013-06-15", 7)]
    for count, square, is_hectad in ((1, [False], [True]), (2, [False, True], [False] * 2), (3, [False] * 3, [False] * 3)):
        found = firsts(Evidence(records_of(rows[:count]).frame(), system_named("british")), np.arange(count), 2_000)
        assert (found["square"].tolist(), found["hectad"].tolist()) == (square, is_hectad)


def test_a_sensitive_species_is_told_no_finer_than_it_may_be(
    records_of: MakeRecords, row: MakeRow, home: list[Row]
) -> None:
    """Rare one may be published in hectads: who gets three letters with exact distances knows where it is."""
    far = [row("Rare one", 14_040, 0, "2014-06-15", 6), row("Rare one", 16_040, 0, "2015-06-15", 5)]
    for sensitive_m in (0, 10_000):
        records = records_of([*home, *far])
        records.species.loc[records.species["name"] == "Rare one", "sensitive_m"] = sensitive_m
        told = findings(records, Settings())
        letters = "\n".join(replies(queue(told.assign(first=True), records)).values())
        assert told["nearest_m"].iloc[-1] == 2_000  # for the desk
        assert ("is 2.0 km away" in letters) is (sensitive_m == 0)
        assert ("is less than 10 km away" in letters) is (sensitive_m > 0)
        known, _, _ = load_known(records, Settings())
        alone = judge_record(known, "Rare one, OR720700, 16 June 2016").iloc[0]["reasons"]
        assert ("16 km away" in alone, "about 20 km away" in alone) == (sensitive_m == 0, sensitive_m > 0)


def test_only_what_was_dated_alike_is_said_to_be(records_of: MakeRecords, row: MakeRow, home: list[Row]) -> None:
    """The same people's record 60 km off: of that day, of that year, and both without a date."""
    for dates, words in (
        ({}, ["The same people's other records of that day lie at least 60 km away."]),
        ({"date_from": "2012-01-01", "date_to": "2012-12-31", "date_kind": "year"},
         ["The same people's other records of the same dates lie at least 60 km away."]),
        ({"date_from": None, "date_to": None, "date_kind": "unknown"}, []),
    ):  # fmt: skip
        pair = [row("Common one", 0, 0, "2012-06-15", 7) | dates, row("Common one", 60_000, 0, "2012-06-15", 7) | dates]
        lines = said(records_of([*home, *pair]))
        assert [line for line in lines if "other records of" in line] == words


@pytest.mark.parametrize(("others", "words"), [
    ({"species": "Common one"}, f"In the whole area Lone one has no other record, {OTHER}, to compare it with."),
    ({"status": "awaiting"}, f"no other record, {OTHER}, that is accepted and placed to 10 km or finer, to compare it with."),
    ({"precision_m": 20_000}, f"no other record, {OTHER}, that is accepted and placed to 10 km or finer, to compare it with."),
])  # fmt: skip
def test_records_that_bear_no_witness_are_not_said_to_be_none(
    records_of: MakeRecords, row: MakeRow, home: list[Row], others: Row, words: str
) -> None:
    twelve = [row("Lone one", 0, 0, f"2012-05-{n + 1:02d}", n % 4 + 1) | others for n in range(12)]
    assert any(words in line for line in said(records_of([*home, *twelve, row("Lone one", 60_000, 0, "2012-06-05", 7)])))
