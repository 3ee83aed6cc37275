"""Squares: packing, places, parents, neighbours, outlines. Figures are visible arithmetic unless said."""

import duckdb
import numpy as np
import pandas as pd
import pytest
import shapely

from gapmap.columns import NO_SQUARE
from gapmap.errors import GridError
from gapmap.grid.projections import lonlat_to_grid
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import (
    SIDES,
    centre,
    children,
    is_cut,
    is_inside,
    neighbours,
    pack,
    parent,
    place_in,
    place_sql,
    polygons,
    polygons_lonlat,
    square_at,
    unpack,
)
from gapmap.grid.systems import system_named, system_of


def square(reference: str) -> int:
    found = references_to_squares([reference])
    assert found.code.tolist() == [""], found.sentence[0]
    return int(found.squares[0])


def names(squares) -> list[str]:
    return squares_to_references(squares).tolist()


def test_the_packed_number_is_the_one_agreed_on():
    assert pack(1, 2_000, 344_000, 672_000).item() == ((1 * 16 + 4) << 48) | (4_672_000 << 24) | 4_344_000
    assert pack(240, 50_000, 0, 9_950_000).item() > 0


def test_corners_beyond_any_plane_are_no_square():
    assert pack(1, 1, [-4_000_001, 12_777_216], [0, 0]).tolist() == [NO_SQUARE, NO_SQUARE]
    assert pack(0, 1, 0, 0).item() == NO_SQUARE


def test_an_unknown_side_is_one_clear_sentence():
    with pytest.raises(GridError, match="Squares cannot have this side"):
        pack(1, 3_000, 0, 0)
    with pytest.raises(GridError):
        place_sql(3_000)
    with pytest.raises(GridError):
        pack(1, [1_000, 3_000], 0, 0)


def test_nothing_in_nothing_out():
    assert [part.tolist() for part in unpack([])] == [[], [], [], []]
    assert parent([], 1_000).tolist() == square_at(1, [], [], 1_000).tolist() == []
    assert len(polygons([])) == len(polygons_lonlat([])) == len(is_cut([])) == 0
    assert [part.tolist() for part in centre([])] == [[], []]


def test_a_point_on_an_edge_belongs_to_the_square_above_and_right_of_it():
    east, north = [324_000, 323_999.999, 324_000], [672_000, 672_000, 671_999.999]
    assert names(square_at(1, east, north, 2_000)) == ["NT27L", "NT27G", "NT27K"]


@pytest.mark.parametrize(("east", "north"), [(np.nan, 0), (0, np.inf), (1_500_000, 0), (0, -500_001)])
def test_points_outside_the_grid_have_no_square(east, north):
    assert square_at(1, [east], [north], 1_000).tolist() == [NO_SQUARE]
    assert is_inside(1, [east], [north]).tolist() == [False]


def place(reference: str, side: int) -> str:
    key, width, east, north = unpack([square(reference)])
    return names(place_in(key, east, north, width, False, side))[0]


@pytest.mark.parametrize(
    ("reference", "side", "placed"),
    [
        ("NT27", 2_000, ""), ("NT27", 10_000, "NT27"), ("NT27", 5_000, ""), ("NT27G", 2_000, "NT27G"),
        ("NT27G", 1_000, ""),
        ("NT2473", 2_000, "NT27L"), ("NT245735", 1_000, "NT2473"), ("NT27L", 5_000, ""), ("NT27G", 5_000, "NT27SW"),
        ("NT27G", 10_000, "NT27"), ("NT27NE", 2_000, ""), ("NT27NE", 10_000, "NT27"), ("NT27", 20_000, "NT26-20km"),
        ("NT27", 50_000, "NT05-50km"), ("NT27", 100_000, "NT"), ("H47G", 2_000, "H47G"),
        ("31UDS6858", 10_000, "31UDS65"),
    ],
)
def test_a_reference_is_a_square_and_not_a_point(reference, side, placed):
    assert place(reference, side) == placed


def test_the_tetrad_that_lies_across_two_quadrants_is_in_neither():
    across = [letter for letter in "ABCDEFGHIJKLMNPQRSTUVWXYZ" if not place(f"NT27{letter}", 5_000)]
    # The third column and the third row of five: common practice, no source.
    assert sorted(across) == sorted("KLMNP" + "CHSX")


def test_a_point_is_placed_by_itself_unless_it_is_too_uncertain():
    placed = place_in(1, [325_500] * 3, [673_500] * 3, [1_000, 1_001, 1_011], True, 1_000)
    assert names(placed) == ["NT2573", "NT2573", ""]


