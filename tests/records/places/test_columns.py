"""What the headers of coordinates say, and in which grid eastings and northings are."""

from __future__ import annotations

from collections.abc import Callable

import pytest

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
