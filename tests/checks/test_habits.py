"""Season, hour, habitat, year, height and evidence, counted by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import rasterio
from rasterio.transform import from_origin

from gapmap.checks.evidence import Evidence
from gapmap.checks.habits import HALF_MONTHS, SCALES, TIMES, habit_table, stage_kinds
from gapmap.checks.identification import identification
from gapmap.checks.oddness import two_sided
from gapmap.checks.questions import _other_dates
from gapmap.checks.range import findings, judge_record, load_known
from gapmap.checks.reasons import reasons
from gapmap.checks.spreading import spreads
from gapmap.checks.transforms import Places, repairs
from gapmap.grid.systems import system_named
from gapmap.records.table import Records
from gapmap.settings import RastersSection, Settings

MakeRecords = Callable[..., Records]
MakeRow = Callable[..., dict[str, Any]]
BRITISH = system_named("british")


def table_of(finds: dict[tuple[int, int], int], cells: int, **others: Any) -> Any:
    """From (kind, cell) to the number of outings that found it there; no outing finds two kinds."""
    kinds, cell = (np.repeat([key[which] for key in finds], list(finds.values())) for which in (0, 1))
    return habit_table(kinds, cell, np.arange(len(kinds)), cells, **{"circular": False} | others)


def judged(table: Any, kind: int, cell: int, known: bool = False) -> tuple[float, float, float]:
    habit = table.judge(np.array([kind]), np.array([cell]), np.array([known]))
    return float(habit.found[0]), float(habit.expected[0]), float(habit.surprise[0])


def test_the_lists_that_are_told_are_those_of_the_half_month_itself() -> None:
    """Forty finds in late May (9), none in early May (8); twenty outings for others in each of the two."""
    table = table_of({(0, 9): 40, (1, 8): 20, (1, 9): 20}, HALF_MONTHS, circular=True)
    assert judged(table, 0, 8)[:2] == (0, 40 * 20 / 80)
    assert judged(table, 0, 9)[:2] == (40, 40 * 60 / 80)
    assert judged(table, 0, 9, known=True)[:2] == (39, 39 * 60 / 80)


def test_a_half_month_is_odd_only_with_its_surroundings() -> None:
    """Nothing in early May, but ten in late April and ten in late May: (10 + 0 + 10) × weights are as many as expected."""
    others = {(1, cell): 30 for cell in range(HALF_MONTHS)}
    beside = table_of(others | {(0, 7): 10, (0, 9): 10}, HALF_MONTHS, circular=True)
    assert judged(beside, 0, 8)[2] == 0
    alone = table_of(others | {(0, 19): 60, (0, 21): 60}, HALF_MONTHS, circular=True)
    # 120 × 30 of 840 are 4.3 to be expected in early May; none found: 6.3 over 2.
    assert judged(alone, 0, 8)[2] == pytest.approx(np.log((120 * 30 / 840 + 2) / 2), rel=0.01)


def test_a_little_fewer_is_not_odd() -> None:
    """400 found where 430 could be expected (a line that the island's letters once said was odd)."""
    table = table_of({(0, 0): 400, (0, 1): 460, (1, 0): 30}, 2)
    found, expected, surprise = judged(table, 0, 0)
    assert (found, surprise) == (400, 0)
    assert 400 < expected < 430


def test_the_clock_is_not_held_against_the_word_night() -> None:
    """Sixty finds "at night"; at eleven by the clock others were out as often, and that is night too."""
    night, eleven = 26, 23
    table = table_of({(0, night): 60, (1, night): 60, (1, eleven): 120, (2, 14): 60, (2, eleven): 1}, TIMES, scales=SCALES)
    assert judged(table, 0, eleven)[2] == 0
    assert judged(table, 2, eleven)[2] > np.log(10)  # one of the afternoon is odd there still: 61 × 121/181 = 40.8


def test_no_stage_shares_the_number_of_adults() -> None:
    stages = ["", "adult", "Adult", "juvenile", "larva", "egg", *(f"stage {n}" for n in range(3_000))]
    kinds = stage_kinds(pd.DataFrame({"species_id": 7, "stage": stages}))
    assert (kinds[:3] == 7_000).all()
    assert ((kinds[3:] > 7_000) & (kinds[3:] < 8_000)).all()


def test_a_stage_is_named_when_only_its_own_finds_were_counted(records_of: MakeRecords, row: MakeRow) -> None:
    """Adults on forty lists each half-month, juveniles on those of June and July; one juvenile in late December."""
    rows = []
    for half in range(24):
        for n in range(40):
            at, day = (n % 8 * 100, n // 8 * 100), f"{2010 + n // 4}-{half // 2 + 1:02d}-{10 + half % 2 * 10}"
            rows.append(row("Oniscus asellus", *at, day, n % 4 + 1, stage="adult" if n % 2 else ""))
    rows += [r | {"stage": "juvenile"} for r in rows if r["date_from"][5:7] in ("06", "07")]
    rows.append(row("Oniscus asellus", 100, 100, "2012-12-21", 1, stage="juvenile"))
    known, judged_all, _ = load_known(records_of(rows), Settings())
    # Forty outings a half-month, 41 in late December with this one: 160 × 41 of 961 are 6.8.
    assert judged_all["season_expected"].iloc[-1] == pytest.approx(160 * 41 / 961)
    said = reasons(known, np.array([len(rows) - 1]), judged_all.tail(1))[0]
    assert "Others found Oniscus asellus (juvenile) on no list in late December; from how often people looked" in said
    assert "then or there, 7 lists could be expected." in said


def days_of(day: str) -> set[str]:
    return {str(meant.date()) for meant, _ in _other_dates(pd.Timestamp(day))}


def test_other_dates_are_days_that_have_been() -> None:
    # The 29th of February is there every fourth year: of the years one, ten and a hundred off 2012 only in 1912.
    assert days_of("2012-02-29") == {"1912-02-29"}
    assert days_of("1999-03-04") == {"1999-04-03", "1899-03-04", "1989-03-04", "1998-03-04", "2000-03-04", "2009-03-04"}
    tomorrow = pd.Timestamp.now().normalize() + pd.Timedelta(days=1)
    if (tomorrow.month, tomorrow.day) != (2, 29):
        assert str(tomorrow.date()) not in days_of(str(tomorrow.replace(year=tomorrow.year - 1).date()))


def test_a_year_is_told_by_what_speaks_for_it(records_of: MakeRecords, row: MakeRow, coast_rows: list[dict[str, Any]]) -> None:
    """A hundred years before the recorder's own, on a day when nobody was out: the season is no reason."""
    day = next(d for d in range(1, 29) if f"2012-07-{d:02d}" not in {r["date_from"] for r in coast_rows})
    late = coast_rows[700] | {"date_from": f"1912-07-{day:02d}", "date_to": f"1912-07-{day:02d}"}
    assert coast_rows[700]["people_id"] > 0
    told = findings(records_of([*coast_rows, late]), Settings()).iloc[-1]
    asked = next(line for line in told["slips"].splitlines() if f"{day} July 2012 rather than" in line)
    assert asked.endswith("The same people have other records of about then.")
    assert "have no record of another date in 1912; the nearest year in which they have is 96 years away." in told["reasons"]


def test_vague_dates_are_of_no_year(records_of: MakeRecords, row: MakeRow, coast_rows: list[dict[str, Any]]) -> None:
    """1900 to 2015 holds the recorder's own years; its middle, 1957, is not when it was."""
    vague = coast_rows[700] | {"date_from": "1900-01-01", "date_to": "2015-12-31", "date_kind": "years"}
    known, measures, _ = load_known(records_of([*coast_rows, vague]), Settings())
    assert measures["year"].iloc[-1] == 0
    assert 1957 not in known.evidence.years_of_people.x
    century = [row("Rare one", 100 * n, 0, "2000-06-15", 1) | {"date_from": f"{1901 + n % 20}-01-01", "date_to": "2000-12-31"}
               for n in range(80)]  # fmt: skip
    assert spreads(Evidence(records_of(century).frame(), BRITISH)) == {}


def test_what_was_not_accepted_is_no_height_of_the_species() -> None:
    """Thirty at 20 m; one at 600 m, be it alone or beside thirty at 600 m that were not accepted: two in 32."""
    heights = np.array([20.0] * 30 + [600.0] * 31)
    among = np.array([True] * 30 + [False] * 31)
    assert np.exp(two_sided(heights, np.zeros(61, np.int64), among))[[0, 30, 60]].tolist() == pytest.approx([1, 16, 16])
    among[30] = True  # once it is itself among the accepted, it is one of 31
    assert np.exp(two_sided(heights, np.zeros(61, np.int64), among))[30] == pytest.approx(16)


@pytest.mark.parametrize(("precision_m", "words"), [
    (100, "It stands at 600 m;"), (1_000, "The middle of its reference stands at 600 m;"), (2_000, ""), (10_000, "")])  # fmt: skip
def test_a_wide_reference_has_no_height(
    records_of: MakeRecords, row: MakeRow, tmp_path: Path, precision_m: int, words: str
) -> None:
    """West of OR42 20 m high, east of it 600 m; a tetrad or a hectad may be low where its middle is not."""
    with rasterio.open(tmp_path / "height.tif", "w", driver="GTiff", width=200, height=200, count=1, dtype="float32",
                       crs="EPSG:27700", transform=from_origin(640_000, 690_000, 100, 100)) as raster:  # fmt: skip
        raster.write(np.tile(np.where(np.arange(200) < 25, 20, 600), (200, 1)).astype("float32"), 1)
    rows = [row("Low one", n % 20 * 100, n // 20 * 100, f"20{10 + n % 8}-06-{n % 28 + 1:02d}", n % 4 + 1) for n in range(400)]
    rows.append(row("Low one", 4_000, 0, "2016-06-15", 5, precision_m=precision_m))
    settings = Settings(rasters=RastersSection(height=str(tmp_path / "height.tif")))
    told = findings(records_of(rows), settings)["reasons"].iloc[-1]
    assert (words in told) if words else "stands at" not in told


def test_one_record_says_what_naming_takes_as_a_file_does(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    """A voucher for each look-alike but one."""
    hard = [r | {"species": "Look-alike", "evidence": "dissection"} for r in coast_rows if r["species"] == "Oniscus asellus"]
    rows = [*coast_rows, *hard, hard[0] | {"evidence": "", "people_id": 2, "date_from": "2014-06-15", "date_to": "2014-06-15"}]
    records = records_of(rows, {"Look-alike": {"difficulty": "dissection"}})
    words = "Naming Look-alike takes dissection, and no evidence is given."
    assert words in findings(records, Settings())["reasons"].iloc[-1]
    known, _, _ = load_known(records, Settings())
    told = judge_record(known, f"Look-alike, {place_of(hard[0])}, 15 June 2014, Recorder B", records.people).iloc[0]
    assert words in told["reasons"]
    assert "dissect" in told["ask_for"]


def place_of(one: dict[str, Any]) -> str:
    return f"OR{(one['easting'] - 600_000) // 100:03d}{(one['northing'] - 600_000) // 100:03d}"


def test_nobody_shows_the_way_with_records_that_were_not_accepted() -> None:
    """Ten dissections make one more believable that rests on the eye; not when they were found not to be so."""
    checklist = pd.DataFrame([{"species_id": 0, "difficulty": "dissection", "group": "millipedes"}])
    record = {"species_id": 0, "sex": "", "stage": "", "identified_by": "B. Holt"}
    for status, short in (("accepted", 0.5), ("", 0.5), ("not accepted", 3)):
        shown = [record | {"evidence": "dissection", "status": status}] * 10
        records = pd.DataFrame([*shown, record | {"evidence": "seen", "status": ""}])
        assert identification(records, checklist).short[-1] == short


def test_easting_and_northing_of_plain_metres_are_exchanged_whole() -> None:
    """345 000 east, 672 000 north: the other way round it is in another hundred-kilometre square."""
    one = [np.array([value]) for value in (0, 1, 345_000, 672_000, 10)]
    found = [there for kind, there in repairs(Places(*one, is_point=np.array([True])), np.zeros((0, 3), np.int64)) if kind == "exchanged"]
    assert [(there.easting.tolist(), there.northing.tolist()) for there in found] == [([672_000], [345_000])]
