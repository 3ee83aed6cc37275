"""References against other libraries and published codes: osbng, mgrs, INSPIRE identifiers, the DINTY table."""

import mgrs
import numpy as np
import pytest
from osbng.bng_reference import BNGReference
from osbng.indexing import xy_to_bng

from gapmap.grid.projections import home_of, lonlat_to_grid, utm_zone_of
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import pack, square_at, unpack
from gapmap.grid.systems import system_of, utm
from gapmap.grid.writing import european_code

OSBNG_SIDES = {"100km": 100_000, "10km": 10_000, "5km": 5_000, "1km": 1_000, "100m": 100, "10m": 10, "1m": 1}


@pytest.mark.parametrize("resolution", OSBNG_SIDES)
def test_random_british_references_agree_with_osbng(resolution):
    """osbng, by Ordnance Survey, knows the rectangle of Great Britain: 0–700 km east, 0–1,300 km north."""
    random = np.random.default_rng(27700)
    east, north = random.uniform(0, 700_000, 300), random.uniform(0, 1_300_000, 300)
    theirs = [xy_to_bng(e, n, resolution) for e, n in zip(east, north, strict=True)]
    squares = references_to_squares([reference.bng_ref_compact for reference in theirs]).squares
    _, side, corner_east, corner_north = unpack(squares)
    corners = [BNGReference(reference.bng_ref_compact).bng_to_xy(position="lower-left") for reference in theirs]
    assert list(zip(corner_east.tolist(), corner_north.tolist(), strict=True)) == corners
    assert set(side.tolist()) == {OSBNG_SIDES[resolution]}
    assert squares_to_references(squares).tolist() == [reference.bng_ref_compact for reference in theirs]
    assert squares.tolist() == square_at(1, east, north, OSBNG_SIDES[resolution]).tolist()


@pytest.mark.parametrize("precision", range(6))
def test_random_points_of_the_world_agree_with_mgrs(precision):
    """mgrs wraps GeoTrans of the US National Geospatial-Intelligence Agency."""
    random = np.random.default_rng(32600 + precision)
    lon, lat = random.uniform(-180, 180, 400), random.uniform(-79.9, 83.9, 400)
    library = mgrs.MGRS()
    theirs = [library.toMGRS(y, x, MGRSPrecision=precision) for x, y in zip(lon, lat, strict=True)]
    found = references_to_squares(theirs, "utm")
    assert [t for t, code in zip(theirs, found.code, strict=True) if code] == []
    keys, side, east, north = unpack(found.squares)
    for key in np.unique(keys):
        here = keys == key
        point_east, point_north = lonlat_to_grid(system_of(key), lon[here], lat[here])
        # GeoTrans rounds to the metre; a point on an edge may fall to either side of it.
        assert (np.abs(point_east - east[here] - side[here] / 2) <= side[here] / 2 + 1).all()
        assert (np.abs(point_north - north[here] - side[here] / 2) <= side[here] / 2 + 1).all()
    # The name of a square is that of its centre's band; near the edge of a band a point's may differ.
    clear = np.abs((lat + 80) % 8 - 4) < 3
    ours = squares_to_references(found.squares)
    assert ours[clear].tolist() == [t.lstrip("0") for t in np.array(theirs)[clear]]


def test_zones_agree_with_mgrs_in_norway_and_svalbard():
    library = mgrs.MGRS()
    lon, lat = (grid.ravel() for grid in np.meshgrid(np.arange(-2.5, 45, 0.97), np.arange(55.1, 83.9, 0.83)))
    theirs = [int(library.toMGRS(y, x, MGRSPrecision=0)[:-3]) for x, y in zip(lon, lat, strict=True)]
    assert utm_zone_of(lon, lat).tolist() == theirs


@pytest.mark.parametrize(
    ("text", "side", "east", "north"),
    [
        # Documentation of the R package that writes INSPIRE identifiers (long, short N–E, short E–N).
        ("CRS3035RES1000mN2684000E4334000", 1_000, 4_334_000, 2_684_000),
        ("1kmN2684E4334", 1_000, 4_334_000, 2_684_000),
        ("1kmE4334N2684", 1_000, 4_334_000, 2_684_000),
        ("10kmN270E440", 10_000, 4_400_000, 2_700_000),
        # European Environment Agency: at 50 km the numbers still count 10 km.
        ("50kmE450N350", 50_000, 4_500_000, 3_500_000),
    ],
)
def test_published_european_codes(text, side, east, north):
    squares = references_to_squares([text]).squares
    assert [part.item() for part in unpack(squares)] == [4, side, east, north]


@pytest.mark.parametrize(
    ("lon", "lat", "side", "code"),
    [
        # Schaan-Vaduz railway station, in the public tests of a coder of the European Environment Agency's grid.
        (9.508333, 47.168611, 100_000, "100kmE42N26"),
        (9.508333, 47.168611, 10_000, "10kmE428N267"),
        (9.508333, 47.168611, 1_000, "1kmE4283N2672"),
        (9.508333, 47.168611, 100, "100mE42836N26729"),
    ],
)
def test_published_place_in_the_european_grid(lon, lat, side, code):
    square = square_at(4, *lonlat_to_grid(system_of(4), [lon], [lat]), side)
    assert squares_to_references(square).tolist() == [code]


def test_long_european_code_is_written_as_published():
    assert european_code([pack(4, 1_000, 4_334_000, 2_684_000)]).tolist() == ["CRS3035RES1000mN2684000E4334000"]


#: Common practice, no source: the 25 tetrads of a hectad as they lie on the map, north at the top.
DINTY = """
    E J P U Z
    D I N T Y
    C H M S X
    B G L R W
    A F K Q V
"""


@pytest.mark.parametrize(
    ("hectad", "key", "east", "north"), [("OR47", 1, 640_000, 670_000), ("H47", 2, 240_000, 370_000)]
)
def test_tetrads_lie_as_in_the_dinty_table(hectad, key, east, north):
    for up, row in enumerate(reversed(DINTY.split("\n")[1:-1])):
        for across, letter in enumerate(row.split()):
            square = pack(key, 2_000, east + 2_000 * across, north + 2_000 * up)
            assert references_to_squares([hectad + letter]).squares.tolist() == [square]
            assert squares_to_references([square]).tolist() == [hectad + letter]


def test_squares_of_the_channel_islands():
    """Les Landes, Jersey, and Alderney harbour, by longitude and latitude from a gazetteer (from memory)."""
    lon, lat = [-2.24, -2.20], [49.24, 49.725]
    assert home_of(lon, lat).tolist() == [3, 3]
    squares = square_at(3, *lonlat_to_grid(system_of(3), lon, lat), 10_000)
    assert squares_to_references(squares).tolist() == ["WV55", "WA50"]
    in_zone = square_at(130, *lonlat_to_grid(utm(30), lon, lat), 10_000)
    assert squares_to_references(in_zone).tolist() == ["30UWV55", "30UWA50"]
