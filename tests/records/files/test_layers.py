"""Layers as people send them: waypoints of a device, places of an earth viewer, zipped shapefiles, squares.

The forms are those of GPX 1.1 (element wpt with name, time, cmt) and of OGC 12-007r2, KML 2.3 (Placemark, Point,
TimeStamp, ExtendedData), both from memory. The place is Edinburgh: 55.95 N, 3.2 W lies in the 10 km square NT27.
"""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import MultiPoint, Point, box

from gapmap.errors import FileError
from gapmap.records.clean import read_records
from gapmap.records.companions import companions_of
from gapmap.records.table import Records
from gapmap.settings import Settings

GPX = """<?xml version="1.0"?>
<gpx version="1.1" creator="a device" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="55.9513" lon="-3.2105"><time>1998-05-12T10:31:00Z</time><name>Aglais io</name><cmt>on a thistle</cmt></wpt>
<wpt lat="55.9502" lon="-3.2014"><name>Pieris rapae</name></wpt>
<trk><name>walk</name><trkseg><trkpt lat="55.95" lon="-3.2"/><trkpt lat="55.96" lon="-3.2"/></trkseg></trk></gpx>"""
KML = """<?xml version="1.0" encoding="UTF-8"?>
<kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>Finds</name>
<Placemark><name>Aglais io</name><TimeStamp><when>1998-05-12</when></TimeStamp>
<ExtendedData><Data name="Recorder"><value>A. Marsh</value></Data></ExtendedData>
<Point><coordinates>-3.2105,55.9513,0</coordinates></Point></Placemark>
<Placemark><name>a path</name><LineString><coordinates>-3.2,55.9,0 -3.1,55.9,0</coordinates></LineString></Placemark>
</Document></kml>"""


def hectads(records: Records) -> set[tuple[int, int]]:
    frame = records.frame()
    return set(zip(frame["easting"] // 10_000, frame["northing"] // 10_000, strict=True))


def read(path: Path) -> Records:
    return read_records([path], Settings())


def test_waypoints_are_records_and_tracks_are_not(tmp_path: Path) -> None:
    (tmp_path / "walk.gpx").write_text(GPX)
    records = read(tmp_path / "walk.gpx")
    assert records.files[["rows", "records"]].to_numpy().tolist() == [[2, 2]]
    assert records.species["name"].tolist() == ["Aglais io", "Pieris rapae"]
    assert hectads(records) == {(32, 67)}
    assert records.frame()["date_kind"].tolist() == ["day", "unknown"]
    assert records.frame()["time_of_day"].tolist() == ["10", ""]


@pytest.mark.parametrize("name", ["finds.kml", "finds.kmz"])
def test_placemarks(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    if name.endswith("kmz"):
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr("doc.kml", KML)
            archive.writestr("files/pin.png", b"\x89PNG")
    else:
        path.write_text(KML)
    records = read(path)
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[2, 1, 1]]
    assert hectads(records) == {(32, 67)}
    assert str(records.frame()["date_from"][0].date()) == "1998-05-12"
    assert records.frame()["time_of_day"].tolist() == [""]
    assert "A. Marsh" in records.people["names"].tolist()


def test_a_zipped_shapefile_is_one_layer(tmp_path: Path) -> None:
    finds = gpd.GeoDataFrame({"Species": ["Aglais io"]}, geometry=[Point(325_431, 673_077)], crs=27700)
    (tmp_path / "inner").mkdir()
    finds.to_file(tmp_path / "inner" / "finds.shp")
    with zipfile.ZipFile(tmp_path / "finds.zip", "w") as archive:
        for part in (tmp_path / "inner").iterdir():
            archive.write(part, f"2024/{part.name}")
    records = read(tmp_path / "finds.zip")
    assert records.files[["file", "records"]].to_numpy().tolist() == [["finds.zip: 2024/finds.shp", 1]]
    assert records.frame()[["easting", "northing"]].to_numpy().tolist() == [[325_431, 673_077]]


def test_squares_drawn_as_outlines_are_placed_by_their_references(tmp_path: Path) -> None:
    squares = {"species": ["Aglais io", "Pieris rapae"], "tetrad": ["NT27M", ""]}
    outlines = [box(324_000, 674_000, 326_000, 676_000), box(326_000, 674_000, 328_000, 676_000)]
    gpd.GeoDataFrame(squares, geometry=outlines, crs=27700).to_file(tmp_path / "squares.gpkg")
    records = read(tmp_path / "squares.gpkg")
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[2, 1, 1]]
    assert records.frame()[["easting", "northing", "precision_m"]].to_numpy().tolist() == [[324_000, 674_000, 2000]]
    assert records.problems()["code"].tolist().count("not a point") == 2


def test_one_point_that_is_called_several(tmp_path: Path) -> None:
    shapes = [MultiPoint([(-3.2, 55.95)]), MultiPoint([(-3.2, 55.95), (-3.1, 55.95)])]
    frame = gpd.GeoDataFrame({"species": ["Aglais io"] * 2}, geometry=shapes, crs=4326)
    frame.to_file(tmp_path / "a.geojson", driver="GeoJSON")
    records = read(tmp_path / "a.geojson")
    assert records.files[["records", "problem_rows"]].to_numpy().tolist() == [[1, 1]]
    assert "several points" in records.problems().query("code == 'not a point'")["sentence"].iloc[0]


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("a.kml", '<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY a "b">]><kml>&a;</kml>', "dangerous"),
        ("a.gpx", '<?xml version="1.0"?><gpx><wpt lat="1"', "damaged"),
        ("a.xml", '<?xml version="1.0"?><something/>', "no table"),
        ("a.json", json.dumps([{"species": "Aglais io"}]), "no layer of points"),
    ],
)
def test_marked_up_files_that_are_no_layers(tmp_path: Path, name: str, content: str, what: str) -> None:
    (tmp_path / name).write_text(content)
    with pytest.raises(FileError, match=what):
        read(tmp_path / name)


def test_a_letter(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "finds.docx", "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("word/document.xml", "<w/>")
    with pytest.raises(FileError, match="a letter of a word processor"):
        read(tmp_path / "finds.docx")


def test_companions() -> None:
    names = ["a.shp", "a.shp.xml", "a.DBF", "b.dbf", "c/a.prj", "d.xml", "e.mif", "e.mid", "f.gpkg", "f.gpkg-wal"]
    assert companions_of(names) == {"a.shp.xml", "a.DBF", "e.mid", "f.gpkg-wal"}
