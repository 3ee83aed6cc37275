"""What the headers of coordinates say, and in which grid eastings and northings are."""

from __future__ import annotations

from collections.abc import Callable

import duckdb
import numpy as np
import pandas as pd
import pytest

from gapmap.errors import ColumnError
from gapmap.grid.projections import grid_to_grid
from gapmap.grid.systems import system_of
from gapmap.records.places.metres import _number_in_sql
from gapmap.records.places.planes import crs_to_system
from gapmap.records.places.positions import POSITION, bring_over, text_to_number
from gapmap.records.table import Records


def corners(records: Records) -> list[list[int]]:
    return records.frame()[["system", "easting", "northing", "precision_m"]].to_numpy().tolist()


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [("Latitude (N/S)", "Longitude (E/W)"), ("Latitude (d m s)", "Longitude (d m s)"),
     ("Latitude (deg, min, s)", "Longitude (deg, min, s)"), ("Latitude (S negative)", "Longitude (W negative)"),
     ("Lat (+N/-S)", "Long (+E/-W)"), ("Latitude (decimal degrees, S negative)", "Longitude (W is minus)"),
     ("Lat (-S)", "Long (-W)"), ("Lats", "Long"), ("Latitude (N or S)", "Longitude (E or W)")],
)  # fmt: skip
def test_headers_that_name_both_sides_turn_nothing(read: Callable[..., Records], latitude: str, longitude: str) -> None:
    """51.28 N, 1.08 E is Canterbury, in TR15 (Ordnance Survey's letters); 1.08 W would be Hampshire."""
    records = read(f'species,"{latitude}","{longitude}"\nWren,51.28,1.08\n')
    [[system, easting, northing, _]] = corners(records)
    assert (system, easting // 10_000, northing // 10_000) == (1, 61, 15)


@pytest.mark.parametrize("latitude", ["Latitude S", "Lat (S)", "Latitude (South)", "Lat °S", "Latitude (degrees S)", "LatitudeSouth"])
@pytest.mark.parametrize("longitude", ["Longitude W", "Long (West)", "LongW"])
def test_headers_that_end_in_one_side_turn_the_column(read: Callable[..., Records], latitude: str, longitude: str) -> None:
    """22.9 S, 43.2 W is Rio de Janeiro, in UTM zone 23 south: zones of 6° from 180° W, so (180 - 43.2) // 6 + 1 = 23."""
    [[system, *_]] = corners(read(f"species,{latitude},{longitude}\nWren,22.9,43.2\n"))
    assert system == 180 + 23


def sentences(records: Records) -> list[tuple[int, str]]:
    found = records.problems().query("row > 0")
    return list(zip(found["row"], found["sentence"], strict=True))


def test_each_row_stands_in_the_grid_it_names(read: Callable[..., Records]) -> None:
    """EPSG registry: 27700 British National Grid, 29903 and 29902 Irish Grid."""
    records = read(
        "species,easting,northing,crs\nWren,325123,373456,EPSG:27700\nWren,325126,373459,OSGB36\n"
        "Wren,325124,373457,OSGB 1936 / British National Grid\nWren,315123,233456,EPSG:29903\n"
        "Wren,315123,233456,TM65 / Irish Grid (EPSG:29902)\nWren,325125,373458,\nWren,425123,4773456,EPSG:23030\n",
        grid="british",
    )
    assert sentences(records) == [(8, "“EPSG:23030” names no grid in which easting and northing can be read.")]
    # What the suggestion says: without the column the area's grid is taken.
    without = read("species,easting,northing,crs\nWren,425123,473456,EPSG:23030\n", grid="british", columns={"crs": ""})
    assert corners(without) == [[1, 425_123, 473_456, 1]]
    own = records.frame("source_row, system, easting, northing")
    as_written = own[own["source_row"].isin([2, 3, 4, 7])]
    assert as_written["easting"].tolist() == [325_123, 325_126, 325_124, 325_125]
    # 315123, 233456 in the Irish Grid is O 15 33, Dublin: in the British grid west of Anglesey, which begins at 220 km.
    irish = own[own["source_row"].isin([5, 6])]
    assert irish["system"].tolist() == [1, 1]
    assert (irish["easting"] < 220_000).all()
    assert irish["northing"].nunique() == 1


def test_each_row_stands_in_the_zone_it_names(read: Callable[..., Records]) -> None:
    content = "species,zone,easting,northing\nWren,31U,525123,5673456\nWren,30U,415123,5633456\nWren,99U,1,2\nWren,,525123,5673456\n"
    records = read(content, grid="utm", zones=["30U"])
    assert [corner[0] for corner in corners(records)] == [131, 130, 130]
    assert sentences(records) == [(4, "“99U” names no zone of UTM.")]
    assert [corner[0] for corner in corners(read(content.replace("99U", "30U")))] == [131, 130, 130]


def test_without_any_grid_rows_are_refused_one_by_one_and_files_at_once(read: Callable[..., Records]) -> None:
    content = "species,easting,northing,crs\nWren,325123,373456,\nWren,325123,373456,EPSG:27700\nWren,,,\n"
    assert sentences(read(content)) == [
        (2, "The row does not say in which grid its easting and northing are."),
        (4, "The row does not say where the species was found."),
    ]
    with pytest.raises(ColumnError, match="not in which grid"):
        read(content.replace("EPSG:27700", "WGS84"))


@pytest.mark.parametrize(
    ("text", "key"),
    [("not specified", 0), ("Easting (species)", 0), ("Easting (field)", 0), ("verified", 0), ("IE", 2), ("TM75 (ie)", 2),
     ("OSGB36", 1), ("OSGB 1936 / British National Grid", 1), ("EPSG:2157, Irish Transverse Mercator", 0),
     ("urn:ogc:def:crs:EPSG::3035", 4), ("EPSG:32733", 213), ("ED50 / UTM zone 30N", 0), ("ETRS89 / UTM zone 31N", 131)],
)  # fmt: skip
def test_words_and_codes_of_grids(text: str, key: int) -> None:
    """Codes and names of the EPSG registry; the keys are those of gapmap.grid.systems."""
    assert crs_to_system(text) == key


def test_a_header_with_ie_in_a_word_is_not_irish(read: Callable[..., Records]) -> None:
    records = read("species,Easting (field),Northing (field)\nWren,325123,173456\n", grid="british")
    assert corners(records) == [[1, 325_123, 173_456, 1]]


@pytest.mark.parametrize(
    ("pairs", "words"),
    [("-3.1,55.9\nWren,-3.2,56.1\nWren,0,0", "degrees"), ("325.1,673.4\nWren,401,522", "kilometres")],
)
def test_a_file_without_metres_is_refused(read: Callable[..., Records], pairs: str, words: str) -> None:
    with pytest.raises(ColumnError, match=f"look like {words}"):
        read(f"species,x,y\nWren,{pairs}\n", grid="british")
    # One pair that can only be metres, and the others may be slips.
    assert corners(read(f"species,x,y\nWren,{pairs}\nWren,325123,673456\n", grid="british"))[-1][1:3] == [325_123, 673_456]


def test_degrees_that_nobody_needs_do_no_harm(read: Callable[..., Records]) -> None:
    assert corners(read("species,grid ref,x,y\nWren,NT2573,-3.1,55.9\n", grid="british")) == [[1, 325_000, 673_000, 1000]]


@pytest.mark.parametrize("written", ["325 412", "325412 m", "325,412", "325412,5"])
def test_one_fine_easting_shows_that_the_file_is_written_to_the_metre(read: Callable[..., Records], written: str) -> None:
    records = read(f'species,easting,northing\nWren,325000,673000\nWren,"{written}",673000\nWren,?,673000\n', grid="british")
    assert corners(records) == [[1, 325_000, 673_000, 1], [1, 325_412, 673_000, 1]]
    assert records.frame()["is_point"].all()


@pytest.mark.parametrize(
    ("text", "number"),
    [("0,125", 0.125), ("325400,123", 325_400.123), ("325,400", 325_400), ("1,234,567.5", 1_234_567.5), ("325 400 m", 325_400),
     ("−3,1", -3.1), ("1,23,456", np.nan), ("nan", np.nan), ("inf", np.nan), ("", np.nan), ("x", np.nan)],
)  # fmt: skip
def test_numbers_read_alike_in_both_languages(text: str, number: float) -> None:
    """A comma parts thousands after one to three digits that do not begin with a nought (common practice)."""
    [(by_sql,)] = duckdb.connect().execute(f"select {_number_in_sql('?::varchar')}".replace("?::varchar", f"'{text}'")).fetchall()
    assert [text_to_number(text), np.nan if by_sql is None else by_sql] == pytest.approx([number] * 2, nan_ok=True)


def test_metres_stand_in_where_no_coordinates_do(read: Callable[..., Records]) -> None:
    records = read(
        "species,latitude,longitude,easting,northing\nWren,52.28,1.08,,\nWren,,,325123,673456\nWren,,,,\nWren,52.28,,325123,673456\n",
        grid="british",
    )
    assert corners(records)[1] == [1, 325_123, 673_456, 1]
    assert sentences(records) == [(4, "The row does not say where the species was found."), (5, "The longitude is missing.")]


def test_points_brought_over_are_cut_down_on_both_sides_of_nought() -> None:
    """A point half a metre west of the false origin lies in the metre from -1 to 0."""
    [east], [north] = grid_to_grid(system_of(1), system_of(2), np.array([-0.5]), np.array([540_000.0]))
    near = pd.DataFrame({"system": 2, "easting": np.arange(-3, 4) + int(east), "northing": int(north), "precision_m": 1, "is_point": True})
    exact, _ = grid_to_grid(system_of(2), system_of(1), near["easting"].to_numpy(float), near["northing"].to_numpy(float))
    assert list(near) == list(POSITION)
    assert bring_over(near, 1)["easting"].tolist() == np.floor(exact).tolist()
    assert (exact < 0).any()
    assert (exact > 0).any()
