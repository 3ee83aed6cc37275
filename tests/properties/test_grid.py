"""Round trips of the grid, at every size and in every system."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gapmap.columns import NO_SQUARE
from gapmap.grid.coordinates import latlon_text_to_degrees
from gapmap.grid.projections import grid_to_grid, grid_to_lonlat, lonlat_to_grid
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import (
    SIDES,
    centre,
    children,
    neighbours,
    pack,
    parent,
    place_in,
    polygons,
    square_at,
    unpack,
)
from gapmap.grid.systems import SYSTEMS, system_of, utm
from gapmap.grid.troubles import CODES
from gapmap.grid.writing import european_code

SYSTEM = st.sampled_from([*SYSTEMS.values()])
SIDE = st.sampled_from(SIDES)


@st.composite
def named_squares(draw):
    """A square of any side in any system that is not UTM."""
    system, side = draw(SYSTEM), draw(SIDE)
    east = draw(st.integers(system.west, system.east - 1)) // side * side
    north = draw(st.integers(system.south, system.north - 1)) // side * side
    return pack(system.key, side, east, north).item()


@st.composite
def utm_squares(draw):
    """A square of any side that holds a random point of its UTM zone."""
    lon = draw(st.floats(-180, 179.99))
    lat = draw(st.floats(-79.9, 83.9).filter(lambda degrees: abs(degrees) > 1e-3))
    zone = int((lon + 180) // 6) + 1
    if (56 <= lat < 64 and 0 <= lon < 12) or (lat >= 72 and 0 <= lon < 42):
        zone, lon = 33, 15.0 if lat >= 72 else 13.0
    system = utm(zone, lat >= 0)
    return square_at(system.key, *lonlat_to_grid(system, [lon], [lat]), draw(SIDE)).item()


@given(named_squares())
@settings(deadline=None)
def test_square_to_reference_and_back(square):
    [text] = squares_to_references([square])
    assert text
    system = system_of(unpack(square)[0])
    assert references_to_squares([text], system.name).squares.tolist() == [square]
    if not (system.name == "british" and text[:2] in ("WA", "WV")):
        assert references_to_squares([text]).squares.tolist() == [square]


@given(utm_squares())
@settings(max_examples=60, deadline=None)
def test_utm_square_to_reference_and_back(square):
    [text] = squares_to_references([square])
    assert references_to_squares([text]).squares.tolist() == [square]
    assert references_to_squares([text.lower()], "utm").squares.tolist() == [square]
    zone = text[: 3 if text[1].isdigit() else 2]
    assert references_to_squares([text[len(zone) :]], "utm", [zone]).squares.tolist() == [square]


@given(named_squares())
@settings(deadline=None)
def test_long_european_codes_and_back(square):
    [text] = european_code([square])
    assert (text != "") == (unpack(square)[0] == 4)
    if text:
        assert references_to_squares([text]).squares.tolist() == [square]


@given(st.lists(named_squares(), max_size=20))
@settings(deadline=None)
def test_packing_and_back(squares):
    assert pack(*unpack(squares)).tolist() == squares


@given(st.lists(st.one_of(named_squares(), utm_squares()), min_size=1, max_size=15))
@settings(max_examples=30, deadline=None)
def test_a_column_is_read_as_its_values_one_by_one(squares):
    texts = [*squares_to_references(squares).tolist(), "NT257", ""]
    together = references_to_squares(texts).squares.tolist()
    assert together == [references_to_squares([text]).squares.item() for text in texts]


@given(named_squares(), st.sampled_from([" ", "  ", "-", ".", "\u00a0", "_"]), st.booleans())
@settings(deadline=None)
def test_signs_between_letters_and_halves_do_not_matter(square, sign, is_lower):
    system = system_of(unpack(square)[0])
    side = unpack(square)[1].item()
    [text] = squares_to_references([square])
    if system.form == "letters" and side in (1, 10, 100, 1_000, 10_000):
        letters, digits = text[: system.letters], text[system.letters :]
        half = len(digits) // 2
        text = sign.join([letters, digits[:half], digits[half:]])
    wide = text.lower() if is_lower else "".join(chr(ord(c) + 0xFEE0) if 33 <= ord(c) <= 126 else c for c in text)
    assert references_to_squares([wide], system.name).squares.tolist() == [square]


@given(st.one_of(st.text(max_size=40), st.from_regex(r"[A-Z]{0,3} ?[0-9]{0,12} ?[A-Z]{0,3}", fullmatch=True)))
@settings(max_examples=200, deadline=None)
def test_any_text_is_a_square_or_a_problem(text):
    for system in ("", "british", "irish", "channel", "europe", "utm"):
        found = references_to_squares([text], system, ("31U", "32U") if system == "utm" else ())
        if found.squares[0] == NO_SQUARE:
            assert found.code[0] in CODES
            assert found.sentence[0].rstrip("”").endswith(".")
        else:
            assert (found.code[0], found.sentence[0], found.suggestion[0]) == ("", "", "")
            assert squares_to_references(found.squares)[0]


@given(named_squares(), SIDE)
@settings(deadline=None)
def test_a_parent_holds_its_square(square, side):
    holder = parent([square], side).item()
    if holder != NO_SQUARE:
        assert unpack(holder)[1] == side
        assert polygons([holder])[0].covers(polygons([square])[0])
    else:
        _, width, east, north = (int(part) for part in unpack(square))
        is_across = any(start // side != (start + width - 1) // side for start in (east, north))
        assert width > side or is_across


@given(named_squares(), st.sampled_from([2, 5, 10]))
@settings(deadline=None)
def test_children_and_parents(square, times):
    side = unpack(square)[1].item()
    if side % times == 0 and side // times in SIDES:
        inside = children(square, side // times)
        assert len(set(inside.tolist())) == times * times
        assert set(parent(inside, side).tolist()) == {square}


@given(named_squares(), st.integers(1, 3))
@settings(deadline=None)
def test_neighbours_are_mutual(square, rings):
    around = neighbours(square, rings).tolist()
    assert square not in around
    assert len(set(around)) == len(around) <= (2 * rings + 1) ** 2 - 1
    assert all(square in neighbours(other, rings).tolist() for other in around[:4])


@given(named_squares())
@settings(deadline=None)
def test_the_centre_of_a_square_lies_in_it(square):
    key, side, _, _ = unpack(square)
    east, north = centre([square])
    assert square_at(key, east, north, side).tolist() == [square]
    assert place_in(key, np.floor(east), np.floor(north), side, True, int(side)).tolist() == [square]


@given(st.floats(-5, 1.5), st.floats(50.8, 58.5), st.sampled_from([1, 4, 130, 131]))
@settings(deadline=None)
def test_longitude_and_latitude_to_grid_and_back(lon, lat, key):
    """Within Britain, where OSTN15 is used; 10⁻⁷ degrees are about a centimetre."""
    back = grid_to_lonlat(system_of(key), *lonlat_to_grid(system_of(key), [lon], [lat]))
    assert np.ravel(back) == pytest.approx((lon, lat), abs=1e-7)


@given(st.floats(0, 499_999), st.floats(0, 499_999), st.sampled_from([4, 129, 130]))
@settings(deadline=None)
def test_irish_grid_to_another_and_back(east, north, key):
    irish, other = system_of(2), system_of(key)
    back = grid_to_grid(other, irish, *grid_to_grid(irish, other, [east], [north]))
    assert np.ravel(back) == pytest.approx((east, north), abs=0.01)


@given(st.floats(-90, 90), st.booleans())
@settings(deadline=None)
def test_degrees_minutes_and_seconds_and_back(value, has_letters):
    total = round(abs(value) * 3600, 3)
    degrees, minutes, seconds = int(total // 3600), int(total % 3600 // 60), round(total % 60, 3)
    if seconds >= 60 or (value < 0 and total == 0):
        return
    sign, letter = ("", "S" if value < 0 else "N") if has_letters else ("-" if value < 0 else "", "")
    text = f"{sign}{degrees}°{minutes:02d}′{seconds:06.3f}″{letter}"
    expected = np.copysign(total / 3600, value)
    assert latlon_text_to_degrees([text], "latitude").values[0] == pytest.approx(expected, abs=1e-9)
