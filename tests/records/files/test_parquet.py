"""Parquet: typed columns read as the text a person would have typed; the same records as from the same table as CSV."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from gapmap.errors import FileError
from gapmap.records.clean import read_records
from gapmap.records.files.parquet import open_parquet
from gapmap.settings import Settings

ROWS = {
    "Species": ["Ligia oceanica", "Oniscus asellus", None, "Porcellio scaber"],
    "Grid reference": ["OQ1234", "OQ567345", None, "nowhere"],
    "Year": [1999.0, 2004.0, float("nan"), None],
    "Found on": [date(1999, 5, 12), None, None, date(2001, 1, 2)],
    "At": [datetime(1999, 5, 12), datetime(2004, 6, 1, 22, 30), None, None],
    "Depth": [0.5, -12.25, None, 1e20],
    "Count": pa.array([3, None, None, 1], pa.int16()),
    "Photo": [b"\x00\xff", None, None, b""],
}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "[odd] *name?.parquet"
    pq.write_table(pa.table(ROWS), path)
    return path


def test_values_as_people_type_them(file: Path) -> None:
    [table] = open_parquet(file, file.name)
    assert table.headers == tuple(ROWS)
    assert table.sample[0] == ("Ligia oceanica", "OQ1234", "1999", "1999-05-12", "1999-05-12", "0.5", "3", "")
    assert table.sample[1] == ("Oniscus asellus", "OQ567345", "2004", "", "2004-06-01 22:30", "-12.25", "", "")
    assert table.sample[2] == ("",) * 8
    assert table.sample[3][5] == "1e+20"


def test_the_same_records_as_from_csv(tmp_path: Path) -> None:
    """A blank row is no row and keeps its number; the reference that cannot be read is a problem with its row."""
    names = ["Species", "Grid reference", "Found on"]
    path, text = tmp_path / "a.parquet", tmp_path / "a.csv"
    pq.write_table(pa.table({name: ROWS[name] for name in names}), path)
    lines = [",".join(names)]
    rows = zip(*(ROWS[name] for name in names), strict=True)
    lines += [",".join("" if cell is None else str(cell) for cell in row) for row in rows]
    text.write_text("\n".join(lines), encoding="utf-8")
    ours, theirs = read_records([path], Settings()), read_records([text], Settings())
    assert ours.frame("* exclude (record_key)").equals(theirs.frame("* exclude (record_key)"))
    assert ours.problems().drop(columns="file").equals(theirs.problems().drop(columns="file"))
    assert [row for row in ours.problems()["row"] if row] == [5], "row 0 says that nobody is named"
    assert ours.files["rows"].tolist() == [3]


def test_two_columns_of_one_name(tmp_path: Path) -> None:
    path = tmp_path / "a.parquet"
    pq.write_table(pa.Table.from_arrays([pa.array(["a"]), pa.array(["b"])], names=["Remark", "Remark"]), path)
    [table] = open_parquet(path, "a.parquet")
    assert table.headers == ("Remark", "Remark")
    assert table.sample == (("a", "b"),)


@pytest.mark.parametrize("keep", [4, 40, -9])
def test_a_file_that_was_cut_off(file: Path, keep: int) -> None:
    file.write_bytes(file.read_bytes()[:keep])
    with pytest.raises(FileError, match="damaged"):
        read_records([file], Settings())


@pytest.mark.parametrize("zone", ["UTC", "America/New_York", "Pacific/Auckland"])
def test_an_instant_is_the_same_day_wherever_it_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, zone: str) -> None:
    """Midnight of 12 May 2001 by universal time, as Parquet's adjusted timestamps keep it."""
    table = pa.table(
        {
            "species": ["Oniscus asellus"],
            "gridref": ["NT2776"],
            "date": pa.array([datetime(2001, 5, 12, tzinfo=UTC)], pa.timestamp("us", "UTC")),
        }
    )
    pq.write_table(table, tmp_path / "a.parquet")
    monkeypatch.setenv("TZ", zone)
    frame = read_records([tmp_path / "a.parquet"], Settings()).frame()
    assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == ["2001-05-12"]
