"""What the checking of an area says file by file."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

GOOD = "Species,Grid ref,Date\nOniscus asellus,OR4776,12/05/1998\n"
FILES = {
    "blank.csv": ("", "is empty"),
    "letter.csv": ("%PDF-1.4", "is no table: a PDF"),
    "heights.csv": ("Height,Weight\n1,2\n", "no column for the species was found: the headers Height, Weight"),
    "headers.csv": ("Species,Grid ref,Date\n", "has headers and no rows below them"),
    "again.csv": (GOOD, "every row repeats one that is counted elsewhere"),
    "odd.csv": (
        "Species,Grid ref\nOniscus asellus,OR477\nOniscus asellus,OR471\n",
        "2 of 2 rows are no records, the first because: OR477 has an odd number of digits",
    ),
}


@pytest.fixture
def summary(area_folder: Path, gapmap: Callable[..., tuple[int, str, str]]) -> tuple[str, pd.DataFrame]:
    """What is printed, and the sheet of files in the workbook."""
    (area_folder / "records" / "a good one.csv").write_text(GOOD)
    for name, (content, _) in FILES.items():
        (area_folder / "records" / name).write_text(content)
    code, printed, _ = gapmap("check", area_folder)
    assert code == 0
    book = area_folder / "maps" / "problems.xlsx"
    return printed, pd.read_excel(
        book, sheet_name="by file", index_col="file", keep_default_na=False, engine="openpyxl"
    )


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_file_that_gave_nothing_says_why(name: str, summary: tuple[str, pd.DataFrame]) -> None:
    printed, table = summary
    assert table.loc[name, "records"] == 0
    assert table.loc[name, "why nothing"].startswith(FILES[name][1])
    [line] = [line for line in printed.splitlines() if line.strip().startswith(name)][:1]
    assert FILES[name][1][:40] in line


def test_a_file_that_gave_records_says_nothing_more(summary: tuple[str, pd.DataFrame]) -> None:
    _, table = summary
    assert table.loc["a good one.csv", "why nothing"] == ""
    assert (table["rows"] == table["records"] + table["no record"] + table["duplicates"]).all()


def test_names_that_can_be_several_people_s_are_listed_to_be_decided(
    area_folder: Path, gapmap: Callable[..., tuple[int, str, str]]
) -> None:
    """A. Dee can be Ann and Alan; when the area's list says who it is, nothing is left to decide."""
    rows = [f"Oniscus asellus,OR4776,{day}/05/1998,{who}\n" for day, who in ((1, "Ann Dee"), (2, "Alan Dee"), (3, "A. Dee"))]
    (area_folder / "records" / "walks.csv").write_text("Species,Grid ref,Date,Recorder\n" + "".join(rows))
    code, printed, _ = gapmap("check", area_folder)
    decide = area_folder / "maps" / "people-to-decide.csv"
    assert code == 0
    assert "1 name can be more than one person" in printed.replace("\n", " ")
    assert pd.read_csv(decide, keep_default_na=False).to_numpy().tolist() == [["A. Dee", "", "Alan Dee; Ann Dee"]]
    people = area_folder / "lookups" / "people.csv"
    people.write_text(decide.read_text(encoding="utf-8-sig").replace('A. Dee,,', "A. Dee,Ann Dee,"), encoding="utf-8")
    code, printed, _ = gapmap("check", area_folder)
    assert code == 0
    assert "more than one person" not in printed
    assert not decide.exists()
    assert "Ann Dee" in printed
    assert "A. Dee" not in printed


def test_several_files_of_which_none_can_be_used(tmp_path: Path, gapmap: Callable[..., tuple[int, str, str]]) -> None:
    for name in ("blank.csv", "letter.csv"):
        (tmp_path / name).write_text(FILES[name][0])
    code, _, complained = gapmap("check", tmp_path / "blank.csv", tmp_path / "letter.csv", "--out", tmp_path)
    assert code != 0
    assert "None of the 2 files" in complained
    assert "blank.csv is empty; letter.csv is no table" in complained


