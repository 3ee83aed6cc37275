"""Is the island what demo/README.md says: in the sea squares, whole, believable, and its answers right?

The bounds on realism are common practice in recording, no source: most lists are short, a few places have most of the
visits, recording grows, few people go out at night.
"""

from __future__ import annotations

import csv
import tomllib
import zipfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio

from gapmap.settings import read_settings

OTHERS = [
    "Orrowby 2016-2026.xlsx",
    "Quellick Ottenhaven 2010-2019.csv",
    "IF notebooks.ods",
    "vastrey_export.csv",
]


@pytest.fixture(scope="session")
def area(demo_folder: Path) -> Path:
    return demo_folder / "area"


@pytest.fixture(scope="session")
def truth(demo_folder: Path) -> Path:
    return demo_folder / "truth"


def read_rows(path: Path, encoding: str, delimiter: str = ",") -> list[list[str]]:
    with path.open(encoding=encoding, newline="") as file:
        return list(csv.reader(file, delimiter=delimiter))


def test_lies_in_the_sea_squares_alone(area: Path) -> None:
    """OQ and OR: O is the fourteenth letter of the first 500 km round, I left out (Ordnance Survey's lettering)."""
    boundary = gpd.read_file(area / "background" / "boundary.gpkg")
    assert boundary.crs.to_epsg() == 27700
    west, south, east, north = boundary.total_bounds
    assert 500_000 < west < 600_000 < east < 700_000
    assert 600_000 < south < north < 700_000


def test_no_record_can_pass_for_a_real_one(area: Path) -> None:
    """Even mistaken references lie at sea, or nowhere (OI): 500 km east and 500 km north of the origin and beyond."""
    letters = set()
    for name, encoding, delimiter, column in (
        ("Quellick Ottenhaven 2010-2019.csv", "cp1252", ";", "Gridref"),
        ("society records 2000 onwards.csv", "utf-8", ",", "Grid reference"),
    ):
        rows = read_rows(area / "records" / name, encoding, delimiter)
        letters |= {row[rows[0].index(column)][:2].upper() for row in rows[1:]}
    assert letters <= {"", "OQ", "OR", "OI", "OA", "OG", "OC", "JW"}


def test_is_an_island_with_an_islet(area: Path) -> None:
    boundary = gpd.read_file(area / "background" / "boundary.gpkg")
    parts = boundary.geometry.explode().area.sort_values() / 1e6
    assert len(parts) == 2
    assert 2 < parts.iloc[0] < 15
    assert 1000 < parts.iloc[1] < 1400
    assert boundary.geometry.is_valid.all()


def test_rasters_fit_each_other_and_the_coast(area: Path) -> None:
    with (
        rasterio.open(area / "rasters" / "habitat.tif") as habitat,
        rasterio.open(area / "rasters" / "height.tif") as height,
    ):
        assert habitat.crs.to_epsg() == height.crs.to_epsg() == 27700
        assert habitat.transform == height.transform
        assert habitat.res == (100, 100)
        land = habitat.read(1) > 0
        metres = height.read(1)
        assert "invented" in habitat.tags()["notice"]
    assert ((metres != -1) == land).all()
    assert 250 < metres.max() < 600
    boundary = gpd.read_file(area / "background" / "boundary.gpkg").geometry.area.sum()
    assert land.sum() * 10_000 == pytest.approx(boundary, rel=0.03)
    names = tomllib.loads((area / "area.toml").read_text(encoding="utf-8"))["rasters"]["habitat_names"]
    assert {str(code) for code in np.unique(habitat_codes(area))} - {"0"} == set(names)


def habitat_codes(area: Path) -> np.ndarray:
    with rasterio.open(area / "rasters" / "habitat.tif") as habitat:
        return np.asarray(habitat.read(1))


def test_area_file_is_read_without_complaint(area: Path) -> None:
    settings = read_settings(area / "area.toml")
    assert "invented" in settings.area.notice
    named = [
        settings.area.boundary,
        *settings.area.background,
        settings.rasters.habitat,
        settings.rasters.height,
    ]
    assert [name for name in [*named, settings.visits.volunteers] if not (area / name).exists()] == []


def test_everything_says_it_is_invented(area: Path) -> None:
    assert "invented" in (area / "README.txt").read_text(encoding="utf-8")
    with zipfile.ZipFile(area / "records" / "archive 1966-1999.zip") as archive:
        assert "invented" in archive.read("eml.xml").decode("utf-8")


def test_no_file_is_large(area: Path) -> None:
    sizes = [path.stat().st_size for path in area.rglob("*") if path.is_file()]
    assert sum(sizes) < 8_000_000


