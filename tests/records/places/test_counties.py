"""Vice-counties that the user gives as outlines or in lookups/places.csv, held against what records say.

The outlines are rough boxes of our own around two real ones: Midlothian (vice-county 83) south of the Forth and Fife
and Kinross (85) north of it; that NT2773 (Edinburgh) is in the first and NO5016 (St Andrews) in the second is common
knowledge, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, box

from gapmap.errors import FileError
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.records.places.doubts import place_doubts
from gapmap.settings import AreaSection, Settings

HEAD = "Species,Grid ref,Date,Vice-county\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An area folder with outlines of two vice-counties, in degrees as layers often come."""
    boxes = [box(310_000, 650_000, 340_000, 680_000), box(300_000, 682_000, 365_000, 725_000)]
    frame = gpd.GeoDataFrame(
        {"objectid": [85, 83], "VCNUMBER": [83, 85], "VCNAME": ["Midlothian", "Fife and Kinross"], "AREA_KM2": [85.5, 83.25]},
        geometry=boxes,
        crs=27700,
    )  # fmt: skip
    frame.to_crs(4326).to_file(tmp_path / "vice-counties.gpkg")
    return tmp_path


def said(folder: Path, reference: tuple[int, int], county: str) -> tuple[str, str]:
    easting, northing = reference
    place = {"system": [1], "easting": [easting], "northing": [northing], "precision_m": [1000], "is_point": [False]}
    settings = Settings(area=AreaSection(vice_counties="vice-counties.gpkg"))
    found = place_doubts(pd.DataFrame({**place, "county": [county]}), settings, folder)
    return found["code"][0], found["sentence"][0]


EDINBURGH, ST_ANDREWS = (327_000, 673_000), (350_000, 716_000)


@pytest.mark.parametrize("written", ["Midlothian", "midlothian ", "83", "VC83", "vc 83", "V.C. 83", "083", "83.0",
                                     "VC83 Midlothian", "Midlothian (VC83)", "Midlothian (83)", "83: Midlothian"])  # fmt: skip
def test_a_vice_county_as_people_write_it(folder: Path, written: str) -> None:
    assert said(folder, EDINBURGH, written)[0] == ""
    code, sentence = said(folder, ST_ANDREWS, written)
    assert code == "county disagrees"
    assert "36 km outside" in sentence or "37 km outside" in sentence


def test_one_that_the_layer_does_not_have_is_a_note(folder: Path) -> None:
    code, sentence = said(folder, EDINBURGH, "Midlothain")
    assert code == "county not known"
    assert "vice-counties.gpkg" in sentence


def test_none_is_no_doubt(folder: Path) -> None:
    assert said(folder, EDINBURGH, "")[0] == ""


def test_a_square_on_the_line_is_in_both(folder: Path) -> None:
    assert said(folder, (340_000, 679_000), "83")[0] == ""


@pytest.mark.parametrize("by", ["layer", "lookup"])
def test_the_whole_way_from_the_area_file(
    area_folder: Path, gapmap: Callable[..., tuple[int, str, str]], by: str
) -> None:
    """The small area's records lie in the square OR47; the vice-county is one square of it, or another."""
    if by == "layer":
        system, side, east, north = (int(number[0]) for number in unpack(references_to_squares(["OR47"]).squares))
        assert (system, side) == (1, 10_000)
        square = box(east, north, east + side, north + side)
        outline = gpd.GeoDataFrame({"name": ["Eastshire"]}, geometry=[square], crs=27700)
        outline.to_file(area_folder / "counties.gpkg")
        text = (area_folder / "area.toml").read_text()
        offered = '# vice_counties = "vice-counties.gpkg"'
        assert offered in text
        (area_folder / "area.toml").write_text(text.replace(offered, 'vice_counties = "counties.gpkg"'))
    else:
        (area_folder / "lookups" / "places.csv").write_text("place,reference\nEastshire,OR47\n")
    rows = "Oniscus asellus,OR4776,1998,Eastshire\nOniscus asellus,OR6776,1998,Eastshire\n"
    (area_folder / "records" / "counties.csv").write_text(HEAD + rows)
    code, _, _ = gapmap("check", area_folder)
    assert code == 0
    problems = pd.read_csv(area_folder / "maps" / "problems.csv").query("file == 'counties.csv'")
    assert problems[["row", "code"]].to_numpy().tolist() == [[3, "county disagrees"]]


@pytest.mark.parametrize("fault", ["missing", "no layer", "no area", "no reference system"])
def test_a_layer_that_cannot_be_used_is_one_sentence(folder: Path, fault: str) -> None:
    path = folder / "vice-counties.gpkg"
    path.unlink()
    if fault == "no layer":
        path.write_text("nothing")
    elif fault == "no area":
        gpd.GeoDataFrame({"a": ["b"]}, geometry=[LineString([(0, 0), (1, 1)])], crs=27700).to_file(path)
    elif fault == "no reference system":
        gpd.GeoDataFrame({"a": ["b"]}, geometry=[box(0, 0, 1, 1)]).to_file(path)
    with pytest.raises(FileError, match="vice-counties"):
        said(folder, EDINBURGH, "83")
