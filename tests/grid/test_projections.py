"""Projections at their edges: nothing in, no numbers, unknown systems. Accuracy is checked in tests/reference."""

import numpy as np
import pytest

from gapmap.errors import GridError
from gapmap.grid.projections import crs_to_lonlat, grid_to_grid, grid_to_lonlat, home_of, lonlat_to_grid
from gapmap.grid.systems import SYSTEMS, system_named, utm

EVERY = [*SYSTEMS.values(), utm(31), utm(56, north=False)]


@pytest.mark.parametrize("system", EVERY, ids=lambda system: system.name)
def test_nothing_in_nothing_out(system):
    for convert in (lonlat_to_grid, grid_to_lonlat):
        one, two = convert(system, [], [])
        assert one.tolist() == two.tolist() == []


@pytest.mark.parametrize("system", EVERY, ids=lambda system: system.name)
def test_what_is_no_place_gives_no_number_and_spares_its_neighbours(system):
    lon, lat = np.array([np.nan, -3.2, np.inf, 0, -3.2]), np.array([55.9, 55.9, 55.9, 200, 55.9])
    east, north = lonlat_to_grid(system, lon, lat)
    assert np.isnan(east).tolist() == np.isnan(north).tolist() == [True, False, True, True, False]
    back = grid_to_lonlat(system, [np.nan, east[1], np.inf], [0, north[1], 0])
    assert np.isnan(back).tolist() == [[True, False, True]] * 2


def test_inputs_are_left_alone():
    lon, lat = np.array([-3.2, -6.26]), np.array([55.9, 53.35])
    kept = lon.copy(), lat.copy()
    lonlat_to_grid(system_named("british"), lon, lat)
    same = grid_to_grid(system_named("irish"), system_named("irish"), lon, lat)
    same[0][0] = 0
    assert np.array_equal([lon, lat], kept)


def test_a_mixed_column_is_projected_like_its_points_one_by_one():
    british = system_named("british")
    lon, lat = [-3.2, -6.26, -6.34, -2.1, 1.0, -8.62], [55.9, 53.35, 49.89, 49.2, 52.0, 57.82]
    together = np.array(lonlat_to_grid(british, lon, lat))
    single = np.array([np.ravel(lonlat_to_grid(british, [x], [y])) for x, y in zip(lon, lat, strict=True)]).T
    assert np.array_equal(together, single)
    assert np.isfinite(together).all()
    assert home_of(lon, lat).tolist() == [1, 2, 1, 3, 1, 1]


@pytest.mark.parametrize("crs", ["EPSG:27700", "27700", " epsg:27700 "])
def test_the_british_grid_by_its_number_goes_through_ostn15(crs):
    """OSTN15 developer pack, point TP27."""
    lon, lat = crs_to_lonlat(crs, [319_188.434], [670_947.534])
    assert (lon[0], lat[0]) == pytest.approx((-3.29479219, 55.92478266), abs=2e-7)


def test_longitude_and_latitude_stay_what_they_are():
    lon, lat = crs_to_lonlat("EPSG:4326", [-3.2], [55.9])
    assert (lon[0], lat[0]) == pytest.approx((-3.2, 55.9))


@pytest.mark.parametrize("crs", ["", "EPSG:999999", "grid", "99999999999999999999"])
def test_a_crs_that_is_none_is_one_clear_sentence(crs):
    with pytest.raises(GridError) as caught:
        crs_to_lonlat(crs, [0], [0])
    assert "EPSG:27700" in str(caught.value)
