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
