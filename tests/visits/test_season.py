"""The season as a whole: rules, agreed visits, meetings, days, and a sentence for whatever cannot be planned.

The rules are common practice, no source; values follow from the rows written here.
"""

from __future__ import annotations

import re
import sys
import tomllib
from datetime import date
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from small_area import SQUARES, VOLUNTEERS, people, season, settings

from gapmap.columns import VISITS
from gapmap.errors import ColumnError, FileError, SettingsError
from gapmap.grid.references import squares_to_references
from gapmap.settings import VisitsSection
from gapmap.visits.rules import read_rules

HEAD = "name,home,days,travel,night,methods,groups\n"


def test_the_plan_keeps_everybodys_days_and_reach(tmp_path: Path) -> None:
    plan = season(tmp_path)
    rows = VISITS.check(plan.visits)
    ann = rows[rows["volunteer"].str.contains("Ann")]
    assert 0 < len(ann) <= 4
    assert set(ann["month"]) <= {5, 6}
    ben = rows[rows["volunteer"].str.contains("Ben")]
    assert set(ben["day"].dt.strftime("%Y-%m-%d")) <= {"2027-05-08", "2027-06-12"}
    assert rows["day"].notna().all()
    assert (rows.loc[rows["volunteer"] == "Ann Ashdown", "day"].map(lambda day: day.weekday() >= 5)).all(), (
        "weekends unless named"
    )
    assert not rows.duplicated(["volunteer", "day"]).any()
    assert (rows["travel_m"] <= 30_000).all()
    assert 0.85 <= plan.share <= 1.0
    assert plan.closeness.endswith(("best possible.", "no plan is better."))


def test_the_same_input_gives_the_same_plan(tmp_path: Path) -> None:
    once, again = season(tmp_path, meetings=[""]), season(tmp_path, meetings=[""])
    pd.testing.assert_frame_equal(once.visits, again.visits)
    pd.testing.assert_frame_equal(once.targets, again.targets)
    assert once.sentences == again.sentences


def test_closed_squares_stay_closed_and_nobody_goes_alone_where_two_must(tmp_path: Path) -> None:
    names = [str(name) for name in squares_to_references(SQUARES)]
    chosen = settings(no_go=tuple(names[:10]), protected=({"squares": names[10:15], "months": "5"},), pairs_only=True)
    plan = season(tmp_path, chosen)
    assert len(plan.visits)
    assert not plan.visits["square"].isin(SQUARES[:10]).any()
    assert not (plan.visits["square"].isin(SQUARES[10:15]) & (plan.visits["month"] == 5)).any()
    assert (plan.visits["people"] == 2).all()


def test_a_rule_holds_wherever_a_square_named_in_it_touches_the_map(tmp_path: Path) -> None:
    """All 25 tetrads lie in the hectad OR26, and the kilometre square OR2261 in the second of them.

    A hectad closes all its tetrads, a kilometre square the tetrad it lies in, and neither is "no square of the area".
    """
    every = read_rules(VisitsSection(no_go=("OR26",)), settings().area, SQUARES)
    assert every[1] == []
    assert set(every[0].no_go) == set(SQUARES)
    one, sentences = read_rules(VisitsSection(no_go=("OR2261", "OR26A")), settings().area, SQUARES)
    assert sentences == []
    assert [str(name) for name in squares_to_references(one.no_go)] == ["OR26A", "OR26F"]
    assert season(tmp_path, settings(no_go=("OR26",))).visits.empty


