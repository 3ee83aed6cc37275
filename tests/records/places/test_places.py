"""Odd places, on an invented island: a square of 20 km in the empty sea square OQ, drawn by hand."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely

from gapmap.errors import ColumnError, FileError
from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.grid.systems import system_of
from gapmap.records.places.doubts import place_doubts, read_boundary, read_places
from gapmap.settings import AreaSection, Settings

#: The island: from the south-west corner of OQ55 twenty kilometres east and north.
WEST, SOUTH = 550_000, 550_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    island = gpd.GeoDataFrame(geometry=[shapely.box(WEST, SOUTH, WEST + 20_000, SOUTH + 20_000)], crs=27700)
    island.to_file(tmp_path / "area.gpkg")
    wider = gpd.GeoDataFrame(geometry=[shapely.box(WEST, SOUTH, WEST + 30_000, SOUTH + 20_000)], crs=27700)
    wider.to_crs(4326).to_file(tmp_path / "land.geojson")
    (tmp_path / "lookups").mkdir()
    return tmp_path


AREA = Settings(area=AreaSection(name="the Island", boundary="area.gpkg"))


def squares(*references: str) -> pd.DataFrame:
    system, side, easting, northing = unpack(references_to_squares(references).squares)
    return pd.DataFrame({
        "system": system, "easting": easting, "northing": northing, "precision_m": side, "is_point": False,
    })  # fmt: skip


def at(easting: int, northing: int, side: int = 100, *, is_point: bool = False) -> pd.DataFrame:
    return pd.DataFrame({
        "system": [1], "easting": [easting], "northing": [northing], "precision_m": [side], "is_point": [is_point],
    })  # fmt: skip


def said(frame: pd.DataFrame, settings: Settings = AREA, folder: Path | None = None) -> tuple[str, str]:
    found = place_doubts(frame, settings, folder)
    assert len(found) == len(frame)
    return found["code"].iloc[0], found["sentence"].iloc[0]


def test_outside_the_boundary_by_how_far(folder: Path) -> None:
    """A 100 m square whose western edge lies 3.4 km east of the island's eastern shore."""
    assert said(at(WEST + 23_400, SOUTH + 5_000), AREA, folder) == (
        "outside the area", "The place lies 3.4 km outside the boundary of the Island.",
    )  # fmt: skip
    assert said(at(WEST + 19_950, SOUTH + 5_000), AREA, folder)[0] == ""
    # A hectad that only touches the island may well hold a place on it.
    assert said(at(WEST + 10_000, SOUTH + 10_000, 10_000), AREA, folder)[0] == ""


def test_without_a_folder_there_is_no_boundary() -> None:
    assert said(at(WEST + 23_400, SOUTH + 5_000)) == ("", "")


def test_in_the_sea(folder: Path) -> None:
    """The land layer is ten kilometres wider than the area, so a place can be off the area and yet on land."""
    settings = Settings(area=AreaSection(name="the Island", background=("land.geojson",)))
    assert said(at(WEST + 23_400, SOUTH + 5_000), settings, folder)[0] == ""
    code, sentence = said(at(WEST + 32_000, SOUTH + 5_000), settings, folder)
    assert code == "in the sea"
    assert sentence.startswith("The place lies in the sea, 2.0 km from the nearest land.")


def beside(frame: pd.DataFrame, easting: float, northing: float, decimals: int = 6) -> pd.DataFrame:
    longitude, latitude = grid_to_lonlat(system_of(1), [easting], [northing])
    return frame.assign(latitude=round(float(latitude[0]), decimals), longitude=round(float(longitude[0]), decimals))


def test_coordinates_that_disagree_with_their_reference() -> None:
    """NT2773 and a point 5 km east of its eastern edge; Edinburgh, so that the projection is at home."""
    monad = squares("NT2773")
    code, sentence = said(beside(monad, 333_000, 673_500))
    assert code == "places disagree"
    assert "5.0 km from the square of the reference" in sentence
    assert said(beside(monad, 327_300, 673_700))[0] == ""
    # Coordinates with two decimals are good to a kilometre only.
    assert said(beside(monad, 328_600, 673_500, decimals=2))[0] == ""


