"""Range, season, habitat and evidence, by hand and on an invented coast."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from gapmap.checks.evidence import Evidence
from gapmap.checks.habits import habit_table
from gapmap.checks.identification import identification
from gapmap.checks.oddness import spacing
from gapmap.checks.others import nearest_by_others
from gapmap.checks.range import findings, judge_record, load_known
from gapmap.checks.spreading import spreads
from gapmap.checks.written import read_one_record
from gapmap.errors import GapmapError
from gapmap.grid.systems import system_named
from gapmap.records.table import Records
from gapmap.settings import Settings

MakeRecords = Callable[..., Records]
MakeRow = Callable[..., dict[str, Any]]
Rows = list[dict[str, Any]]

BRITISH = system_named("british")


def test_the_nearest_other_record_is_by_other_people_on_another_list(records_of: MakeRecords, row: MakeRow) -> None:
    # A at 0 and 300 m (one outing), B 4 km north; A again next year 1 km east of the start.
    rows = [
        row("Oniscus asellus", 0, 0, "2015-06-15", 1), row("Oniscus asellus", 300, 0, "2015-06-15", 1),
        row("Oniscus asellus", 0, 4_000, "2015-06-20", 2), row("Oniscus asellus", 1_000, 0, "2016-06-15", 1),
    ]
    evidence = Evidence(records_of(rows).frame(), BRITISH)
    own = evidence.as_they_stand()
    another_list = evidence.of_species.nearest(own.species, own.x, own.y, evidence.outing).metres
    other_people = nearest_by_others(evidence, own.row).metres
    assert another_list.round().tolist() == [1000, 700, 4000, 700]
    assert other_people.round().tolist() == [4000, 4011, 4000, 4123]


def test_without_names_another_list_counts_as_other_people(records_of: MakeRecords, row: MakeRow) -> None:
    rows = [row("Oniscus asellus", 0, 0, "2015"), row("Oniscus asellus", 0, 0, "2016"), row("Oniscus asellus", 0, 0, "2016")]
    evidence = Evidence(records_of(rows).frame(), BRITISH)
    assert nearest_by_others(evidence, np.arange(3)).metres.tolist() == [0, 0, 0]


def test_who_recorded_alone_and_in_company_is_no_other_person(records_of: MakeRecords, row: MakeRow) -> None:
    """A alone, A and B at 1 km, B and C at 3 km, C alone at 7 km, a list that nobody signed at 20 km."""
    at = ((0, 1), (1_000, 2), (3_000, 3), (7_000, 4), (20_000, 0))
    records = records_of([row("Oniscus asellus", east, 0, f"201{n}-06-15", who) for n, (east, who) in enumerate(at)])
    people = pd.DataFrame({"people_id": range(5), "names": ["", "A. Marsh", "A. Marsh; B. Holt", "B. Holt; C. Fenn", "C. Fenn"]})
    for known, expected in ((people, [3_000, 6_000, 3_000, 6_000, 13_000]), (None, [1_000, 1_000, 2_000, 4_000, 13_000])):
        evidence = Evidence(records.frame(), BRITISH, people=known)
        assert nearest_by_others(evidence, np.arange(5)).metres.tolist() == expected
    # Of a species that A alone and in company has found there is none by other people.
    evidence = Evidence(records.frame().head(2), BRITISH, people=people)
    assert nearest_by_others(evidence, np.arange(2)).metres.tolist() == [np.inf, np.inf]


def test_records_not_accepted_or_awaiting_bear_no_witness(records_of: MakeRecords, row: MakeRow) -> None:
    rows = [row("Oniscus asellus", 0, 0, people=1)] + [
        row("Oniscus asellus", 500, 0, people=2, status=status) for status in ("not accepted", "awaiting")]
    metres = nearest_by_others(Evidence(records_of(rows).frame(), BRITISH), np.arange(3)).metres
    assert metres.tolist() == [np.inf, 500, 500]


def test_a_scattered_rarity_is_not_judged_like_a_continuous_species() -> None:
    # 100 records a kilometre apart, and 100 ten kilometres apart; one more of each, 12 km off.
    species = np.repeat([0, 1], 100)
    yard = spacing(species, np.repeat([1_000.0, 10_000.0], 100), np.ones(200, bool), 2)
    continuous, scattered = yard.surprise(np.array([0, 1]), np.array([12_000.0, 9_000.0]), np.zeros(2, bool))
    assert continuous > np.log(20)
    assert scattered < np.log(2)


def test_an_empty_file_and_a_single_record_are_judged_without_fuss(records_of: MakeRecords, row: MakeRow) -> None:
    assert findings(records_of([]), Settings()).empty
    alone = findings(records_of([row("Oniscus asellus", 0, 0)]), Settings())
    assert len(alone) == 1
    assert np.isnan(alone["nearest_m"][0])


def test_one_in_is_a_count_among_accepted_records(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    told = findings(records_of(coast_rows), Settings())
    one_in = told["one_in"].to_numpy()
    for odds in (10, 20, 100):
        assert (one_in >= odds).mean() <= 1 / odds + 0.001
    assert one_in.min() >= 1
    assert set(told.loc[told["one_in"] < 20, "reasons"]) == {""}


def test_winter_is_odd_only_where_people_look_in_winter() -> None:
    # 400 outings in June and, once, 400 or 2 in December; the species on 40 June lists, never in December.
    for winter, is_odd in ((400, True), (2, False)):
        cell = np.concatenate([np.full(400, 11), np.full(winter, 23), np.full(40, 11)])
        kinds = np.concatenate([np.zeros(400 + winter), np.ones(40)]).astype(np.int64)
        outing = np.concatenate([np.arange(400 + winter), np.arange(40)])
        table = habit_table(kinds, cell, outing, 24, circular=True)
        habit = table.judge(np.array([1]), np.array([23]), np.array([False]))
        assert (habit.surprise[0] > np.log(5)) is np.bool_(is_odd)


def test_an_advancing_species_has_a_direction_and_a_speed(records_of: MakeRecords, row: MakeRow) -> None:
    # The edge moves east by 3 km a year while others are looked for all over, every year.
    random, rows = np.random.default_rng(2), []
    for year in range(2000, 2020):
        for _ in range(30):
            rows.append(row("Spreader", int(random.integers(0, 5_000 + 3_000 * (year - 2000))), int(random.integers(0, 5_000)), str(year)))
            for stayer in ("Stayer", *(f"Stayer {letter}" for letter in "BCDEFGHIJKLMN")):
                rows.append(row(stayer, int(random.integers(0, 65_000)), int(random.integers(0, 5_000)), str(year)))
    moving = spreads(Evidence(records_of(rows).frame(), BRITISH))
    spreader = moving[0]
    assert spreader.heading == "east"
    assert spreader.low < 2_700 < spreader.high  # nine tenths of 3 km a year
    # By chance one in forty of those that stay has an interval wholly above nothing; more than three of 14 is no chance.
    assert sum(spread.is_expanding for species, spread in moving.items() if species) <= 3


PAIR = {
    "Sister with four pairs": {"difficulty": "hand lens", "group": "centipedes"},
    "Look-alike": {"difficulty": "dissection", "group": "millipedes"},
    "Nemastoma lugubre": {"difficulty": "sight", "group": "harvestmen"},
}


def _identified(evidence: str, species: int, **others: str) -> tuple[float, str]:
    checklist = pd.DataFrame([{"species_id": index, **facts} for index, facts in enumerate(PAIR.values())])
    record = pd.DataFrame([{"species_id": species, "evidence": evidence, "sex": "", "stage": "", "identified_by": "", **others}])
    found = identification(record, checklist)
    return float(found.short[0]), str(found.ask_for[0])


def test_pairs_of_spines_cannot_be_counted_by_eye() -> None:
    # Common practice, no source: four against five pairs of spines on the leg need magnification.
    short, ask = _identified("seen, by eye", 0)
    assert short > 0
    assert "hand lens" in ask
    assert _identified("hand lens", 0) == (0.0, "")
    assert _identified("microscope", 0) == (0.0, "")


def test_look_alikes_that_only_dissection_separates_stay_at_genus_level() -> None:
    # Common practice, no source.
    for evidence in ("seen", "photograph", "microscope"):
        short, ask = _identified(evidence, 1)
        assert short > 0
        assert "genus level" in ask
    assert _identified("dissection", 1)[0] == 0


def test_a_checklist_that_says_nothing_keeps_the_check_silent() -> None:
    record = pd.DataFrame([{"species_id": 0, "evidence": "", "sex": "female", "stage": "juvenile", "identified_by": ""}])
    found = identification(record, pd.DataFrame([{"species_id": 0, "difficulty": "", "group": ""}]))
    assert (found.short[0], found.ask_for[0]) == (0, "")


def test_females_and_young_that_cannot_be_told_apart_are_asked_about() -> None:
    checklist = pd.DataFrame([{"species_id": 0, "difficulty": "dissection, male, adult", "group": ""}])
    record = {"species_id": 0, "evidence": "dissection", "sex": "male", "stage": "adult", "identified_by": ""}
    for change, is_short in (({}, False), ({"sex": "female"}, True), ({"stage": "juvenile"}, True)):
        assert (identification(pd.DataFrame([record | change]), checklist).short[0] > 0) is np.bool_(is_short)


def test_a_bark_dweller_in_a_kitchen_is_odd_by_habitat_not_by_range(records_of: MakeRecords, row: MakeRow) -> None:
    # Common practice, no source.
    random, rows = np.random.default_rng(4), []
    for number in range(400):
        east, north = (int(v) for v in random.integers(0, 60, 2) * 100)
        indoors = number % 2 == 0
        species = "Kitchen dweller" if indoors else "Bark dweller"
        day = f"2015-{number % 6 + 4:02d}-{number % 28 + 1:02d}"
        rows.append(row(species, east, north, day, number % 5 + 1, habitat="kitchen" if indoors else "under bark"))
    rows.append(row("Bark dweller", 3_000, 3_000, "2016-06-01", 2, habitat="Kitchen"))
    told = findings(records_of(rows), Settings()).iloc[-1]
    assert told["one_in"] >= 20
    assert "It is odd by habitat" in told["reasons"]
    assert "known range" not in told["reasons"]


def test_one_record_is_judged_against_everything_known(records_of: MakeRecords, row: MakeRow) -> None:
    # 600 records of two species by five people, all in three by three kilometres from OR4070.
    random = np.random.default_rng(6)
    rows = [
        row(name, *(int(v) for v in random.integers(0, 30, 2) * 100), f"2014-06-{random.integers(1, 29):02d}", people + 1)
        for name in ("Oniscus asellus", "Philoscia muscorum") for people in range(5) for _ in range(60)
    ]
    known, _, _ = load_known(records_of(rows), Settings())
    usual = judge_record(known, "Oniscus asellus, OR415715, 15 June 2014")
    far = judge_record(known, "Oniscus asellus, NJ4070, 15 June 2014")
    assert usual["one_in"][0] < 20
    assert far["one_in"][0] > 100
    assert far["nearest_m"][0] > 50_000
    assert "nearest other record of Oniscus asellus" in far["reasons"][0]


def test_a_record_tried_is_not_borne_out_by_its_own_list(
    records_of: MakeRecords, row: MakeRow, coast_rows: list[dict[str, Any]]
) -> None:
    """As for a record in a file: what the same people noted on the same day is no other evidence."""
    rows = [*coast_rows, row("Rare one", 2_000, 3_000, "2015-06-15", 1), row("Rare one", 14_000, 3_000, "2014-06-15", 2)]
    records = records_of(rows)
    known, _, _ = load_known(records, Settings())
    wider = known.with_record(read_one_record("Rare one, OR420730, 15 June 2015, Recorder A", known, records.people)[0])
    measures = wider.measure(np.array([len(rows)])).iloc[0]
    assert measures["nearest_m"] == 12_000
    assert measures["outing_m"] == 0
    assert measures["twice"] == 1


def test_a_wide_reference_is_as_near_as_it_may_be(records_of: MakeRecords, row: MakeRow, coast_rows: Rows) -> None:
    """Rare one stands in the south-west corner of OR47, 6.9 km from the middle of that hectad."""
    records = records_of([*coast_rows, row("Rare one", 100, 100, "2015-06-15", 1)])
    known, _, _ = load_known(records, Settings())
    for place, least, most in (
        ("OR47", 0, 0),  # in the hectad itself
        ("OR47A", 0, 0),  # and in its south-western tetrad
        ("OR67", 19_850, 19_850),  # from edge to edge
        ("OR67A", 19_850, 19_850),
        ("OR600700", 19_900, 19_901),  # squares of 100 m are taken for their middles
    ):
        told = judge_record(known, f"Rare one, {place}, 2016", records.people).iloc[0]
        assert least <= told["nearest_m"] <= most, place
        assert most > 0 or "known range" not in told["reasons"]
    with pytest.raises(GapmapError, match="too wide"):
        judge_record(known, "Rare one, OR, 2016", records.people)


def test_a_wide_reference_is_as_near_a_witness_as_it_may_be(
    records_of: MakeRecords, row: MakeRow, coast_rows: Rows
) -> None:
    """Rare one is known from the hectad OR47 alone, whose middle is 6.9 km from its south-western corner."""
    hectad = [row("Rare one", 0, 0, f"{2001 + n}-06-15", n % 3 + 1, precision_m=10_000) for n in range(12)]
    records = records_of([*coast_rows, *hectad])
    known, _, _ = load_known(records, Settings())
    for place, least, most in (
        ("OR401701", 0, 0),
        ("OR47A", 0, 0),
        ("OR47", 0, 0),
        ("OR701701", 20_150, 20_150),  # east of the hectad
        ("OR77", 20_000, 20_000),
    ):
        told = judge_record(known, f"Rare one, {place}, 2016", records.people).iloc[0]
        assert least <= told["nearest_m"] <= most, place
        assert ("known range" in told["reasons"]) is (most > 0)
        assert ("is at least 20 km away" in told["reasons"]) is (most > 0)


def test_how_far_apart_monads_usually_stand_is_told_from_middle_to_middle(
    records_of: MakeRecords, row: MakeRow
) -> None:
    """Monads in a line, two kilometres apart: half of them have another within 2 km, not within the 1.3 km that the
    nearest corners may be apart."""
    rows = [row("Oniscus asellus", 2_000 * n, 0, f"{2000 + n % 20}-06-15", 1, precision_m=1_000) for n in range(60)]
    known, _, _ = load_known(records_of(rows), Settings())
    assert known.spacing is not None
    assert known.spacing.usual(0) == (2_000, 2_000)


def test_one_fine_record_among_wide_ones_is_not_far_for_its_fineness(records_of: MakeRecords, row: MakeRow) -> None:
    """Spacings are measured between middles: 99 records of monads a kilometre apart make 300 m no wonder."""
    rows = [row("Oniscus asellus", 1_000 * n, 0, f"{2000 + n % 20}-06-15", 1, precision_m=1_000) for n in range(99)]
    rows.append(row("Oniscus asellus", 200, 400, "2016-06-20", 2))
    _, judged, _ = load_known(records_of(rows), Settings())
    assert judged["range_odd"].max() < np.log(20)
    assert judged["range_odd"].iloc[-1] < np.log(2)


@pytest.mark.filterwarnings("error")
def test_few_records_make_nothing_impossible_and_none_is_said(records_of: MakeRecords, row: MakeRow) -> None:
    """Rule of succession (Laplace 1774): what was never seen among n is not certain never to be."""
    rows = [row("Oniscus asellus", 500, 500, "2014-06-01", 1), row("Oniscus asellus", 500, 500, "2015-06-01", 1)]
    known, _, _ = load_known(records_of(rows), Settings())
    far = judge_record(known, "Oniscus asellus, NJ4070, 15 June 2014")
    assert np.isfinite(far["one_in"][0])
    nothing, _, _ = load_known(records_of([], {"Oniscus asellus": {}}), Settings())
    with pytest.raises(GapmapError, match="no record with a place"):
        judge_record(nothing, "Oniscus asellus, NJ4070, 15 June 2014")


@pytest.mark.parametrize(("text", "said"), [
    ("Oniscus asellus", "needs a species and a place"), ("Oniscus aselus, OR4070", "did you mean Oniscus asellus"),
    ("Oniscus asellus, nowhere, 2014", "No place can be read"), ("", "needs a species and a place"),
])
def test_a_record_that_cannot_be_read_gets_one_sentence(records_of: MakeRecords, text: str, said: str, coast_rows: list[dict[str, Any]]) -> None:
    known, _, _ = load_known(records_of(coast_rows), Settings())
    with pytest.raises(GapmapError, match=re.escape(said)):
        judge_record(known, text)


def test_several_records_of_one_outing_are_as_new_as_one(records_of: MakeRecords, row: MakeRow, coast_rows: Rows) -> None:
    """A species nobody else has found: noted at five spots of one day it has no witness either. Of the coast's 1,440
    records and these, one or five are without one."""
    for spots in (1, 5):
        new = [row("Rare one", 100 * n, 0, "2015-06-15", 1) for n in range(spots)]
        _, judged, _ = load_known(records_of([*coast_rows, *new]), Settings())
        assert np.exp(judged["range_odd"].iloc[-1]) == pytest.approx((1_440 + spots) / spots, rel=0.02)
