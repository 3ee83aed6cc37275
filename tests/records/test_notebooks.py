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


TOO_LONG = "13 May 1998,Wood,NT2073,Pieris napi,B. Holt,one cell too many\n"


@pytest.mark.parametrize(
    ("mark", "fill_down"), [("ditto", []), ("", ["club.csv"]), ("ditto", ["club.csv"])], ids=["ditto", "blank", "both"]
)
def test_nothing_is_taken_from_beyond_a_row_that_was_left_out(
    read: Callable[..., Records], mark: str, fill_down: list[str]
) -> None:
    """Rows 5 and 6 stand for row 4, which nobody could read: not for row 2. Rows 3 and 8 stand for the row above."""
    leaning = f"{mark},{mark},{mark},Pieris rapae,{mark}\n"
    first, last = "12 May 1998,Hill,NT2570,Aglais io,A. Marsh\n", "14 May 1998,Moor,NT2174,Aglais io,C. Reid\n"
    records = read(HEAD + first + leaning + TOO_LONG + 2 * leaning + last + leaning, fill_down=fill_down)
    assert by_row(records) == [
        (2, "1998-05-12", 325, "A. Marsh"),
        (3, "1998-05-12", 325, "A. Marsh"),
        (7, "1998-05-14", 321, "C. Reid"),
        (8, "1998-05-14", 321, "C. Reid"),
    ]
    problems = records.problems()
    assert set(problems.query("severity == 'not a record'")["row"]) == {4, 5, 6}
    said = problems.query("code == 'unread above'")
    assert set(zip(said["row"], said["suggestion"], strict=True)) == {(5, "Mend row 4.")}
    assert said["sentence"].str.contains("in 2 rows").all()
    assert problems.query("code in ('ditto', 'taken from above')")["sentence"].str.startswith("In 2 rows ").all()


def test_a_column_that_is_always_blank_loses_nothing(read: Callable[..., Records]) -> None:
    rows = HEAD + "12 May 1998,Hill,NT2570,Aglais io,\n" + TOO_LONG + "14 May 1998,Moor,NT2174,Aglais io,\n"
    assert "unread above" not in set(read(rows, fill_down=["club.csv"]).problems()["code"])


def test_the_area_file_is_followed_in_files_of_any_size(
    read: Callable[..., Records], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gapmap.records.notebooks.LARGEST", 4)
    assert [day for _, day, _, _ in by_row(read(NOTEBOOK, fill_down=["club.csv"]))] == DAYS
    assert len(by_row(read(NOTEBOOK))) == 2
