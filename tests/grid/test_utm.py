"""UTM zones: edges, bands, exceptions."""

from itertools import pairwise

import numpy as np
import pytest
import shapely

from gapmap.errors import GridError
from gapmap.grid.projections import grid_to_lonlat, home_of, lonlat_to_grid, utm_zone_of
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import square_at
from gapmap.grid.systems import utm
from gapmap.grid.utm import BANDS, band_limits, hundreds_of_band, read_zones, region, zone_limits


def test_bands_run_from_80_south_to_84_north_without_a_gap():
    edges = [band_limits(band) for band in BANDS]
    assert edges[0][0] == -80
    assert edges[-1] == (72, 84)
    assert all(below[1] == above[0] for below, above in pairwise(edges))


@pytest.mark.parametrize("band", BANDS)
def test_zones_go_once_round_the_earth_in_every_band(band):
    limits = [zone_limits(zone, band) for zone in range(1, 61)]
    kept = [edge for edge in limits if edge is not None]
    assert kept[0][0] == -180
    assert kept[-1][1] == 180
    assert all(left[1] == right[0] for left, right in pairwise(kept))


@pytest.mark.parametrize(
    ("lon", "lat", "zone"),
    # NGA.STND.0037 (from memory): zone 32 is widened over south-west Norway, 32, 34 and 36 are not used by Svalbard.
    [(2.9, 60, 31), (3, 60, 32), (3, 55.9, 31), (3, 64, 31), (8.9, 78, 31), (9, 78, 33), (20.9, 78, 33), (21, 78, 35),
     (33, 78, 37), (41.9, 78, 37), (42, 78, 38), (180, 0, 1), (-180, 0, 1), (179.99, 0, 60), (366, 0, 32), (0, 84.1, 0),
     (0, -80.1, 0), (float("nan"), 50, 0)],
)
def test_zone_of_a_point(lon, lat, zone):
    assert utm_zone_of([lon], [lat]).tolist() == [zone]


def test_region_of_a_zone_holds_its_points_and_no_others():
    ground = region(utm(32))
    lon, lat = [3.1, 5.9, 8, 6.1, 6.1, 11.9, 2.9, 10], [60, 63.9, 71.9, 55.9, 64.1, 60, 60, 80]
    inside = shapely.contains_xy(ground, *lonlat_to_grid(utm(32), lon, lat))
    assert inside.tolist() == [True, True, True, True, True, True, False, False]


def test_every_hundred_has_one_pair_of_letters_and_every_pair_one_hundred():
    for zone, band in ((31, "U"), (31, "V"), (32, "V"), (33, "X"), (1, "N"), (60, "C")):
        hundreds = hundreds_of_band(zone, band)
        assert len(set(hundreds.values())) == len(hundreds) > 0


def test_squares_at_a_zone_edge_are_read_in_both_zones_when_they_touch_both():
    """6° E at 50.7° N: the hectad that holds the edge has a name in each zone."""
    for system in (utm(31), utm(32)):
        square = square_at(system.key, *lonlat_to_grid(system, [6.0], [50.7]), 10_000)
        [name] = squares_to_references(square)
        assert references_to_squares([name]).squares.tolist() == square.tolist()


def test_a_band_is_that_of_the_centre():
    """The equator and 56° N in zone 31: the centre of each 1 km square says the band."""
    north = np.arange(6_190_500, 6_220_500, 1_000.0)
    names = squares_to_references(square_at(131, 470_500, north, 1_000))
    _, lat = grid_to_lonlat(utm(31), np.full(len(north), 470_500), north)
    assert [name[2] for name in names] == ["V" if degrees >= 56 else "U" for degrees in lat]
    assert {"U", "V"} == {name[2] for name in names}
    assert squares_to_references(square_at(131, [500_500], [500], 1_000)).tolist() == ["31NEA0000"]
    assert squares_to_references(square_at(211, [500_500], [9_999_500], 1_000)).tolist() == ["31MEV0099"]


def test_home_of_a_point_is_the_grid_people_use_there():
    places = {
        (-3.19, 55.95): 1, (-6.3, 49.89): 1, (-8.6, 57.82): 1, (-4.5, 54.2): 1, (1.75, 52.48): 1, (-0.9, 60.8): 1,
        (-6.26, 53.35): 2, (-5.93, 54.6): 2, (-10.4, 51.9): 2, (-7.3, 55.3): 2, (-2.58, 49.45): 3, (-2.2, 49.72): 3,
        (2.35, 48.85): 131, (4.35, 50.85): 131, (5.3, 60.4): 132, (151.2, -33.9): 236, (0, 89): 0, (np.nan, 0): 0,
    }  # fmt: skip
    lon, lat = zip(*places, strict=True)
    assert home_of(lon, lat).tolist() == list(places.values())


def test_zones_are_read_as_typed():
    assert read_zones(["31U", " 32v", "1C"]) == ((31, "U"), (32, "V"), (1, "C"))
    with pytest.raises(GridError, match="31X, 33X"):
        read_zones(["34X"])
