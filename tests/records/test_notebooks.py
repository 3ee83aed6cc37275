"""Ditto marks and dates written on the first row of a day only: a habit of notebooks (common practice, no source)."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gapmap.records.table import Records

HEAD = "Date,Place,Grid ref,Species,Recorder\n"
NOTEBOOK = (
    HEAD + "12 May 1998,Hill,NT2570,Aglais io,A. Marsh\n,,,Pieris rapae,\n,,,Pieris napi,\n"
    "13 May 1998,Wood,NT2073,Aglais io,B. Holt\n,,,Pieris rapae,\n"
)
DAYS = ["1998-05-12"] * 3 + ["1998-05-13"] * 2


def by_row(records: Records) -> list[tuple[int, str, int, str]]:
    frame = records.frame().sort_values("source_row")
    people = records.people.set_index("people_id")["names"]
    days = frame["date_from"].dt.strftime("%Y-%m-%d").fillna("")
    return list(zip(frame["source_row"], days, frame["easting"] // 1000, frame["people_id"].map(people), strict=True))


def test_blanks_are_filled_when_the_organiser_says_so(read: Callable[..., Records]) -> None:
    records = read(NOTEBOOK, fill_down=["club.csv"])
    who = ["A. Marsh"] * 3 + ["B. Holt"] * 2
    assert by_row(records) == list(zip(range(2, 7), DAYS, [325] * 3 + [320] * 2, who, strict=True))
    assert records.problems()[["code", "severity"]].to_numpy().tolist() == [["taken from above", "note"]]
    assert "In 3 rows" in records.problems()["sentence"][0]


def test_without_that_they_stay_blank_and_the_file_says_so(read: Callable[..., Records]) -> None:
    records = read(NOTEBOOK)
    assert records.files[["records", "problem_rows"]].to_numpy().tolist() == [[2, 3]]
    said = records.problems().query("code == 'blank below'")
    assert said["column"].tolist() == ["Date", "Grid ref, Place"]
    assert said["suggestion"].str.contains('fill_down = ["club.csv"]', regex=False).all()


@pytest.mark.parametrize(
    "content",
    [
        HEAD + "12 May 1998,,NT2570,Aglais io,\n13 May 1998,,NT2570,Pieris napi,\nTotal,,,,\n,,,Total,\n",
        HEAD + "12 May 1998,,NT2570,Aglais io,\n,,NT2571,Pieris napi,\n12 May 1998,,NT2572,Pieris napi,\n",
        HEAD + ",,NT2570,Aglais io,\n1998,,NT2571,Pieris napi,\n,,NT2572,Pieris napi,\n",
    ],
    ids=["totals at the end", "a day written twice", "the first row is blank"],
)
def test_other_blanks_are_no_notebook(read: Callable[..., Records], content: str) -> None:
    assert "blank below" not in set(read(content).problems()["code"])


@pytest.mark.parametrize("mark", ["ditto", "do.", '""""', "''", "〃", "”", " ditto "])
def test_ditto_marks_mean_the_cell_above(read: Callable[..., Records], mark: str) -> None:
    second = ",".join([mark, mark, mark, "Pieris rapae", mark])
    records = read(HEAD + f"12 May 1998,Hill,NT2570,Aglais io,A. Marsh\n{second}\n{second.replace('rapae', 'napi')}\n")
    assert by_row(records) == [(row, "1998-05-12", 325, "A. Marsh") for row in (2, 3, 4)]
    assert records.problems()[["code", "severity"]].to_numpy().tolist() == [["ditto", "note"]]


def test_a_ditto_mark_under_nothing_is_nothing(read: Callable[..., Records]) -> None:
    records = read(HEAD + "ditto,,NT2570,Aglais io,\n")
    assert records.frame()["date_kind"].tolist() == ["unknown"]


def test_year_month_and_day_are_filled_from_the_left(read: Callable[..., Records]) -> None:
    """A new day takes the year and month above it; a new month takes the year but no day."""
    cells = ["1998,5,12", ",,13", ",6,1", "1999,7,", ",,"]
    rows = "".join(f"Aglais io,NT257{n},{cell}\n" for n, cell in enumerate(cells))
    frame = read("Species,Grid ref,Year,Month,Day\n" + rows, fill_down=["club.csv"]).frame().sort_values("source_row")
    assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == [
        "1998-05-12", "1998-05-13", "1998-06-01", "1999-07-01", "1999-07-01",
    ]  # fmt: skip
    assert frame["date_kind"].tolist() == ["day", "day", "day", "month", "month"]


def test_a_reference_is_not_taken_from_another_place(read: Callable[..., Records]) -> None:
    content = HEAD + "12 May 1998,Hill,NT2570,Aglais io,\n,Wood,,Pieris rapae,\n,,NT2073,Pieris napi,\n"
    records = read(content, fill_down=["club.csv"])
    assert [(row, square) for row, _, square, _ in by_row(records)] == [(2, 325), (4, 320)]
    assert records.frame().sort_values("source_row")["place"].tolist() == ["Hill", ""]


def test_a_totals_row_is_no_record(read: Callable[..., Records]) -> None:
    records = read(NOTEBOOK + ",,,Total,\n,,,Grand total: ,\n", fill_down=["club.csv"])
    assert records.files[["records", "problem_rows"]].to_numpy().tolist() == [[5, 2]]
    assert not records.species["name"].str.contains("otal").any()
