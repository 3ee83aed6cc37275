"""Slips of the pen: each is its own mirror, the right one is offered, and nobody is accused."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gapmap.checks.queue import NOBODY, queue, replies
from gapmap.checks.range import findings
from gapmap.checks.transforms import KINDS, Places, repairs
from gapmap.records.table import Records
from gapmap.settings import Settings

MakeRecords = Callable[..., Records]

SQUARES = np.array([[1, 500_000, 500_000], [1, 400_000, 500_000]])
#: Kinds that lead back by the same kind; dropped and doubled digits lead back by each other.
MIRRORS = ("letters", "exchanged", "digit", "digits exchanged")


def places(easting: int, northing: int, precision: int = 100) -> Places:
    one = [np.array([value]) for value in (0, 1, easting, northing, precision)]
    return Places(*one, is_point=np.array([False]))


def meant(kind: str, place: Places) -> set[tuple[int, int, int]]:
    return {
        (int(e), int(n), int(p)) for name, found in repairs(place, SQUARES) if name == kind
        for e, n, p in zip(found.easting, found.northing, found.precision_m, strict=True)
    }


@settings(deadline=None)
@given(st.integers(0, 999), st.integers(0, 999), st.sampled_from(MIRRORS))
def test_slips_lead_back(east: int, north: int, kind: str) -> None:
    start = (500_000 + east * 100, 500_000 + north * 100, 100)
    for there in meant(kind, places(*start)):
        assert start in meant(kind, places(*there))


def test_slips_by_hand() -> None:
    # 467 east, 723 north in the hundred-kilometre square that begins at 500 000, 500 000.
    place = places(546_700, 572_300)
    assert meant("exchanged", place) == {(572_300, 546_700, 100)}
    assert (446_700, 572_300, 100) in meant("letters", place)
    assert (576_400, 572_300, 100) not in meant("digits exchanged", place)
    assert {(564_700, 572_300, 100), (547_600, 572_300, 100), (546_700, 527_300, 100)} <= meant("digits exchanged", place)
    assert (526_700, 572_300, 100) in meant("digit", place)
    assert len(meant("digit", place)) == 36  # nine others for each of two leading digits in two halves
    # Figures 4672 with the first of each half left out read 62, a hectad.
    assert (546_000, 572_000, 1_000) in meant("digit dropped", places(560_000, 520_000, 10_000))


def test_a_tetrad_letter_and_a_quadrant() -> None:
    # DINTY, common practice: tetrad W is 8 km east and 2 km north in its hectad (V, below it, is the south-east corner).
    tetrad = places(548_000, 572_000, 2_000)
    assert meant("tetrad and quadrant", tetrad) >= {(540_000, 570_000, 5_000), (540_000, 575_000, 5_000)}
    quadrant = places(540_000, 570_000, 5_000)  # SW
    assert (548_000, 572_000, 2_000) in meant("tetrad and quadrant", quadrant)


def test_a_wrong_letter_is_found_and_the_list_of_the_day_is_the_clue(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    rows = coast_rows
    rows[700] = rows[700] | {"easting": rows[700]["easting"] - 100_000}
    told = findings(records_of(rows), Settings())
    assert told["one_in"].idxmax() == 700 or told["one_in"][700] >= 100
    assert "Could the letters be O" in told["slip"][700]
    assert "list of the same people on the same day stands there" in told["slip"][700]


def test_day_and_month_exchanged_is_offered(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    rows = []
    for number, entry in enumerate(coast_rows):
        day = f"{entry['date_from'][:4]}-{3 + number % 2 * 2:02d}-{number % 28 + 1:02d}"
        rows.append(entry | {"date_from": day, "date_to": day})
    # A species of March only, on a list of 3 May: meant was 5 March.
    spring = [r | {"species": "March one"} for r in rows if r["date_from"][5:7] == "03"][:300]
    late = next(r for r in rows if r["date_from"][5:7] == "05") | {"species": "March one"}
    late = late | {"date_from": late["date_from"][:4] + "-05-03", "date_to": late["date_from"][:4] + "-05-03"}
    told = findings(records_of([*rows, *spring, late]), Settings())
    assert "Could day and month have changed places (5 March" in told["slips"].iloc[-1]


def test_nothing_in_the_wording_accuses_anybody(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    rows = coast_rows
    for index in range(0, 1400, 37):
        rows[index] = rows[index] | {"easting": rows[index]["easting"] - 100_000}
    records = records_of(rows)
    table = queue(findings(records, Settings()), records)
    words = " ".join(replies(table).values()) + " ".join(sentence for _, sentence in KINDS.values())
    for harsh in ("wrong", "error", "mistake", "incorrect", "false", "careless", "implausible", "reject", "you should", "!"):
        assert harsh not in words.casefold()


def test_the_queue_is_grouped_by_recorder_and_leaves_out_what_is_settled(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    rows = coast_rows
    for index in (100, 101, 900):
        rows[index] = rows[index] | {"easting": rows[index]["easting"] - 100_000}
    rows.append(rows[0] | {"people_id": 0, "northing": rows[0]["northing"] + 200_000})
    records = records_of(rows)
    told = findings(records, Settings())
    table = queue(told, records)
    assert table["first"].is_monotonic_decreasing
    for _, part in table.groupby("first"):
        changes = (part["recorders"] != part["recorders"].shift()).sum()
        assert changes == part["recorders"].nunique()
    assert {101, 102, 901} <= set(table["record_id"])
    assert NOBODY in replies(table)
    assert replies(table)[NOBODY].startswith("Dear recorder,")
    records.connection.execute("create table decided as select 101::bigint as record_id, 'accepted' as decision")
    assert 101 not in set(queue(told, records)["record_id"])


def test_an_empty_queue_has_its_columns(records_of: MakeRecords) -> None:
    records = records_of([])
    table = queue(findings(records, Settings()), records)
    assert table.empty
    assert replies(table) == {}


_spec = importlib.util.spec_from_file_location("slips", Path(__file__).parents[1] / "benchmarks" / "slips.py")
assert _spec is not None
assert _spec.loader is not None
benchmark = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(benchmark)


@pytest.mark.open_data
@pytest.mark.parametrize(("kind", "least"), [("wrong letters", 0.95), ("exchanged", 0.90), ("leading digit", 0.70)])
def test_injected_slips_are_found_in_real_records(kind: str, least: float) -> None:
    # Real records of butterflies and bees; the goals are this project's own.
    result = benchmark.try_kind("edinburgh", kind, 2026)
    if result is None:
        pytest.skip("the open Edinburgh data are not beside the project")
    assert result["found"] >= least * result["damaged"]
    assert result["repaired"] >= 0.8 * result["found"]
    assert result["found"] > result["plain"]