def test_every_file_in_the_folder_is_spoken_of(area_folder: Path, gapmap: Callable[..., tuple[int, str, str]]) -> None:
    """A letter or a picture among the records is said, never passed over; what a system leaves behind is."""
    for name, content in {
        "letter.docx": b"PK\x03\x04",
        "scan.jpeg": b"\xff\xd8\xff",
        "finds.kml": b"<?xml?><kml/>",
        "Thumbs.db": b"1",
        ".hidden": b"1",
        "~$open.xlsx": b"1",
    }.items():
        (area_folder / "records" / name).write_bytes(content)
    _, printed, _ = gapmap("check", area_folder)
    for name in ("letter.docx", "scan.jpeg", "finds.kml"):
        assert f"  {name}" in printed
    for name in ("Thumbs.db", ".hidden", "~$open"):
        assert name not in printed


def test_doubts_and_notes_are_counted_of_records(area_folder: Path, gapmap: Callable[..., tuple[int, str, str]]) -> None:
    """Six rows: one plain and its repetition (a note), one without a place (and with an odd status), two records of an
    odd status, one of them also approximate (a note), and one of a genus (a note)."""
    rows = [
        "Oniscus asellus,OR4776,12/05/1998,Ann Dee,accepted", "Oniscus asellus,OR4776,12/05/1998,Ann Dee,accepted",
        "Oniscus asellus,OR477,12/05/1998,Ann Dee,blue", "Oniscus asellus,OR4777,12/05/1998,Ann Dee,blue",
        "Oniscus asellus,OR4778,c. 1990,Bo Holt,green", "Oniscus sp.,OR4779,13/05/1998,Bo Holt,",
    ]  # fmt: skip
    for file in (area_folder / "records").iterdir():
        file.unlink()
    (area_folder / "records" / "walks.csv").write_text("Species,Grid ref,Date,Recorder,Status\n" + "\n".join(rows) + "\n")
    code, _, _ = gapmap("check", area_folder)
    assert code == 0
    book = pd.read_excel(area_folder / "maps" / "problems.xlsx", sheet_name=None, engine="openpyxl")
    assert book["by file"].to_numpy().tolist() == [["walks.csv", 6, 4, 1, 1, 2, 2]]
    assert book["by recorder"].to_numpy().tolist() == [["Ann Dee", 2, 1, 0], ["Bo Holt", 2, 1, 2]]


def test_what_is_said_once_for_many_rows_is_counted_of_each(
    area_folder: Path, gapmap: Callable[..., tuple[int, str, str]]
) -> None:
    """Three hundred records without a date, told in one sentence, and one status that no one knows; and again from
    what was kept of the file."""
    for file in (area_folder / "records").iterdir():
        file.unlink()
    rows = [f"Oniscus asellus,OR{4000 + at},,{'Ann Dee' if at % 3 else 'Bo Holt'}," for at in range(299)]
    rows.append("Oniscus asellus,OR4777,,Bo Holt,blue")
    (area_folder / "records" / "walks.csv").write_text("Species,Grid ref,Date,Recorder,Status\n" + "\n".join(rows) + "\n")
    for _ in range(2):
        code, printed, _ = gapmap("check", area_folder)
        assert code == 0
        book = pd.read_excel(area_folder / "maps" / "problems.xlsx", sheet_name=None, engine="openpyxl")
        assert book["by file"][["records", "doubt", "note"]].to_numpy().tolist() == [[300, 1, 300]]
        assert book["by recorder"][["recorders", "doubt", "note"]].to_numpy().tolist() == [["Bo Holt", 1, 101], ["Ann Dee", 0, 199]]
        kinds = [line.split() for line in printed.splitlines() if line.startswith(("  doubt", "  note"))]
        assert kinds[0][0] == "doubt"
        assert ["note", "no", "date", "300"] in kinds