def test_place_sql_says_the_same_as_place_in():
    random = np.random.default_rng(1)
    sides = np.array([1, 10, 100, 1_000, 2_000, 5_000, 10_000])
    precision = random.choice(sides, 2_000)
    east = random.integers(-1_000_000, 1_400_000, 2_000) // precision * precision
    north = random.integers(-500_000, 1_900_000, 2_000) // precision * precision
    frame = pd.DataFrame({
        "system": random.choice([1, 4, 131], 2_000), "easting": east, "northing": north, "precision_m": precision,
        "is_point": random.random(2_000) < 0.3,
    })
    for side in SIDES:
        placed = duckdb.sql(f"select {place_sql(side)} as square from frame").df()["square"].to_numpy()
        expected = place_in(frame.system, east, north, precision, frame.is_point, side)
        assert (placed == expected).all()
        assert (placed == NO_SQUARE).any() or side >= 10_000


def test_children_fill_their_parent():
    hectad = square("OR47")
    for side, count in ((1_000, 100), (2_000, 25), (5_000, 4), (10_000, 1)):
        inside = children(hectad, side)
        assert len(set(inside.tolist())) == count
        assert set(parent(inside, 10_000).tolist()) == {hectad}
        assert shapely.union_all(polygons(inside)).equals(polygons([hectad])[0])


@pytest.mark.parametrize(("reference", "side"), [("OR47NE", 2_000), ("OR47P", 10_000), ("OR4768", 2_000)])
def test_children_that_do_not_fill_are_an_error(reference, side):
    with pytest.raises(GridError):
        children(square(reference), side)


def test_neighbours_cross_the_letters():
    assert names(neighbours(square("NT90"))) == ["NY89", "NY99", "NZ09", "NT80", "NU00", "NT81", "NT91", "NU01"]


def test_no_square_has_no_parent_no_centre_and_an_empty_outline():
    assert parent([NO_SQUARE], 10_000).tolist() == [NO_SQUARE]
    assert np.isnan(centre([NO_SQUARE])).all()
    assert polygons([NO_SQUARE])[0].is_empty
    assert names([NO_SQUARE]) == [""]


def test_outlines_put_easting_before_northing():
    assert polygons([square("NT27")])[0].bounds == (320_000, 670_000, 330_000, 680_000)


def test_outlines_in_another_plane_keep_their_place_and_nearly_their_size():
    """The scale of the two grids differs by less than one in a thousand."""
    [square_abroad] = polygons([square("NT27")], system_named("europe"))
    [degrees] = polygons_lonlat([square("NT27")])
    assert square_abroad.area == pytest.approx(1e8, rel=2e-3)
    # Edinburgh castle, 55.9486° N 3.1999° W (from memory), stands in NT27.
    assert degrees.contains(shapely.Point(-3.1999, 55.9486))
    assert polygons([square("NT27")], system_named("british"))[0].area == 1e8


def test_outlines_of_two_utm_zones_meet_at_the_edge_without_overlap():
    """Along 6° E in Belgium and Germany: every place is in just one of the squares."""
    zone_31 = square_at(131, 700_500, np.arange(5_600_000, 5_640_000, 10_000), 10_000)
    zone_31 = np.unique(np.concatenate([neighbours(s) for s in zone_31.tolist()]))
    zone_32 = square_at(132, 290_500, np.arange(5_600_000, 5_640_000, 10_000), 10_000)
    zone_32 = np.unique(np.concatenate([neighbours(s) for s in zone_32.tolist()]))
    assert is_cut(zone_31).any()
    assert is_cut(zone_32).any()
    plane = system_of(131)
    left, right = (shapely.union_all(polygons(zone, plane)) for zone in (zone_31, zone_32))
    meridian = shapely.LineString(np.column_stack(lonlat_to_grid(plane, np.full(9, 6), np.linspace(50.62, 50.82, 9))))
    strip = meridian.buffer(2_000, cap_style="flat")
    assert shapely.intersection(left, right).area < 1e-5 * strip.area
    assert shapely.difference(strip, shapely.union(left, right)).area < 1e-5 * strip.area
    cut = polygons(zone_31[is_cut(zone_31)])
    assert (shapely.area(cut) < 1e8).all()


def test_neighbours_and_children_stop_at_the_edge_of_a_zone():
    edge = square("31UGS10")
    assert is_cut([edge]).tolist() == [True]
    assert len(neighbours(edge)) < 8
    inside = children(edge, 1_000)
    assert 0 < len(inside) < 100
    assert shapely.area(polygons(inside)).sum() == pytest.approx(polygons([edge])[0].area, rel=1e-9)


def test_a_square_wholly_beyond_its_zone_is_drawn_whole():
    beyond = square_at(131, [750_000], [5_650_000], 10_000)
    assert is_cut(beyond).tolist() == [True]
    assert polygons(beyond)[0].area == 1e8


def test_whole_squares_are_not_cut():
    assert is_cut([square("31UDS65"), square("NT27"), NO_SQUARE]).tolist() == [False, False, False]
