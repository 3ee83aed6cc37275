"""Whose days are whose, and who may go where on them: what a volunteer's file, agreed visits and meetings leave over.

Nobody is in two places on one day, and nobody who says no to tides is sent under them: facts of the trade. All other
values can be counted in the rows written here.
"""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from small_area import SQUARES, frames, people, season, settings

from gapmap.grid.projections import grid_to_grid
from gapmap.grid.references import squares_to_references
from gapmap.grid.systems import system_named, utm
from gapmap.settings import AreaSection
from gapmap.visits.people import season_year, without_season
from gapmap.visits.season import Season
from gapmap.visits.volunteers import read_volunteers, text_to_days

NAMES = [str(name) for name in squares_to_references(SQUARES)]
HEAD = "name,home,days,travel,night,methods,groups,tides\n"
FOUR = HEAD + "".join(f"Person {n},OR2261,May 2,30 km,,,,\n" for n in range(4))


def agreed(folder: Path, *rows: str) -> Path:
    path = folder / "agreed.csv"
    path.write_text("volunteer,square,day,month\n" + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


def is_anybody_in_two_places(plan: Season) -> bool:
    each = plan.visits.assign(who=plan.visits["volunteer"].str.split("; ")).explode("who")
    return bool(each[each["day"].notna()].duplicated(["who", "day"]).any())


def test_who_is_out_on_an_agreed_visit_comes_to_no_meeting_that_day(tmp_path: Path) -> None:
    plan = season(
        tmp_path, text=FOUR, agreed=agreed(tmp_path, f"Person 0,{NAMES[0]},2027-05-15,"), meetings=["2027-05-15"]
    )
    (meeting,) = plan.meetings
    assert meeting.people == (1, 2, 3)
    assert not is_anybody_in_two_places(plan)


def test_two_meetings_in_a_month_are_on_two_days(tmp_path: Path) -> None:
    plan = season(tmp_path, text=FOUR, meetings=["5", "5"])
    assert len({meeting.day for meeting in plan.meetings}) == 2
    assert not is_anybody_in_two_places(plan)
    twice = season(tmp_path, text=FOUR, meetings=["2027-05-15", "2027-05-15"])
    assert len(twice.meetings) == 1
    assert sum("No day and place bring 3 people together" in sentence for sentence in twice.sentences) == 1


def test_a_meeting_asked_for_by_its_day_has_the_day_before_one_at_any_time(tmp_path: Path) -> None:
    """All four name the same two days; the second meeting is asked for by its day."""
    text = HEAD + "".join(f"Person {n},OR2261,2027-05-15; 2027-05-16,30 km,,,,\n" for n in range(4))
    for day, other in ((15, 16), (16, 15)):
        plan = season(tmp_path, text=text, meetings=["", f"2027-05-{day}"])
        assert [(meeting.number, meeting.day) for meeting in plan.meetings] == [
            (1, date(2027, 5, other)), (2, date(2027, 5, day)),
        ]  # fmt: skip


def test_a_meeting_sends_nobody_under_the_tides_who_does_not_go_there(tmp_path: Path) -> None:
    """One square alone is dry, so that all four go round it together; where all say yes, two pairs go to two."""
    dry = season(tmp_path, settings(tidal=NAMES[1:]), FOUR, meetings=["5"])
    assert dry.visits.loc[dry.visits["kind"] == "meeting", "square"].tolist() == [SQUARES[0]]
    willing = season(tmp_path, settings(tidal=NAMES[1:]), FOUR.replace(",,,,\n", ",,,,yes\n"), meetings=["5"])
    assert (willing.visits["kind"] == "meeting").sum() == 2


def test_at_a_meeting_everybody_names_the_finds(tmp_path: Path) -> None:
    """Two name woodlice and two harvestmen; a pair that names both and one that does not are expected to find alike."""
    text = HEAD + "".join(
        f"Person {n},OR2261,May 1,30 km,,,{group},\n" for n, group in enumerate(["woodlice"] * 2 + ["harvestmen"] * 2)
    )
    every = season(tmp_path, text=FOUR.replace("May 2", "May 1"), meetings=["5"]).visits
    some = season(tmp_path, text=text, meetings=["5"]).visits
    assert some["gain"].tolist() == pytest.approx(every["gain"].tolist())


def test_a_day_named_twice_is_one_day() -> None:
    assert text_to_days("2027-05-17; 2027-05-17; Jun 1") == ({6: 1, 5: 1}, (date(2027, 5, 17),))


def test_a_named_day_is_taken_before_weekends(tmp_path: Path) -> None:
    text = HEAD + "Ann,OR2261,2027-05-17; May 1,30 km,,,,\n"
    days = season(tmp_path, text=text).visits["day"].dt.strftime("%Y-%m-%d").tolist()
    assert len(days) == 2
    assert "2027-05-17" in days


def test_the_season_is_of_most_days_to_come_not_of_a_slip_or_of_last_year(tmp_path: Path) -> None:
    today = date(2026, 12, 1)
    old, _ = people(tmp_path, HEAD + "A,OR2261,2026-05-16,30 km,,,,\nB,OR2261,May 2,30 km,,,,\n")
    assert season_year(old, 0, today) == 2027
    slip, _ = people(tmp_path, HEAD + "A,OR2261,2072-05-16,30 km,,,,\nB,OR2261,2027-05-16; 2027-05-22,30 km,,,,\n")
    assert season_year(slip, 0, today) == 2027
    plan = season(tmp_path, text=HEAD + "A,OR2261,2026-05-16,30 km,,,,\nB,OR2261,May 2,30 km,,,,\n")
    assert plan.visits["day"].dt.year.tolist() == [2027, 2027]


def test_agreed_visits_of_another_year_or_a_month_gone_by_or_twice_are_one_sentence_each(tmp_path: Path) -> None:
    rows = (
        f"Person 0,{NAMES[0]},2028-05-13,", f"Person 1,{NAMES[1]},,3", f"Person 2,{NAMES[2]},2027-05-22,",
        f"Person 2,{NAMES[2]},2027-05-22,", f"Person 3,{NAMES[3]},,4",
    )  # fmt: skip
    plan = season(tmp_path, text=FOUR, agreed=agreed(tmp_path, *rows), today=date(2027, 4, 10))
    kept = plan.visits[plan.visits["kind"] == "agreed"]
    assert kept["volunteer"].tolist() == ["Person 3", "Person 2"]
    assert [sentence for sentence in plan.sentences if sentence.startswith("agreed.csv")] == [
        "agreed.csv, row 2: the visit of 2028-05-13 is in another year than the season of 2027.",
        "agreed.csv, row 3: the visit of March 2027 is past; its records now count instead.",
        "agreed.csv, row 5: the visit of 2027-05-22 stands in the file twice; the first row was used.",
    ]


def test_a_meeting_handed_back_stays_as_agreed_visits_and_that_is_said(tmp_path: Path) -> None:
    first = season(tmp_path, text=FOUR, meetings=["5"])
    keep = tmp_path / "visits.csv"
    first.visits.assign(square=squares_to_references(first.visits["square"].to_numpy())).to_csv(keep, index=False)
    again = season(tmp_path, text=FOUR, agreed=keep)
    assert again.visits[["volunteer", "square", "day"]].equals(first.visits[["volunteer", "square", "day"]])
    assert sum("do not say where to meet" in sentence for sentence in again.sentences) == 1


def test_in_the_month_that_runs_nobody_gives_more_days_than_are_left_of_it(tmp_path: Path) -> None:
    """Of May 2027 two days are left on the 30th, one of them a Sunday."""
    plan = season(tmp_path, text=HEAD + "Ann,OR2261,May 5,30 km,,,,\n", today=date(2027, 5, 30))
    assert len(plan.visits) == 2
    assert plan.visits["day"].dropna().tolist() == [pd.Timestamp(2027, 5, 30)]
    assert [s for s in plan.sentences if "free day" in s] == ["No free day was found for Ann in May 2027; agree one."]


def test_groups_that_nothing_belongs_to_and_names_that_cannot_be_told_apart_are_said(tmp_path: Path) -> None:
    text = HEAD + 'Ann,OR2261,May 1,30 km,,,woodlouse; harvestmen,\n"Ben; Cy",OR2261,May 1,30 km,,,,\n'
    plan = season(tmp_path, text=text)
    assert plan.sentences == (
        "Ann names groups that no recorded species has: woodlouse; the groups here are harvestmen, woodlice.",
    )
    volunteers, sentences = people(tmp_path, text)
    assert [each.name for each in volunteers] == ["Ann"]
    assert "holds a semicolon" in sentences[0]
    assert set(frames()[2]["group"]) == {"woodlice", "harvestmen"}


def test_methods_are_those_of_the_records_however_they_are_written(tmp_path: Path) -> None:
    """All lists of the small area are hand searches; "HS" is how notebooks write that, "hand searching" is not."""
    text = HEAD + "Ann,OR2261,May 1,30 km,,HS,,\nBen,OR2261,May 1,30 km,,hand searching,,\n"
    volunteers, _ = people(tmp_path, text)
    assert [sorted(each.methods) for each in volunteers] == [["hand search"], ["hand searching"]]
    assert season(tmp_path, text=text).sentences == (
        "Ben looks by hand searching, by which no species here is usually found; that is by hand search.",
    )


def test_how_far_somebody_goes_is_their_own_way_not_that_of_who_goes_with_them(tmp_path: Path) -> None:
    """Homes in the middles of two kilometre squares 20 km apart, east to west: OR2261 and OR4261."""
    text = HEAD + "Near,OR2261,May 1,60 km,,,,\nFar,OR4261,May 1,60 km,,,,\n"
    plan = season(tmp_path, settings(pairs_only=True, cost_a_km=0), text)
    (row,) = plan.visits.to_dict("records")
    asked = plan.people.set_index("volunteer")["farthest_km"]
    at = SQUARES.tolist().index(row["square"])
    east, north = 621_000 + 2000 * (at % 5), 661_000 + 2000 * (at // 5)
    assert asked["Near"] == np.ceil(np.hypot(east - 622_500, north - 661_500) / 1000)
    assert asked["Far"] == np.ceil(np.hypot(east - 642_500, north - 661_500) / 1000)


def test_a_home_is_read_as_the_area_reads_references(tmp_path: Path) -> None:
    """GT0465 without its zone is a square of UTM zone 31, 704 to 705 km east, in an area of that zone; and off Scotland
    by itself. A British home is British in an area of any grid."""
    path = tmp_path / "volunteers.csv"
    path.write_text(HEAD + "Ann,GT0465,May 1,30 km,,,,\nBen,OR2261,May 1,30 km,,,,\n", encoding="utf-8")
    (ann, ben), sentences = read_volunteers(path, utm(31), AreaSection(grid="utm", zones=("31U",)))
    assert sentences == []
    assert (ann.easting, ann.northing) == (704_500, 5_765_500)
    east, north = grid_to_grid(system_named("british"), utm(31), [622_500], [661_500])
    assert (ben.easting, ben.northing) == pytest.approx((east[0], north[0]), abs=0.01)


def test_a_date_written_without_its_year_is_asked_about(tmp_path: Path) -> None:
    """ "May 16" is sixteen days in May, as "May 2" is two: more than a month has weekend days is likelier a date."""
    volunteers, sentences = people(tmp_path, HEAD + "Ann,OR2261,May 16; Jun 10,30 km,,,,\n")
    assert dict(volunteers[0].month_days) == {5: 16, 6: 10}
    assert sentences == [
        "volunteers.csv, row 2: Ann gives 16 days in May; if a date is meant, write it as 2027-05-03."
    ]


def test_a_plan_that_knows_no_season_says_so() -> None:
    """Records of whole years and no months on the checklist: then a plan may send people out in January."""
    [sentence] = without_season(pd.DataFrame({"best_months": ["", ""]}))
    assert "January is as good as June" in sentence
    assert "checklist" in sentence
    assert without_season(pd.DataFrame({"best_months": ["", "May–Jul"]})) == []
