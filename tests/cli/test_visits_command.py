"""``gapmap visits`` from the area folder to what people take along, on six tetrads."""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "outputs"))
from leaks import leaks, readable_text

Run = Callable[..., tuple[int, str, str]]
YEAR = date.today().year + 1
#: Nobody lives in a square of the map; the middles of the homes, in metres, tell as much as their references.
HOMES = ("OR5263", "OR3481", "OR5566")
MIDDLES = ("652500", "663500", "634500", "681500", "655500", "666500")
HEAD = "name,home,days,travel,night,methods,groups,tides\n"
GOOD = f"""Ann Ashdown,OR5263,"2 a month, May-Jun",30 km,yes,,,no
Ben Birchall,OR3481,{YEAR}-05-08; {YEAR}-06-12,30 km,no,hand search,,no
"""
BAD = f"""Cy Cole,OR5566,,20 km,no,,,no
,,,,,,,
Dee Dale,nowhere,May 1,20 km,no,,,no
Ann Ashdown,OR5566,May 1,20 km,no,,,no
Eve Elm,OR5566,May 1,3 km,no,,,no
Flo Fern,OR5566,{YEAR - 2}-05-01,30 km,no,,,no
Gus Gale,OR5566,May 1,30 km,perhaps,,,no
"""


@pytest.fixture
def planned_area(area_folder: Path, small_rows: list[list[str]]) -> Path:
    """The small area with rules and volunteers, and with three tetrads where one species only was ever looked for."""
    poor = [row for row in small_rows if row[1] not in ("OR47F", "OR47G", "OR47K") or row[0] == "Oniscus asellus"]
    with (area_folder / "records" / "small records.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(poor)
    settings = area_folder / "area.toml"
    text = settings.read_text(encoding="utf-8").replace('classes = ""', 'classes = "-2009, 2010-"')
    rest = text[: text.index("[visits]")] if "\n[visits]" in text else text
    settings.write_text(f'{rest}\n[visits]\nyear = {YEAR}\nno_go = ["OR47L", "SU12A"]\n', encoding="utf-8")
    (area_folder / "volunteers.csv").write_text(HEAD + GOOD, encoding="utf-8")
    return area_folder


def plan_in(folder: Path) -> list[dict[str, str]]:
    with (folder / "visits.csv").open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_rows_that_cannot_be_used_are_one_sentence_each_and_the_rest_is_planned(
    gapmap: Run, planned_area: Path
) -> None:
    (planned_area / "volunteers.csv").write_text(HEAD + GOOD + BAD, encoding="utf-8")
    code, out, err = gapmap("visits", planned_area)
    assert (code, err) == (0, "")
    said = " ".join(out.split())
    for sentence in (
        "row 4: Cy Cole gives no days", "row 5: the row is empty", "row 6: the home of Dee Dale is no grid reference",
        "row 7: Ann Ashdown stands in the file twice", "Eve Elm reaches no square",
        "Flo Fern has no days left in the season", "row 10: night work of Gus Gale should be yes or no",
        "no_go names SU12A, which is no square of the area",
    ):  # fmt: skip
        assert said.count(sentence) == 1, sentence
    maps = planned_area / "maps"
    plan = plan_in(maps)
    assert {row["volunteer"] for row in plan} <= {"Ann Ashdown", "Ben Birchall"}
    assert "OR47L" not in {row["square"] for row in plan}
    assert len(plan) >= 3
    folders = {path.name for path in (maps / "field").iterdir() if path.is_dir()}
    assert folders == {"ann-ashdown", "ben-birchall"}
    for person in folders:
        endings = {path.suffix for path in (maps / "field" / person).iterdir()}
        assert endings == {".pdf", ".html", ".gpx", ".kml", ".geojson", ".ics"}
    targets = {name for row in plan if row["volunteer"] == "Ann Ashdown" for name in row["targets"].split("; ") if name}
    text = readable_text(maps / "field" / "ann-ashdown" / "sheets.pdf")
    assert targets
    assert all(name in " ".join(text.split()) for name in targets), "the text of the PDF is searchable"
    assert not leaks(maps, [*HOMES, *MIDDLES], HOMES), "homes stay in volunteers.csv"


def test_the_same_input_gives_the_same_files(gapmap: Run, planned_area: Path, tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert gapmap("visits", planned_area, "--out", tmp_path / name)[0] == 0
    one = {path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*") if path.is_file()}
    assert one == {path.relative_to(tmp_path / "two") for path in (tmp_path / "two").rglob("*") if path.is_file()}
    for path in sorted(one):
        if path.suffix != ".xlsx":  # a workbook carries the time it was made
            assert (tmp_path / "one" / path).read_bytes() == (tmp_path / "two" / path).read_bytes(), path


def test_agreed_visits_stay_and_what_was_found_changes_the_next_plan(gapmap: Run, planned_area: Path) -> None:
    assert gapmap("visits", planned_area, "--plan-only")[0] == 0
    first = plan_in(planned_area / "maps")
    keep = planned_area / "agreed.csv"
    keep.write_text(f"volunteer,square,day\nBen Birchall,OR47A,{YEAR}-05-08\n", encoding="utf-8")
    assert gapmap("visits", planned_area, "--plan-only", "--keep", keep)[0] == 0
    agreed = [row for row in plan_in(planned_area / "maps") if row["kind"] == "agreed"]
    assert [(row["volunteer"], row["square"], row["day"][:10]) for row in agreed] == [
        ("Ben Birchall", "OR47A", f"{YEAR}-05-08")
    ]
    visit = next(row for row in first if row["targets"])
    today = f"{date.today():%d/%m/%Y}"
    rows = [f"{name},{visit['square']},{today},{visit['volunteer']}" for name in visit["targets"].split("; ")]
    (planned_area / "records" / "this season.csv").write_text(
        "Species,Grid ref,Date,Recorder\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    assert gapmap("visits", planned_area, "--plan-only")[0] == 0
    after = [name for row in plan_in(planned_area / "maps") if row["square"] == visit["square"]
             for name in row["targets"].split("; ")]  # fmt: skip
    assert not set(visit["targets"].split("; ")) & set(after), "what is found is no target any more"


def test_nobody_to_send_and_no_file_are_said_in_words(gapmap: Run, planned_area: Path) -> None:
    (planned_area / "volunteers.csv").write_text(HEAD, encoding="utf-8")
    code, out, err = gapmap("visits", planned_area)
    assert (code, err) == (0, "")
    assert "nothing to plan" in out
    assert "volunteers.csv has nobody to plan for: fill in a row for each person and plan again." in out
    (planned_area / "volunteers.csv").unlink()
    code, _, err = gapmap("visits", planned_area)
    assert code != 0
    assert "volunteers" in err
    assert "Traceback" not in err


def test_a_record_that_was_not_accepted_says_nothing_of_where_a_species_is_found(
    gapmap: Run, planned_area: Path
) -> None:
    """Six accepted records in woods and eight rejected ones on heaths: it is usually found in woods."""
    rows = [f"Philoscia muscorum,OR47B,{day:02d}/05/2001,B. Holt,Wood,accepted" for day in range(1, 7)]
    rows += [f"Philoscia muscorum,OR47B,{day:02d}/06/2001,B. Holt,heath,rejected" for day in range(1, 9)]
    (planned_area / "records" / "habitats.csv").write_text(
        "Species,Grid ref,Date,Recorder,Habitat,Status\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    assert gapmap("visits", planned_area)[0] == 0
    pages = [path.read_text(encoding="utf-8") for path in (planned_area / "maps" / "field").rglob("*.html")]
    assert any("<dt>Where</dt><dd>wood</dd>" in page for page in pages)
    assert not any("heath" in page for page in pages)