def test_squares_under_the_tide_are_for_those_who_say_yes(tmp_path: Path) -> None:
    names = tuple(str(name) for name in squares_to_references(SQUARES))
    plan = season(tmp_path, settings(tidal=names))
    assert plan.visits.empty
    assert any("reaches no square" in sentence for sentence in plan.sentences)


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("Dee,OR2261,,20 km,no,,", "gives no days"),
        ("Dee,OR2261,May 40,20 km,no,,", "nobody has so many"),
        ("Dee,nowhere,May 1,20 km,no,,", "no grid reference"),
        ("Dee,OR2261,May 1,far,no,,", "how far"),
        ("Dee,OR2261,May 1,20 km,perhaps,,", "yes or no"),
        (",OR2261,May 1,20 km,no,,", "nobody is named"),
        (",,,,,,", "the row is empty"),
        ("Ann,OR2261,May 1,20 km,no,,", "stands in the file twice"),
        ("Dee,OR2261,Smarch 1,20 km,no,,", "no month"),
        ("Dee,OR2261,May 1,.,no,,", "how far Dee travels cannot be read"),
        ("Dee,OR2261,May 1,far,no,,", "how far Dee travels cannot be read"),
        ("Dee,OR2261,May 0,20 km,no,,", "gives no days"),
        ("Dee,OR2261,2027-02-30,20 km,no,,", "cannot be read"),
    ],
)
def test_a_row_that_cannot_be_used_is_one_sentence_and_the_rest_is_planned(tmp_path: Path, row: str, says: str) -> None:
    text = HEAD + "Ann,OR2261,May 1,30 km,no,,\n" + row + "\n"
    volunteers, sentences = people(tmp_path, text)
    assert [v.name for v in volunteers] == ["Ann"]
    assert len(sentences) == 1
    assert says in sentences[0]
    assert "row 3" in sentences[0]
    assert len(season(tmp_path, text=text).visits) == 1


def test_no_reach_days_gone_by_and_strange_squares_are_one_sentence_each(tmp_path: Path) -> None:
    text = VOLUNTEERS + "Far Away,SU1234,May 1,5 km,no,,,\nToo Late,OR2261,2026-05-01,20 km,no,,,\n"
    plan = season(tmp_path, settings(no_go=("SU12A",)), text)
    assert sum("Far Away reaches no square" in s for s in plan.sentences) == 1
    assert sum("Too Late has no days left" in s for s in plan.sentences) == 1
    assert sum("SU12A, which is no square of the area" in s for s in plan.sentences) == 1
    assert len(plan.visits)


def test_own_travel_times_count_and_stray_rows_are_one_sentence_each(tmp_path: Path) -> None:
    near, *others = (str(name) for name in squares_to_references(SQUARES))
    table = tmp_path / "travel.csv"
    slow = "".join(f"Ann Ashdown,{name},900\n" for name in others)
    table.write_text(
        f"volunteer,square,minutes\nAnn Ashdown,{near},5\n{slow}Nobody Known,{near},5\nAnn Ashdown,SU12A,5\n"
        f"Ben Birchall,{near},soon\nBen Birchall,{near},-5\n",
        encoding="utf-8",
    )
    plan = season(tmp_path, travel_table=table)
    own = plan.visits[plan.visits["volunteer"] == "Ann Ashdown"]
    assert set(squares_to_references(own["square"].to_numpy())) <= {near}, "900 minutes are beyond 30 km"
    for says in ("Nobody Known is not among", "SU12A is no square", "is 'soon'", "is '-5'"):
        assert sum(says in sentence and sentence.startswith("travel.csv, row ") for sentence in plan.sentences) == 1


def test_the_settings_of_a_new_area_are_explained_as_they_are(tmp_path: Path) -> None:
    text = files("gapmap.workflow").joinpath("new_area.toml").read_text(encoding="utf-8")
    section = text[text.index("[visits]") :]
    taken = re.sub(r"^# (?=[a-z_]+ = )", "", section, flags=re.MULTILINE)
    told = tomllib.loads(taken)["visits"]
    assert set(told) == set(VisitsSection.model_fields), "every setting has its line"
    plain = VisitsSection().model_dump()
    read = VisitsSection.model_validate(told).model_dump()
    examples = {"travel", "no_go", "protected", "tidal", "two_people"}
    assert {k: v for k, v in read.items() if k not in examples} == {k: v for k, v in plain.items() if k not in examples}


def test_nobody_at_all_gives_an_empty_plan_that_says_so(tmp_path: Path) -> None:
    plan = season(tmp_path, text=HEAD)
    assert plan.visits.empty
    assert plan.targets.empty
    assert "nothing to plan" in plan.closeness


