"""The whole island at once."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
from shapely.geometry import LineString

from island.fauna import Fauna, make_fauna
from island.outings import make_visits
from island.recording import record_visits
from island.terrain import Terrain, make_terrain
from island.ways import make_places, make_rivers, make_roads, metres_to_roads
from island.writing import write_down


@dataclass(frozen=True)
class Land:
    """What was there before anybody looked: the land, its ways and places, and what lives on it."""

    terrain: Terrain
    roads: list[LineString]
    rivers: list[LineString]
    places: pd.DataFrame
    fauna: Fauna


def make_land() -> Land:
    """Build the land and settle its species."""
    terrain = make_terrain()
    return Land(terrain, make_roads(terrain), make_rivers(terrain), make_places(terrain), make_fauna(terrain))


def make_notes(land: Land) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Sixty years of recording: all visits, and every record as it was meant to be written."""
    visits = make_visits(land.terrain, metres_to_roads(land.roads))
    found = record_visits(land.fauna, visits)
    return visits, write_down(land.fauna, visits, found, land.places)
