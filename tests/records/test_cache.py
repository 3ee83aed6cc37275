"""The cache of cleaned files: only files that changed are read again, and deleting it loses nothing."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from gapmap.records import clean
from gapmap.records.cache import cache_key
from gapmap.records.clean import CACHE, read_records
from gapmap.records.files.raw import RawTable
from gapmap.records.files.read import open_file
from gapmap.settings import AreaSection, RecordsSection, Settings

TEXT = """Species,Grid ref,Date,Recorder,Site
Oniscus asellus,NT2776,12/05/1998,A. Marsh,Leith
Philoscia muscorum,NT27,1999,B. Holt,
,NT2876,1999,B. Holt,
Oniscus asellus,J3374,summer 1995,A. Marsh & B. Holt,
Oniscus asellus,NT99999,1998,,
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "club.csv").write_text(TEXT)
    (tmp_path / "more.csv").write_text(TEXT.replace("1998", "1997"))
    return tmp_path


def read(folder: Path, **options: object) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    settings = Settings(area=AreaSection(**options))  # type: ignore[arg-type]
    records = read_records([folder / "club.csv", folder / "more.csv"], settings, folder=folder)
    return records.frame(), records.problems(), records.files


def test_the_kept_answer_is_the_same(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cold = read(folder)
    monkeypatch.setattr(clean, "open_file", lambda *_: pytest.fail("a file was read again"))
    warm = read(folder)
    for one, other in zip(cold, warm, strict=True):
        pd.testing.assert_frame_equal(one, other)


def test_it_is_the_answer_without_a_folder(folder: Path) -> None:
    kept = read(folder)
    plain = read_records([folder / "club.csv", folder / "more.csv"], Settings())
    pd.testing.assert_frame_equal(kept[0].drop(columns="record_key"), plain.frame().drop(columns="record_key"))
    pd.testing.assert_frame_equal(kept[1], plain.problems())


def watch(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the files that are opened from here on."""
    opened: list[str] = []

    def open_and_note(path: Path, file: str) -> Iterator[RawTable]:
        opened.append(file)
        return open_file(path, file)

    monkeypatch.setattr(clean, "open_file", open_and_note)
    return opened


def test_only_the_changed_file_is_read_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read(folder)
    (folder / "more.csv").write_text(TEXT.replace("1998", "1996"))
    opened = watch(monkeypatch)
    frame, _, files = read(folder)
    assert opened == ["more.csv"]
    assert 1996 in frame["date_from"].dt.year.tolist()
    assert (files["rows"] == 5).all()


@pytest.mark.parametrize("damage", ["cut off", "emptied", "deleted", "all deleted"])
def test_a_damaged_cache_loses_nothing(folder: Path, damage: Any) -> None:
    before = read(folder)
    for path in (folder / CACHE).iterdir():
        if damage == "cut off":
            path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
        elif damage == "emptied":
            path.write_bytes(b"")
        elif path.suffix == ".parquet":
            path.unlink()
    if damage == "all deleted":
        shutil.rmtree(folder / CACHE)
    for one, other in zip(before, read(folder), strict=True):
        pd.testing.assert_frame_equal(one, other)


def test_originals_are_not_changed(folder: Path) -> None:
    read(folder)
    assert (folder / "club.csv").read_text() == TEXT


def test_the_key_hangs_on_the_bytes_and_the_settings_that_bear_on_reading(folder: Path) -> None:
    path = folder / "club.csv"
    plain = cache_key(path, path.name, Settings())
    assert cache_key(path, path.name, Settings(area=AreaSection(name="Elsewhere", square="10km"))) == plain
    assert cache_key(path, path.name, Settings(area=AreaSection(grid="british"))) != plain
    assert cache_key(path, path.name, Settings(records=RecordsSection(columns={"place": "Site"}))) != plain
    assert cache_key(path, path.name, Settings(records=RecordsSection(year_pivot=10))) != plain
    assert cache_key(path, "a/club.csv", Settings()) != plain
    path.write_text(TEXT + "\n")
    assert cache_key(path, path.name, Settings()) != plain


def test_a_date_still_to_come_is_judged_anew_another_day(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "more.csv").write_text(TEXT.replace("1998", "2999"))
    read(folder)
    opened = watch(monkeypatch)
    read(folder)
    assert opened == []

    class Tomorrow(date):
        @classmethod
        def today(cls) -> Tomorrow:
            return cls(2998, 1, 1)

    monkeypatch.setattr(clean, "date", Tomorrow)
    read(folder)
    assert opened == ["more.csv"]


def test_a_year_moved_back_a_century_is_judged_anew_another_day(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Written in 27: the year to come for who reads it in 2026, and last year in 2028."""
    (folder / "club.csv").write_text("Species,Grid ref,Date\nAglais io,NT2776,5/6/27\n")

    class Day(date):
        year_now = 2026

        @classmethod
        def today(cls) -> Day:
            return cls(cls.year_now, 11, 27)

    monkeypatch.setattr(clean, "date", Day)
    found = []
    for year in (2026, 2028):
        Day.year_now = year
        frame = read_records([folder / "club.csv"], Settings(), folder=folder).frame()
        found.append(frame["date_from"].dt.year.tolist())
    assert found == [[1927], [2027]]


def test_a_table_beside_a_layer_is_read_again_when_it_changed(tmp_path: Path) -> None:
    """The species of a shapefile stand in its .dbf; the .shp with the points stays as it was."""
    layer = tmp_path / "finds.shp"
    read_again = []
    for name in ("Aglais io", "Bombus pascuorum"):
        points = gpd.GeoDataFrame({"species": [name], "date": ["2001-05-12"]}, geometry=[Point(325_123, 673_456)])
        points.set_crs(27700).to_file(layer)
        records = read_records([layer], Settings(), folder=tmp_path)
        read_again.append((layer.read_bytes(), records.species["name"].tolist()))
    (first, names), (second, later) = read_again
    assert first == second
    assert (names, later) == (["Aglais io"], ["Bombus pascuorum"])


def test_a_file_shown_with_its_folder_is_read_as_the_settings_say_of_it(tmp_path: Path) -> None:
    """``month_first`` names a/one.csv: alone it is shown as one.csv, beside another one.csv by its folder."""
    files = [tmp_path / folder / "one.csv" for folder in ("a", "b")]
    for file in files:
        file.parent.mkdir()
        file.write_text("Species,Grid ref,Date\nAglais io,NT2776,1/2/2019\n")
    settings = Settings(records=RecordsSection(month_first=("a/one.csv",)))
    read_records(files[:1], settings, folder=tmp_path)
    kept, plain = (read_records(files, settings, folder=folder).frame() for folder in (tmp_path, None))
    assert kept["date_from"].dt.month.tolist() == plain["date_from"].dt.month.tolist() == [1, 2]


def test_nothing_is_kept_without_a_folder(folder: Path) -> None:
    read_records([folder / "club.csv"], Settings())
    assert not (folder / ".gapmap").exists()


def test_one_content_under_two_names_is_read_as_each_name_says(tmp_path: Path) -> None:
    """The area file may say of one of them that it is written month first."""
    content = "Species,Grid ref,Date\nAglais io,NT2776,1/2/2019\n"
    files = [tmp_path / "british.csv", tmp_path / "american.csv"]
    for file in files:
        file.write_text(content)
    settings = Settings(records=RecordsSection(month_first=("american.csv",)))
    for _ in range(2):
        frame = read_records(files, settings, folder=tmp_path).frame().sort_values("file_id")
        assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == ["2019-02-01", "2019-01-02"]
