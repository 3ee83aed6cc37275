"""Decisions are added, never taken away, and find their record again."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

import pytest

from gapmap.checks.decisions import write_decision
from gapmap.checks.queue import queue
from gapmap.checks.range import findings
from gapmap.errors import FileError, GapmapError
from gapmap.records.clean import read_records
from gapmap.settings import Settings
from gapmap.workflow.decide import decide

WHEN = datetime(2026, 5, 12, 9, 30)


def test_earlier_lines_stay_byte_for_byte(tmp_path: Path) -> None:
    file = tmp_path / "decisions.csv"
    write_decision(file, "a.csv:2", "accepted", reason="voucher, seen", who="B. Holt", when=WHEN)
    before = file.read_bytes()
    write_decision(file, "a.csv:2", "not accepted", reason="=1+1", who="B. Holt", when=WHEN)
    assert file.read_bytes().startswith(before)
    assert len(file.read_text(encoding="utf-8").splitlines()) == 3
    assert "'=1+1" in file.read_text(encoding="utf-8")


def test_a_file_without_a_last_newline_is_not_run_together(tmp_path: Path) -> None:
    file = tmp_path / "decisions.csv"
    file.write_text("record,decision,reason,who,when\na.csv:2,awaiting,x,y,2026-01-01", encoding="utf-8")
    write_decision(file, "a.csv:3", "accepted", reason="seen", who="B. Holt", when=WHEN)
    assert len(file.read_text(encoding="utf-8").splitlines()) == 3


@pytest.mark.parametrize("change", [{"decision": "perhaps"}, {"reason": " "}, {"who": ""}, {"record": ""}])
def test_what_is_missing_is_asked_for(tmp_path: Path, change: dict[str, str]) -> None:
    asked = {"record": "a.csv:2", "decision": "accepted", "reason": "seen", "who": "B. Holt"} | change
    with pytest.raises(GapmapError):
        write_decision(tmp_path / "decisions.csv", asked.pop("record"), asked.pop("decision"), when=WHEN, **asked)
    assert not (tmp_path / "decisions.csv").exists()


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="cannot be written"):
        write_decision(tmp_path / "none" / "decisions.csv", "a.csv:2", "accepted", reason="x", who="y", when=WHEN)


def test_a_decision_is_respected_when_the_records_are_read_again(tmp_path: Path) -> None:
    rows = "".join(f"Oniscus asellus,OR{40 + n % 5}{70 + n % 7},{n % 28 + 1}/5/2015,A. Marsh\n" for n in range(60))
    file = tmp_path / "coast.csv"
    file.write_text(f"species,grid reference,date,recorder\n{rows}Oniscus asellus,NJ4070,1/6/2015,A. Marsh\n", encoding="utf-8")
    records = read_records([file], Settings(), folder=tmp_path)
    table = queue(findings(records, Settings()), records)
    key = str(table.loc[table["reference"] == "NJ4070", "record_key"].iloc[0])
    write_decision(tmp_path / "decisions.csv", key, "not accepted", reason="the recorder withdrew it", who="B. Holt", when=WHEN)
    again = read_records([file], Settings(), folder=tmp_path)
    assert again.frame("status").iloc[-1, 0] == "not accepted"
    assert "NJ4070" not in set(queue(findings(again, Settings()), again)["reference"])
    assert len(again.frame()) == 61


def test_a_decision_by_file_and_row_stays_with_its_record_and_can_be_undone(tmp_path: Path) -> None:
    (tmp_path / "records").mkdir()
    (tmp_path / "area.toml").write_text('[area]\nname = "Coast (invented)"\n', encoding="utf-8")
    file = tmp_path / "records" / "coast.csv"
    header, rows = "species,grid reference,date,recorder\n", "".join(f"Oniscus asellus,OR4{n}7{n},{n + 1}/5/2015,A. Marsh\n" for n in range(9))
    file.write_text(header + rows, encoding="utf-8")
    decide(tmp_path, "coast.csv:4", "not accepted", reason="withdrawn", who="B. Holt")
    file.write_text(header + "Philoscia muscorum,OR4171,1/6/2015,A. Marsh\n" + rows, encoding="utf-8")
    status = read_records([file], Settings(), folder=tmp_path).frame("status")["status"]
    assert status.tolist() == [""] * 3 + ["not accepted"] + [""] * 6
    before = (tmp_path / "decisions.csv").read_bytes()
    decide(tmp_path, "coast.csv:5", "accepted", reason="seen again", who="B. Holt")
    assert (tmp_path / "decisions.csv").read_bytes().startswith(before)
    assert read_records([file], Settings(), folder=tmp_path).frame("status")["status"].tolist()[3] == "accepted"


@pytest.mark.parametrize("name", ["-1999.csv", "@home.csv", "=1+1.csv", "'t Hert.csv"])
def test_a_decision_finds_its_record_whatever_the_file_is_called(tmp_path: Path, name: str) -> None:
    """A name that a spreadsheet would run as a formula is written harmlessly and read as it was meant."""
    area = tmp_path / "area"
    (area / "records").mkdir(parents=True)
    (area / "records" / name).write_text("species,reference,date\nOniscus asellus,OR4672,2015\n", encoding="utf-8")
    (area / "area.toml").write_text("", encoding="utf-8")
    decide(area, f"{name}:2", "not accepted", reason="no voucher", who="B. Holt")
    written = (area / "decisions.csv").read_text(encoding="utf-8").splitlines()[1]
    assert written[0] not in "=-@"
    decide(area, written.split(",")[0], "not accepted", reason="as copied from a table", who="B. Holt")
    records = read_records([area / "records" / name], Settings(), folder=area)
    assert records.frame()["status"].tolist() == ["not accepted"]
    assert records.problems()["code"].tolist() == []


@pytest.mark.parametrize(("record", "said"), [
    ("coast.csv", "no record with this key"),  # a file alone is no record, least of all its first
    ("coast.csv:", "no record with this key"),
    ("coast.csv:9", "no record with this key"),
    ("coast.csv:3", "repeats another one of the file; it is counted once. Kept: coast.csv, row 2"),
    ("coast.csv:4", "OR417 has an odd number of digits"),
])  # fmt: skip
def test_what_names_no_record_decides_about_none(tmp_path: Path, record: str, said: str) -> None:
    """Row 3 says what row 2 says, and the place of row 4 cannot be read: neither is a record to decide about."""
    (tmp_path / "records").mkdir()
    (tmp_path / "area.toml").write_text("", encoding="utf-8")
    row = "Oniscus asellus,OR4070,1/6/2015,A. Marsh\n"
    (tmp_path / "records" / "coast.csv").write_text(
        f"species,grid reference,date,recorder\n{row}{row}{row.replace('OR4070', 'OR417')}", encoding="utf-8")
    with pytest.raises(GapmapError, match=re.escape(said)):
        decide(tmp_path, record, "not accepted", reason="no voucher", who="B. Holt")
    assert not (tmp_path / "decisions.csv").exists()