def test_agreed_visits_stay_and_the_rest_goes_round_them(tmp_path: Path) -> None:
    square = str(squares_to_references(SQUARES[:1])[0])
    keep = tmp_path / "agreed.csv"
    keep.write_text(
        f"volunteer,square,day,time_of_day\nAnn Ashdown,{square},2027-05-29,day\nAnn Ashdown,SU12A,2027-05-30,day\n"
        f"Nobody Known,{square},2027-05-29,day\nAnn Ashdown,{square},2026-05-01,day\nAnn Ashdown,{square},2027-06-05,night\n",
        encoding="utf-8",
    )
    plan = season(tmp_path, agreed=keep)
    kept = plan.visits[plan.visits["kind"] == "agreed"]
    assert kept["day"].dt.strftime("%Y-%m-%d").tolist() == ["2027-05-29"]
    assert (plan.visits["volunteer"].str.contains("Ann") & (plan.visits["month"] == 5)).sum() <= 2
    for says in ("SU12A is no square", "Nobody Known is not among", "is past; its records", "alone where two must go"):
        assert sum(says in sentence for sentence in plan.sentences) == 1


def test_a_plan_can_be_handed_back_as_agreed(tmp_path: Path) -> None:
    first = season(tmp_path)
    keep = tmp_path / "visits.csv"
    first.visits.assign(square=squares_to_references(first.visits["square"].to_numpy())).to_csv(keep, index=False)
    again = season(tmp_path, agreed=keep)
    assert (again.visits["kind"] == "agreed").sum() == len(first.visits)
    assert again.visits["gain"].sum() == pytest.approx(first.visits["gain"].sum(), abs=1e-9)


def test_an_agreed_visit_to_where_somebody_would_not_be_sent_has_no_distance(tmp_path: Path) -> None:
    """Ben says no under tides and has agreed to a square with tides all the same: a table cannot hold infinity."""
    name = str(squares_to_references(SQUARES[:1])[0])
    keep = tmp_path / "agreed.csv"
    keep.write_text(f"volunteer,square,day\nBen Birchall,{name},2027-06-12\n", encoding="utf-8")
    plan = season(tmp_path, settings(tidal=[name]), agreed=keep)
    row = plan.visits[plan.visits["kind"] == "agreed"].iloc[0]
    assert (row["volunteer"], row["day"]) == ("Ben Birchall", pd.Timestamp(2027, 6, 12))
    assert pd.isna(row["travel_m"])
    assert np.isfinite(plan.people["farthest_km"]).all()


def test_a_field_meeting_brings_people_together_on_one_day(tmp_path: Path) -> None:
    plan = season(tmp_path, meetings=["2027-05-08", "11"])
    (meeting,) = plan.meetings
    rows = plan.visits[plan.visits["kind"] == "meeting"]
    assert meeting.day.isoformat() == "2027-05-08"
    assert len(meeting.people) == 3
    assert rows["day"].nunique() == 1
    assert (rows["people"] >= 2).all()
    assert sum("field meeting (11)" in sentence for sentence in plan.sentences) == 1
    with pytest.raises(SettingsError, match="day or a month"):
        season(tmp_path, meetings=["soon"])


def test_what_an_earlier_visit_found_is_not_gained_twice(tmp_path: Path) -> None:
    plan = season(tmp_path)
    assert plan.visits["gain"].to_numpy() == pytest.approx((plan.visits["new"] + plan.visits["again"]).to_numpy())
    both = plan.targets.groupby(["square", "species_id"]).agg(found=("chance_then", "sum"), lives=("chance", "first"))
    assert (both["found"] <= both["lives"] + 1e-9).all()


def test_files_that_are_no_such_files_are_refused_in_words(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("a,b\n1,2\n", encoding="utf-8")
    with pytest.raises(ColumnError, match="has no column called volunteer"):
        season(tmp_path, agreed=wrong)
    with pytest.raises(FileError, match="cannot be read"):
        season(tmp_path, agreed=tmp_path / "none.csv")


def test_no_field_meeting_is_planned_before_today(tmp_path: Path) -> None:
    """A fact of the calendar: of the weekends of May 2027 those from the 22nd on lie after the 20th."""
    volunteers = "name,home,days,travel\n" + "".join(f"Person {n},OR2261,May 4,30 km\n" for n in range(4))
    plan = season(tmp_path, text=volunteers, meetings=["5"], today=date(2027, 5, 20))
    (meeting,) = plan.meetings
    assert meeting.day == date(2027, 5, 22)
    assert (plan.visits["day"].dropna() >= pd.Timestamp(2027, 5, 20)).all()
    for day, said in (("2027-05-08", "is past"), ("2028-05-13", "The season is that of 2027")):
        with pytest.raises(SettingsError, match=said):
            season(tmp_path, text=volunteers, meetings=[day], today=date(2027, 5, 20))
