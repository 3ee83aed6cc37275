"""One record written in a line is the same record as in a file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from gapmap.checks.questions import questions
from gapmap.checks.queue import queue, replies
from gapmap.checks.range import findings, judge_record, load_known
from gapmap.checks.told import ALREADY_THERE, NO_DATE
from gapmap.checks.written import read_one_record
from gapmap.errors import GapmapError
from gapmap.records.clean import read_records
from gapmap.records.names.checklist import read_checklist
from gapmap.records.table import Records
from gapmap.settings import Settings

MakeRecords = Callable[..., Records]
MakeRow = Callable[..., dict[str, Any]]
PLACE = ("system", "easting", "northing", "precision_m", "is_point")


def test_a_record_in_the_files_is_no_evidence_for_itself(
    records_of: MakeRecords, row: MakeRow, coast_rows: list[dict[str, Any]]
) -> None:
    """Rare one, found once: copied from the list of odd records, it is as odd as there, with its recorder or without."""
    coast_rows.insert(700, row("Rare one", 1_000, 1_000, "2015-07-01", 1))
    records = records_of(coast_rows)
    filed = findings(records, Settings()).iloc[700]
    known, _, _ = load_known(records, Settings())
    for who in ("", ", Recorder A"):
        told = judge_record(known, f"Rare one, OR410710, 1 July 2015{who}", records.people).iloc[0]
        assert (told["one_in"], told["slips"]) == (filed["one_in"], filed["slips"])
        assert (told["reasons"], told["remarks"]) == (filed["reasons"], ALREADY_THERE)
        assert told["as_odd"] == round(told["among"] / told["one_in"])
    for other in ("1 July 2015, Recorder B", "2 July 2015", "July 2015"):
        told = judge_record(known, f"Rare one, OR410710, {other}", records.people).iloc[0]
        assert told["nearest_m"] == 0
        assert told["remarks"] == ""


@pytest.mark.parametrize(("latitude", "longitude"), [
    ("55.9312", "-1.3513"), ("55.93", "-1.35"), ("55.9", "-1.4"), ("55.93N", "1.35W"), ("55°55′52″N", "1°21′5″W")])  # fmt: skip
def test_degrees_are_as_wide_as_they_are_written(
    records_of: MakeRecords, row: MakeRow, tmp_path: Path, latitude: str, longitude: str
) -> None:
    file = tmp_path / "degrees.csv"
    file.write_text(f"species,latitude,longitude,date\nRare one,{latitude},{longitude},2015\n", encoding="utf-8")
    settings = Settings.model_validate({"area": {"grid": "british"}})
    known, _, _ = load_known(records_of([row("Rare one", 0, 0)]), settings)
    filed = read_records([file], settings).frame().iloc[0]
    for text in (f"Rare one, {latitude}, {longitude}, 2015", f"Rare one, 2015, {latitude}, {longitude}"):
        written, _ = read_one_record(text, known)
        assert [written[name] for name in PLACE] == filed[list(PLACE)].tolist()


def test_metres_are_shown_to_who_wrote_metres(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    """A file of eastings and northings, one of them with another first figure: nobody wrote degrees."""
    rows = [r | {"is_point": True, "precision_m": 10} for r in coast_rows]
    rows[700] = rows[700] | {"easting": rows[700]["easting"] - 100_000}
    records = records_of(rows)
    table = queue(findings(records, Settings()).assign(first=True), records)
    written = f"easting {rows[700]['easting']}, northing {rows[700]['northing']}"
    one = table[table["record_id"] == 701]
    assert one["reference"].tolist() == [written]
    assert f"Porcellio scaber, {written}, 20 July 2015" in replies(one)["Recorder C"]


def test_a_list_that_nobody_signed_is_of_no_same_people(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    rows = [r | {"people_id": 0} for r in coast_rows]
    rows[700] = rows[700] | {"easting": rows[700]["easting"] - 100_000}
    known, judged, found = load_known(records_of(rows), Settings())
    asked = questions(known, known.evidence.as_they_stand().row[[700]], judged.iloc[[700]], found)[0]
    assert "A list of people not named on the same day stands there (4 other records)." in asked[0]
    assert "same people" not in " ".join(asked)


def test_a_species_is_named_as_in_files(records_of: MakeRecords, row: MakeRow, tmp_path: Path) -> None:
    """Geophilus insculptus is a synonym of G. alpinus; Henia brevis is on the checklist and in no file yet."""
    (tmp_path / "checklist.csv").write_text(
        'name,synonyms,vernacular\nGeophilus alpinus,Geophilus insculptus,\nHenia brevis,,\nOniscus asellus,,Common woodlouse\n',
        encoding="utf-8")  # fmt: skip
    checklist = read_checklist(tmp_path / "checklist.csv")
    known, _, _ = load_known(records_of([row("Geophilus alpinus", 0, 0), row("Oniscus asellus", 0, 0)]), Settings())
    for name, species in (("Geophilus insculptus", 0), ("Geophilus alpinus (C. L. Koch)", 0), ("geophilus  ALPINUS", 0),
                          ("Common woodlouse", 1)):  # fmt: skip
        assert read_one_record(f"{name}, OR4070", known, checklist=checklist)[0]["species_id"] == species
    assert read_one_record("O. asellus, OR4070", known)[0]["species_id"] == 1
    with pytest.raises(GapmapError, match="no record of Henia brevis yet, so that this would be the first"):
        read_one_record("Henia brevis, OR4070", known, checklist=checklist)
    with pytest.raises(GapmapError, match="no such species among the records"):
        read_one_record("Henia brevis, OR4070", known)


@pytest.mark.parametrize(("text", "people_id"), [
    ("Recorder A", 1), ("recorder a", 1), ("Dr C. Fenn", 10), ("C Fenn", 10), ("Nobody Known", 0), ("B. Holt; A. Marsh", 9), ("A. Marsh & B. Holt", 9),
    ("A. Marsh, B. Holt", 9), ("Oakwood, Recorder A", 1)])  # fmt: skip
def test_a_recorder_is_named_as_in_files(records_of: MakeRecords, row: MakeRow, text: str, people_id: int) -> None:
    records = records_of([row("Oniscus asellus", 0, 0)])
    pair = pd.DataFrame({"people_id": [9, 10], "names": ["A. Marsh; B. Holt", "C. Fenn"], "size": [2, 1]})
    known, _, _ = load_known(records, Settings())
    people = pd.concat([records.people, pair], ignore_index=True)
    record, not_known = read_one_record(f"Oniscus asellus, OR4070, 2015, {text}", known, people)
    assert (record["people_id"], not_known) == (people_id, "" if people_id else text)


def test_who_is_no_recorder_of_the_files_is_not_passed_over(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    records = records_of(coast_rows)
    known, _, _ = load_known(records, Settings())
    for who, said in ((", N. Obody", "“N. Obody” is no recorder of the files; the record was judged as if nobody were named."),
                      (", Recorder A", ""), ("", "")):  # fmt: skip
        assert judge_record(known, f"Oniscus asellus, OR4070, 2015{who}", records.people)["remarks"].tolist() == [said]


def test_a_missing_date_is_not_passed_over(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    records = records_of(coast_rows)
    known, _, _ = load_known(records, Settings())
    for when, said in (("", NO_DATE), (", 2015", ""), (", 12 June 2015", "")):
        assert judge_record(known, f"Oniscus asellus, OR4070{when}", records.people)["remarks"].tolist() == [said]


def test_none_as_odd_is_not_called_one(records_of: MakeRecords, coast_rows: list[dict[str, Any]]) -> None:
    """Four hundred kilometres from 1,440 records: none of them is as odd; each of them is as odd as itself."""
    records = records_of(coast_rows)
    known, judged, _ = load_known(records, Settings())
    far = judge_record(known, "Oniscus asellus, NJ4070, 15 June 2014", records.people).iloc[0]
    assert (far["among"], far["as_odd"], far["one_in"]) == (1_440, 0, 1_440)
    assert known.as_odd(judged).min() == round(1_440 / judged["one_in"].max()) > 0


def test_a_record_without_a_date_is_found_again(records_of: MakeRecords, row: MakeRow, coast_rows: list[dict[str, Any]]) -> None:
    undated = {"date_from": None, "date_to": None, "date_kind": "unknown"}
    records = records_of([*coast_rows, row("Rare one", 1_000, 1_000, people=1) | undated])
    known, _, _ = load_known(records, Settings())
    for who in ("", ", Recorder A"):
        assert judge_record(known, f"Rare one, OR410710{who}", records.people)["remarks"].tolist() == [ALREADY_THERE]
    other = judge_record(known, "Rare one, OR420710, Recorder A", records.people).iloc[0]
    assert "no other record, by other people or of another date, to compare it with" in other["reasons"]
