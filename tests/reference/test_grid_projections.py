"""Projections against published points: OSTN15, the Ordnance Survey guide, the Irish mapping agency."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from convertbng.cutil import convert_bng, convert_etrs89_to_osgb36
from pyproj import CRS, Transformer

from gapmap.columns import NO_SQUARE
from gapmap.grid.projections import crs_to_lonlat, grid_to_lonlat, lonlat_to_grid
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import place_in, square_at, unpack
from gapmap.grid.systems import system_named, system_of

OPEN_DATA = Path(__file__).parents[3] / "shared" / "data"
BRITISH, IRISH = system_named("british"), system_named("irish")

# Ordnance Survey, OSTN15 developer pack, test points (ETRS89 latitude and longitude, OSGB36 easting and northing):
# Scilly, Norfolk, Edinburgh, St Kilda, Foula.
OSTN15_POINTS = pd.DataFrame(
    [
        ("TP01", 49.92226394, -6.29977752, 91492.146, 11318.804),
        ("TP07", 51.37447026, 1.4445473, 639821.835, 169565.858),
        ("TP27", 55.92478266, -3.29479219, 319188.434, 670947.534),
        ("TP31", 57.81351838, -8.57854456, 9587.909, 899448.996),
        ("TP40", 60.13308092, -2.07382823, 395999.668, 1138728.951),
    ],
    columns=["id", "lat_etrs89", "lon_etrs89", "osgb36_e", "osgb36_n"],
)


def all_ostn15_points() -> pd.DataFrame:
    file = OPEN_DATA / "ostn15_testpoints.csv"
    if not file.exists():
        pytest.skip(f"{file.name} is not beside the project; five of its points are checked in the other tests")
    return pd.read_csv(file)


def assert_within_two_centimetres(points: pd.DataFrame) -> None:
    east, north = lonlat_to_grid(BRITISH, points.lon_etrs89, points.lat_etrs89)
    assert np.hypot(east - points.osgb36_e, north - points.osgb36_n).max() < 0.02
    lon, lat = grid_to_lonlat(BRITISH, points.osgb36_e, points.osgb36_n)
    across = np.radians(lon - points.lon_etrs89) * 6_378_137 * np.cos(np.radians(lat))
    up = np.radians(lat - points.lat_etrs89) * 6_378_137
    assert np.hypot(across, up).max() < 0.02


def test_five_ostn15_points_within_two_centimetres():
    assert_within_two_centimetres(OSTN15_POINTS)


@pytest.mark.open_data
def test_all_forty_ostn15_points_within_two_centimetres():
    points = all_ostn15_points()
    assert len(points) == 40
    assert_within_two_centimetres(points)


@pytest.mark.open_data
def test_seven_parameter_shift_is_within_five_metres_in_britain():
    """The guide's own claim for the shift that stands in where OSTN15 does not reach."""
    points = all_ostn15_points()
    shift = Transformer.from_crs("EPSG:4326", BRITISH.plane, always_xy=True)
    east, north = shift.transform(points.lon_etrs89, points.lat_etrs89)
    off = np.hypot(east - points.osgb36_e, north - points.osgb36_n)
    assert 0.5 < off.max() < 5


def test_a_gps_point_lands_in_its_ten_metre_square_only_through_ostn15():
    """TP01 of the developer pack: the plain shift puts it in another 10 m square."""
    point = OSTN15_POINTS[OSTN15_POINTS.id == "TP01"]
    east, north = lonlat_to_grid(BRITISH, point.lon_etrs89, point.lat_etrs89)
    right = square_at(1, point.osgb36_e, point.osgb36_n, 10)
    assert square_at(1, east, north, 10).tolist() == right.tolist()
    plain = Transformer.from_crs("EPSG:4326", BRITISH.plane, always_xy=True)
    shifted = plain.transform(point.lon_etrs89, point.lat_etrs89)
    assert square_at(1, *shifted, 10).tolist() != right.tolist()


def test_worked_example_of_the_ordnance_survey_guide():
    """OS, A guide to coordinate systems in Great Britain, annex C: a point on the Airy ellipsoid."""
    plane = CRS.from_user_input(BRITISH.plane).source_crs
    project = Transformer.from_crs(plane.geodetic_crs, plane, always_xy=True)
    east, north = project.transform(1 + 43 / 60 + 4.5177 / 3600, 52 + 39 / 60 + 27.2531 / 3600)
    assert (east, north) == pytest.approx((651_409.903, 313_177.270), abs=0.001)


def test_spire_of_dublin_on_the_irish_grid():
    """Published by the Irish mapping agency's converter, to the metre."""
    east, north = lonlat_to_grid(IRISH, [-6.2602478], [53.3497939])
    assert np.hypot(east - 315_904, north - 234_671)[0] < 1
    lon, lat = grid_to_lonlat(IRISH, [315_904], [234_671])
    assert (lon[0], lat[0]) == pytest.approx((-6.2602478, 53.3497939), abs=1.5e-5)