def test_species_are_about_as_many_as_a_county_has(truth: Path) -> None:
    presence = pd.read_parquet(truth / "presence.parquet")
    now = presence[(presence["arrives"] <= 2026) & (presence["leaves"] > 2026)]
    tetrads = now.groupby([now["easting"] // 2000, now["northing"] // 2000])["name"].nunique()
    assert 300 <= len(tetrads) <= 400
    assert 35 < tetrads.median() < 65
    assert tetrads.quantile(0.05) < 0.6 * tetrads.median()  # there are poor squares


def test_fronts_move_away_from_where_they_began(truth: Path, area: Path) -> None:
    presence = pd.read_parquet(truth / "presence.parquet").query("name == 'Dicranopalpus ramosus'")
    towns = gpd.read_file(area / "background" / "towns.gpkg").set_index("name").geometry
    start = towns["Marrowhithe"]
    away = np.hypot(presence["easting"] + 500 - start.x, presence["northing"] + 500 - start.y) / 1000
    speed = 1 / np.polyfit(away, presence["arrives"], 1)[0]
    assert speed == pytest.approx(1.5, rel=0.15)  # km a year, as island/species.csv says
    assert presence["arrives"].min() >= 1979


def test_recording_looks_like_recording(truth: Path) -> None:
    visits, records = pd.read_parquet(truth / "visits.parquet"), pd.read_parquet(truth / "records.parquet")
    assert 35_000 < len(records) < 45_000
    lists = records.groupby("visit_id")["written_name"].nunique()
    assert 0.3 < (lists == 1).mean() < 0.55
    assert 20 < lists.max() < 50
    tetrads = (
        visits.groupby([visits["easting"] // 2000, visits["northing"] // 2000])
        .size()
        .sort_values(ascending=False)
    )
    assert 0.3 < tetrads.head(len(tetrads) // 10).sum() / tetrads.sum() < 0.6
    assert 0.03 < (visits["hour"] != "day").mean() < 0.09
    assert (visits["date"].dt.day_of_week >= 5).mean() > 0.6
    years = records["true_date"].dt.year
    assert years.between(1967, 1976).sum() * 3 < years.between(2016, 2025).sum()
    assert visits["date"].max() <= pd.Timestamp(2026, 10, 31)


def test_night_animals_are_found_at_night(truth: Path) -> None:
    facts = pd.read_csv(truth / "species.csv").set_index("name")
    records = pd.read_parquet(truth / "records.parquet").merge(
        pd.read_parquet(truth / "visits.parquet"), on="visit_id"
    )
    at_night = (records["hour"] != "day").groupby(records["true_name"]).mean()
    dark = facts["dark"].reindex(at_night.index)
    assert at_night[dark >= 0.6].mean() > 3 * at_night[dark < 0.2].mean()


def test_records_come_from_where_the_species_lives(truth: Path) -> None:
    presence = pd.read_parquet(truth / "presence.parquet")
    records = pd.read_parquet(truth / "records.parquet")
    records["monad_east"], records["monad_north"] = (
        records["easting"] // 1000 * 1000,
        records["northing"] // 1000 * 1000,
    )
    both = records.merge(
        presence,
        left_on=["true_name", "monad_east", "monad_north"],
        right_on=["name", "easting", "northing"],
        how="left",
    )
    assert both["arrives"].notna().all()
    year = both["true_date"].dt.year
    assert ((both["arrives"] <= year) & (year < both["leaves"])).all()


def test_every_row_of_the_society_has_its_truth(area: Path, truth: Path) -> None:
    name = "society records 2000 onwards.csv"
    rows = read_rows(area / "records" / name, "utf-8")
    records = pd.read_parquet(truth / "records.parquet").query("file == @name")
    assert records["row"].tolist() == list(range(2, len(rows) + 1))
    odd = set(pd.read_csv(truth / "odd_records.csv")["row"])
    mistaken = set(pd.read_csv(truth / "mistakes.csv").query("file == @name")["row"])
    column = rows[0].index("Scientific name")
    wrong = [
        row
        for row, written in zip(records["row"], records["written_name"], strict=True)
        if rows[row - 1][column] != written and row not in odd | mistaken
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("name", "encoding", "delimiter"),
    [
        ("Quellick Ottenhaven 2010-2019.csv", "cp1252", ";"),
        ("vastrey_export.csv", "utf-8-sig", ","),
        ("society records 2000 onwards.csv", "utf-8", ","),
    ],
)
def test_mistakes_stand_where_the_answers_say(
    area: Path, truth: Path, name: str, encoding: str, delimiter: str
) -> None:
    rows = read_rows(area / "records" / name, encoding, delimiter)
    table = "odd_records.csv" if name.startswith("society") else "mistakes.csv"
    answers = pd.read_csv(truth / table, keep_default_na=False, dtype=str).query(
        "file == @name and column != ''"
    )
    assert len(answers) > 20
    for answer in answers.itertuples():
        cell = rows[int(answer.row) - 1][rows[0].index(answer.column)]
        assert cell == answer.found != answer.should_be


def test_every_recorder_makes_mistakes(truth: Path) -> None:
    mistakes = pd.read_csv(truth / "mistakes.csv", keep_default_na=False)
    assert 190 <= len(mistakes) <= 215
    counts = mistakes["file"].value_counts()
    assert (counts[OTHERS] >= 40).all()
    assert not mistakes.duplicated(["file", "sheet", "row"]).any()  # one mistake a row
    assert set(mistakes["seen"]) == {"cell", "context", "note"}


def test_checklist_and_volunteers_have_the_columns_that_are_read(area: Path) -> None:
    checklist = pd.read_csv(area / "lookups" / "checklist.csv", keep_default_na=False)
    assert set(checklist["identify"]) == {"sight", "hand lens", "microscope", "dissection"}
    assert checklist["name"].is_unique
    assert set(checklist["group"]) == {"woodlice", "harvestmen", "centipedes", "millipedes"}
    volunteers = pd.read_csv(area / "volunteers.csv", keep_default_na=False)
    assert {"name", "home", "days", "travel", "night", "methods", "groups"} == set(volunteers.columns)
    assert volunteers["home"].str.fullmatch(r"O[QR]\d{4}").all()
