"""Decisions find their record again, and are not passed on to another."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gapmap.errors import ColumnError
from gapmap.records.clean import read_records
from gapmap.records.decisions import text_to_status, texts_to_status
from gapmap.records.table import Records
from gapmap.settings import Settings

HEAD = "Species,Grid ref,Date,Recorder,Site\n"
ROWS = [
    "Oniscus asellus,NT2776,12/05/1998,A. Marsh,Leith\n",
    "Philoscia muscorum,NT27,1999,B. Holt,\n",
    "Oniscus asellus,NT2876,1999,B. Holt,\n",
]


def read(folder: Path, rows: list[str]) -> Records:
    (folder / "club.csv").write_text(HEAD + "".join(rows))
    return read_records([folder / "club.csv"], Settings(), folder=folder)


def decide(folder: Path, *lines: tuple[str, str]) -> None:
    text = "record,decision,reason,who,when\n" + "".join(
        f"{record},{decision},,me,2026-01-01\n" for record, decision in lines
    )
    (folder / "decisions.csv").write_text(text)


def keys(records: Records) -> list[str]:
    return records.frame("record_key, record_id")["record_key"].tolist()


def test_a_decision_becomes_the_status(tmp_path: Path) -> None:
    first, second, _ = keys(read(tmp_path, ROWS))
    decide(tmp_path, (first, "not accepted"), (second, "Accepted"))
    records = read(tmp_path, ROWS)
    assert records.frame()["status"].tolist() == ["not accepted", "accepted", ""]
    assert records.problems().query("file == 'decisions.csv'").empty


def test_the_last_decision_counts(tmp_path: Path) -> None:
    first, *_ = keys(read(tmp_path, ROWS))
    decide(tmp_path, (first, "not accepted"), (first, "accepted"))
    assert read(tmp_path, ROWS).frame()["status"][0] == "accepted"


def test_it_finds_its_record_when_rows_were_added_above(tmp_path: Path) -> None:
    _, second, _ = keys(read(tmp_path, ROWS))
    decide(tmp_path, (second, "not accepted"))
    records = read(tmp_path, ["Ligia oceanica,NT2876,2001,A. Marsh,\n", *ROWS])
    assert records.frame()["status"].tolist() == ["", "", "not accepted", ""]


@pytest.mark.parametrize(
    ("old", "new"), [("NT27,", "NT28,"), ("1999", "2000"), ("muscorum", "sp."), ("B. Holt", "C. Fenn")]
)
def test_it_is_not_passed_on_when_the_record_changed(tmp_path: Path, old: Any, new: Any) -> None:
    _, second, _ = keys(read(tmp_path, ROWS))
    decide(tmp_path, (second, "not accepted"))
    records = read(tmp_path, [ROWS[0], ROWS[1].replace(old, new), ROWS[2]])
    assert records.frame()["status"].tolist() == ["", "", ""]
    said = records.problems().query("file == 'decisions.csv'")
    assert said["code"].tolist() == ["decision without a record"]
    assert said["row"].tolist() == [2]


def test_a_change_elsewhere_in_the_row_does_not_matter(tmp_path: Path) -> None:
    first, *_ = keys(read(tmp_path, ROWS))
    decide(tmp_path, (first, "not accepted"))
    assert read(tmp_path, [ROWS[0].replace("Leith", "Leith Links"), *ROWS[1:]]).frame()["status"][0] == "not accepted"


def read_files(folder: Path, files: dict[str, str], head: str = HEAD) -> Records:
    for name, rows in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(head + rows)
    return read_records([folder / name for name in files], Settings(), folder=folder)


def said_of_decisions(records: Records) -> list[str]:
    return records.problems().query("file == 'decisions.csv'")["code"].tolist()


def test_a_rejection_holds_when_an_earlier_file_repeats_the_record(tmp_path: Path) -> None:
    (first,) = keys(read_files(tmp_path, {"z.csv": ROWS[0]}))
    decide(tmp_path, (first, "not accepted"))
    records = read_files(tmp_path, {"a.csv": ROWS[0], "z.csv": ROWS[0]})
    assert records.frame()[["file_id", "status"]].to_numpy().tolist() == [[1, "not accepted"]]
    assert said_of_decisions(records) == []


def test_a_decision_finds_its_file_when_another_of_its_name_is_added(tmp_path: Path) -> None:
    """Alone it is one.csv, then a/one.csv; what it says tells it from b/one.csv."""
    (first,) = keys(read_files(tmp_path, {"a/one.csv": ROWS[0]}))
    assert first.startswith("one.csv:2:")
    decide(tmp_path, (first, "not accepted"))
    both = read_files(tmp_path, {"b/one.csv": ROWS[1], "a/one.csv": ROWS[0]})
    assert both.frame()["status"].tolist() == ["", "not accepted"]
    assert said_of_decisions(both) == []
    decide(tmp_path, (keys(both)[1], "accepted"))
    assert keys(both)[1].startswith("a/one.csv:2:")
    assert read_files(tmp_path, {"a/one.csv": ROWS[0]}).frame()["status"].tolist() == ["accepted"]


def test_a_decision_that_fits_two_files_is_refused(tmp_path: Path) -> None:
    decide(tmp_path, ("one.csv:2", "not accepted"))
    records = read_files(tmp_path, {"x/r/one.csv": ROWS[0], "y/r/one.csv": ROWS[1]})
    assert [key.rpartition(":")[0] for key in keys(records)] == ["x/r/one.csv:2", "y/r/one.csv:2"]
    assert records.frame()["status"].tolist() == ["", ""]
    (sentence,) = records.problems().query("file == 'decisions.csv'")["sentence"]
    assert "fits 2 files called alike" in sentence


SEXES = "Species,Grid ref,Date,Recorder,Sex\n"
PAIR = "Oniscus asellus,NT2776,12/05/1998,A. Marsh,male\nOniscus asellus,NT2776,12/05/1998,A. Marsh,female\n"
ABOVE = "Ligia oceanica,NT2876,2001,A. Marsh,\n"


def test_a_decision_on_the_female_does_not_pass_to_the_male(tmp_path: Path) -> None:
    _, female = keys(read_files(tmp_path, {"club.csv": PAIR}, SEXES))
    decide(tmp_path, (female, "not accepted"))
    records = read_files(tmp_path, {"club.csv": ABOVE + PAIR}, SEXES)
    assert records.frame()[["sex", "status"]].to_numpy().tolist() == [
        ["", ""], ["male", ""], ["female", "not accepted"],
    ]  # fmt: skip


def test_a_decision_from_before_the_file_said_the_sex(tmp_path: Path) -> None:
    """It finds a record that says more now, and is lost where two records say what it said."""
    both_silent = PAIR.partition("\n")[0].replace("male", "") + "\n"
    (first,) = keys(read_files(tmp_path, {"club.csv": both_silent}, SEXES))
    decide(tmp_path, (first, "not accepted"))
    told = read_files(tmp_path, {"club.csv": ABOVE + PAIR.partition("\n")[0]}, SEXES)
    assert told.frame()["status"].tolist() == ["", "not accepted"]
    two = read_files(tmp_path, {"club.csv": PAIR}, SEXES)
    assert two.frame()["status"].tolist() == ["", ""]
    assert said_of_decisions(two) == ["decision without a record"]


def test_a_row_number_beyond_all_files_is_said(tmp_path: Path) -> None:
    decide(tmp_path, ("club.csv:99999999999999999999999", "not accepted"))
    assert said_of_decisions(read(tmp_path, ROWS)) == ["no record"]


def test_the_name_of_a_record_is_the_same_on_every_computer(tmp_path: Path) -> None:
    # Written down once: it must not change, or decisions would be lost.
    assert keys(read(tmp_path, ROWS))[1] == "club.csv:3:99fdd4250f"


@pytest.mark.parametrize(
    "line",
    [
        ("nonsense", "accepted"),
        ("club.csv:2:0123456789", "blue"),
        ("gone.csv:2:0123456789", "accepted"),
        ("'; drop table records; --", "x"),
    ],
)
def test_lines_that_cannot_be_used_are_said(tmp_path: Path, line: Any) -> None:
    read(tmp_path, ROWS)
    decide(tmp_path, line)
    said = read(tmp_path, ROWS).problems().query("file == 'decisions.csv'")
    assert said["row"].tolist() == [2]
    assert said["severity"].tolist() == ["doubt"]


def test_a_file_of_decisions_without_its_columns_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "decisions.csv").write_text("a,b\n1,2\n")
    with pytest.raises(ColumnError, match=r"decisions\.csv has no column called record"):
        read(tmp_path, ROWS)


def test_an_empty_file_of_decisions_is_no_decisions(tmp_path: Path) -> None:
    (tmp_path / "decisions.csv").write_text("")
    assert read(tmp_path, ROWS).frame()["status"].tolist() == ["", "", ""]


@pytest.mark.parametrize(
    ("words", "status"),
    [
        ("VERIFIED", "accepted"),
        ("Accepted - correct", "accepted"),
        ("V", "accepted"),
        ("rejected", "not accepted"),
        ("Not accepted!", "not accepted"),
        ("Not accepted - incorrect", "not accepted"),
        ("Not accepted - unable to verify", "not accepted"),
        ("Rejected as incorrect", "not accepted"),
        ("R", "not accepted"),
        ("Query", "awaiting"),
        ("Unable to verify", "awaiting"),
        ("Not reviewed", "awaiting"),
        ("Pending review", "awaiting"),
        ("unverified", "awaiting"),
        ("Plausible", "awaiting"),
        ("Verified - incorrect", ""),
        ("Correction", ""),
        ("blue", ""),
    ],
)
def test_words_for_a_status(words: str, status: str) -> None:
    assert text_to_status(words) == status


def test_a_status_nobody_knows_is_a_doubt() -> None:
    said = texts_to_status(["Extant", "Rejected as incorrect", ""])
    assert said["value"].tolist() == ["", "not accepted", ""]
    assert said["severity"].tolist() == ["doubt", "", ""]


def test_a_decision_holds_when_its_file_is_called_otherwise(tmp_path: Path) -> None:
    """The club sends the file anew each year under the year's name; what was refused stays refused."""
    first, *_ = keys(read_files(tmp_path, {"club 2025.csv": "".join(ROWS)}))
    decide(tmp_path, (first, "not accepted"))
    renamed = read_files(tmp_path, {"club 2026.csv": "".join(reversed(ROWS))})
    assert renamed.frame()["status"].tolist() == ["", "", "not accepted"]
    assert said_of_decisions(renamed) == []
    changed = read_files(tmp_path, {"club 2026.csv": "".join(ROWS[1:])})
    assert changed.frame()["status"].tolist() == ["", ""]
    assert said_of_decisions(changed) == ["decision without a record"]