def test_a_sign_forgotten_puts_the_place_far_away() -> None:
    frame = squares("NT2773").assign(latitude=55.948, longitude=3.165)
    assert said(frame)[0] == "places disagree"


def test_the_middle_of_the_square_is_said_to_be_one() -> None:
    code, sentence = said(beside(squares("NT27"), 325_000, 675_000))
    assert (code, sentence) == (
        "middle of a square", "The coordinates are the middle of the 10 km square, so they say no more than it does.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("easting", "northing", "code"),
    [(325_000, 675_000, "middle of a square"), (325_500, 673_500, "middle of a square"),
     (320_000, 670_000, "corner of a square"), (325_123, 673_456, "")],
)  # fmt: skip
def test_points_too_round_to_be_true(easting: int, northing: int, code: str) -> None:
    assert said(at(easting, northing, 10, is_point=True))[0] == code


def test_a_place_to_the_metre_is_a_note() -> None:
    found = place_doubts(squares("NT2773473456", "NT27347345"), Settings())
    assert found["code"].tolist() == ["very exact", ""]
    assert found["severity"].tolist() == ["note", ""]


def test_names_against_the_lookup(folder: Path) -> None:
    (folder / "lookups" / "places.csv").write_text(
        "place,reference\nEast Bay,OQ6655\nMidshire,OQ55 OQ56; OQ65\n", encoding="utf-8"
    )
    settings = Settings()
    frame = squares("OQ663552", "OQ8855", "OQ77").assign(place=["East  bay", "East Bay", "elsewhere"])
    found = place_doubts(frame, settings, folder)
    assert found["code"].tolist() == ["", "place disagrees", ""]
    assert found["sentence"][1] == "The place lies 21 km from “East Bay”, which is written beside it."
    frame = squares("OQ6551", "OQ7851").assign(county="Midshire")
    assert place_doubts(frame, settings, folder)["code"].tolist() == ["", "county disagrees"]


def test_one_of_many_far_from_its_name() -> None:
    """Letters of the reference mistaken: OR for OQ puts the place a hundred kilometres east."""
    frame = squares("OQ6655", "OQ6755", "OQ6656", "OQ665553", "OR6655").assign(place="East Bay")
    found = place_doubts(frame, Settings())
    assert found["code"].tolist() == ["", "", "", "", "far from its name"]
    assert "100 km from where the other records of “East Bay” are" in found["sentence"][4]
    # A name that is used all over says nothing.
    spread = squares("OQ1111", "OQ8855", "OQ5599", "OR6655", "OR1188").assign(place="Garden")
    assert (place_doubts(spread, Settings())["code"] == "").all()


def test_unread_places_and_no_rows() -> None:
    nowhere = pd.DataFrame({"system": [0], "easting": [0], "northing": [0], "precision_m": [1], "is_point": [True]})
    assert said(nowhere) == ("", "")
    assert len(place_doubts(nowhere.iloc[:0], Settings())) == 0


def test_boundaries_that_cannot_be(tmp_path: Path) -> None:
    system = system_of(1)
    with pytest.raises(FileError, match="cannot be read"):
        read_boundary(tmp_path / "none.gpkg", system)
    (tmp_path / "bad.gpkg").write_text("no layer", encoding="utf-8")
    with pytest.raises(FileError, match="no layer that can be read"):
        read_boundary(tmp_path / "bad.gpkg", system)
    gpd.GeoDataFrame(geometry=[shapely.Point(0, 0)], crs=27700).to_file(tmp_path / "point.gpkg")
    with pytest.raises(FileError, match="holds no area"):
        read_boundary(tmp_path / "point.gpkg", system)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("name\nEast Bay\n", ColumnError, "no column called place"),
        ("place,reference\nEast Bay,QI99\n", FileError, "row 2"),
    ],
)
def test_a_file_of_places_that_cannot_be(tmp_path: Path, text: str, kind: type[Exception], words: str) -> None:
    path = tmp_path / "places.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(kind, match=words):
        read_places(path)