def test_itm_station_near_dublin():
    """Published by the Irish mapping agency's converter, to the centimetre."""
    lon, lat = crs_to_lonlat("EPSG:2157", [709_885.081], [736_167.699])
    assert (lon[0], lat[0]) == pytest.approx((-6.34898735, 53.36427344), abs=1e-7)


@pytest.mark.parametrize(
    ("place", "lon", "lat"),
    [("Dublin", -6.26, 53.35), ("Belfast", -5.93, 54.6), ("Rathlin", -6.2, 55.3), ("Calais", 1.7, 50.95)],
)
def test_convertbng_is_not_believed_outside_britain(place, lon, lat):
    """It answers there, from a shift grid that means nothing there; we answer with the seven-parameter shift."""
    unguarded = np.ravel(convert_bng([lon], [lat]))
    assert np.isfinite(unguarded).all(), f"{place}: convertbng no longer answers, the guard can go"
    guarded = np.ravel(lonlat_to_grid(BRITISH, [lon], [lat]))
    shift = Transformer.from_crs("EPSG:4326", BRITISH.plane, always_xy=True)
    assert guarded == pytest.approx(shift.transform(lon, lat), abs=0.001)
    assert abs(guarded - unguarded).max() > 0.1


@pytest.mark.parametrize(
    ("place", "lon", "lat"),
    [("Scilly", -6.34, 49.89), ("St Kilda", -8.62, 57.82), ("Islay", -6.25, 55.65), ("Kintyre", -5.75, 55.31),
     ("Galloway", -5.12, 54.84), ("Isle of Man", -4.82, 54.06), ("Smalls", -5.67, 51.72), ("Dover", 1.35, 51.12),
     ("Lizard", -5.2, 49.96), ("Unst", -0.85, 60.84), ("Sanda", -5.58, 55.28)],
)
def test_ostn15_is_used_to_the_outermost_islands_of_britain(place, lon, lat):
    """convertbng refuses longitude and latitude in some of them, but not the plane of ETRS89."""
    plane = Transformer.from_crs(
        "EPSG:4258", "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996012717 +x_0=400000 +y_0=-100000 +ellps=GRS80",
        always_xy=True,
    )
    east, north = plane.transform([lon], [lat])
    expected = np.ravel(convert_etrs89_to_osgb36(east, north))
    assert np.isfinite(expected).all()
    assert np.ravel(lonlat_to_grid(BRITISH, [lon], [lat])) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("lon", "lat"), [(2.35, 48.85), (-2.1, 49.2), (-13.69, 57.6), (3, 61.5)])
def test_points_beyond_the_rectangle_still_get_a_place_and_come_back(lon, lat):
    assert np.isnan(np.ravel(convert_bng([lon], [lat]))).all()
    back = grid_to_lonlat(BRITISH, *lonlat_to_grid(BRITISH, [lon], [lat]))
    assert np.ravel(back) == pytest.approx((lon, lat), abs=5e-8)


@pytest.mark.open_data
def test_references_of_the_edinburgh_records_by_size():
    """Counts given with the open data: 888 hectads, 1,793 tetrads, 11,867 monads, 11,136 squares of 100 m."""
    file = OPEN_DATA / "edinburgh_2000_2016.csv"
    if not file.exists():
        pytest.skip(f"{file.name} is not beside the project")
    texts = pd.read_csv(file)["gridReference"]
    squares = references_to_squares(texts).squares
    key, side, east, north = unpack(squares)
    assert set(key.tolist()) == {1}
    assert pd.Series(side).value_counts().to_dict() == {1_000: 11_867, 100: 11_136, 2_000: 1_793, 10_000: 888}
    assert (squares_to_references(squares) == texts.to_numpy(dtype=object)).all()
    placed = place_in(key, east, north, side, False, 2_000)
    assert (placed[side == 10_000] == NO_SQUARE).all()
    assert (placed[side == 2_000] == squares[side == 2_000]).all()


@pytest.mark.open_data
def test_belgian_squares_hold_the_centres_given_beside_them():
    """Centre latitude and longitude beside each 1 km square without zone, in open data of 37 ladybirds."""
    file = OPEN_DATA / "be_ladybirds_utm1km.csv"
    if not file.exists():
        pytest.skip(f"{file.name} is not beside the project")
    squares = pd.read_csv(file).drop_duplicates("utm1km")
    assert len(squares) == 13_067
    found = references_to_squares(squares.utm1km, "utm", ["31U", "32U"])
    assert (found.code == "").all()
    key, side, _, _ = unpack(found.squares)
    for number in np.unique(key):
        here = key == number
        lon_east, lat_north = lonlat_to_grid(system_of(number), squares.long[here], squares.lat[here])
        assert (side[here] == 1000).all()
        assert (square_at(number, lon_east, lat_north, 1000) == found.squares[here]).all()
