"""The land: coast, height, habitat and the rock beneath, on a raster of 100 m cells."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from rasterio import features
from rasterio.transform import Affine, from_origin
from scipy import ndimage
from shapely.geometry import MultiPolygon, Polygon, shape

from island.chance import smooth_field, stream

ISLAND = "Tharnsey"
ISLET = "Eskerling"
NOTICE = f"{ISLAND} is an invented island: its places, people and records are made up."

CELL = 100
WEST, SOUTH, EAST, NORTH = 584_000, 628_000, 660_000, 688_000
ROWS, COLUMNS = (NORTH - SOUTH) // CELL, (EAST - WEST) // CELL
TRANSFORM: Affine = from_origin(WEST, NORTH, CELL, CELL)

CENTRE = (620_500, 657_500)
TILT = np.radians(30)
ISLET_CENTRE = (634_300, 645_600)

#: Codes of the habitat raster; 0 is the sea.
HABITATS = {
    1: "shore",
    2: "dune",
    3: "heath",
    4: "woodland",
    5: "pasture",
    6: "arable",
    7: "bog",
    8: "town",
    9: "quarry",
    10: "lake",
}
CODE_OF = {name: code for code, name in HABITATS.items()}

#: Towns and villages: name, kilometres along the island's axis and across it, radius of the built-up ground in metres.
TOWN_PLANS = (
    ("Marrowhithe", 9.0, -9.5, 1500),
    ("Ottenhaven", -17.0, 7.5, 1000),
    ("Quernagh", 24.0, 4.0, 800),
    ("Pellowstrand", -27.0, -3.5, 650),
    ("Skaithby", 7.0, 9.0, 700),
    ("Vindlemoor", -4.0, 1.0, 400),
    ("Dunnerfold", 15.5, -2.0, 450),
    ("Oxmantle", -12.5, -8.0, 500),
    ("Lantersea", 31.0, -1.5, 350),
    ("Gossamer Wick", -21.5, -0.5, 300),
    ("Brindlecross", -0.5, -6.5, 350),
)

#: Sea inlets as (axis km, across km) from the mouth to the head, and their half-width in metres.
_INLETS = (
    (((-9.0, -15.0), (-7.5, -9.0), (-5.0, -5.5)), 900),
    (((-3.0, 15.0), (-4.5, 9.5), (-7.0, 6.0)), 800),
    (((19.0, 14.0), (18.5, 8.0), (16.5, 5.0)), 700),
    (((22.0, -14.0), (21.5, -7.5), (20.0, -5.0)), 650),
)


@dataclass(frozen=True)
class Terrain:
    """The land on rows × columns cells of 100 m, north at the top.

    ``land`` is true on land; ``height`` is metres; ``habitat`` holds codes of HABITATS; ``lime`` is how much lime
    is in the soil (mean 0, one is a standard deviation): it matters to many species and stands in no raster.
    """

    land: np.ndarray
    height: np.ndarray
    habitat: np.ndarray
    lime: np.ndarray
    coast_m: np.ndarray
    towns: dict[str, tuple[int, int, int]]
    boundary: MultiPolygon


def make_terrain() -> Terrain:
    """Build the island: coast first, then height, towns, and habitat from all of them."""
    land = _land()
    coast_m = ndimage.distance_transform_edt(land) * CELL
    height = _height(land, coast_m)
    towns = _towns(land, height, coast_m)
    lime = smooth_field(stream("lime"), land.shape, 110)
    habitat = _habitat(land, height, coast_m, towns)
    return Terrain(land, height, habitat, lime, coast_m, towns, _boundary(land))


def cell_centres() -> tuple[np.ndarray, np.ndarray]:
    """Easting and northing of every cell's centre, in metres, each rows × columns."""
    eastings = WEST + CELL * (np.arange(COLUMNS) + 0.5)
    northings = NORTH - CELL * (np.arange(ROWS) + 0.5)
    return tuple(np.meshgrid(eastings, northings))  # type: ignore[return-value]


def cell_of(easting: float, northing: float) -> tuple[int, int]:
    """Row and column of the cell that holds a point."""
    return int((NORTH - northing) // CELL), int((easting - WEST) // CELL)


def on_the_axis(along_km: float, across_km: float) -> tuple[float, float]:
    """Easting and northing of a place given along and across the island."""
    along, across = along_km * 1000, across_km * 1000
    return (
        CENTRE[0] + along * np.cos(TILT) - across * np.sin(TILT),
        CENTRE[1] + along * np.sin(TILT) + across * np.cos(TILT),
    )


def _land() -> np.ndarray:
    easting, northing = cell_centres()
    east, north = (easting - CENTRE[0]) / 1000, (northing - CENTRE[1]) / 1000
    along = east * np.cos(TILT) + north * np.sin(TILT)
    across = -east * np.sin(TILT) + north * np.cos(TILT)
    width = 11.8 + 1.9 * np.sin(along / 7.5 + 0.6)
    rough = np.zeros(easting.shape)
    for length, share in ((140, 0.14), (55, 0.12), (20, 0.055), (8, 0.028), (3, 0.012)):
        rough += share * smooth_field(stream("coast", length), easting.shape, length)
    solid = 1 - np.hypot(along / 29.5, across / width) + rough
    for line, half_width in _INLETS:
        solid -= 0.75 * np.exp(-((_distance_to_line(along, across, line) * 1000 / half_width) ** 2))
    islet_east, islet_north = (easting - ISLET_CENTRE[0]) / 1000, (northing - ISLET_CENTRE[1]) / 1000
    gap = np.hypot(islet_east, islet_north)
    solid = np.where(gap < 4.2, np.minimum(solid, (gap - 4.2) * -0.2), solid)
    solid = np.where(gap < 3.2, 1 - np.hypot(islet_east / 2.0, islet_north / 1.3) + 1.5 * rough, solid)
    parts, _ = ndimage.label(solid > 0)
    sizes = np.bincount(parts.ravel())
    main = int(np.argmax(sizes[1:])) + 1
    islet = int(parts[cell_of(*ISLET_CENTRE)])
    land = ndimage.binary_fill_holes((parts == main) | ((parts == islet) & (islet > 0)))
    return np.asarray(land, bool)


def _distance_to_line(x: np.ndarray, y: np.ndarray, line: tuple[tuple[float, float], ...]) -> np.ndarray:
    nearest = np.full(x.shape, np.inf)
    for (x0, y0), (x1, y1) in pairwise(line):
        share = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
        share = np.clip(share, 0, 1)
        nearest = np.minimum(nearest, np.hypot(x - x0 - share * (x1 - x0), y - y0 - share * (y1 - y0)))
    return nearest


def _height(land: np.ndarray, coast_m: np.ndarray) -> np.ndarray:
    rough = np.full(land.shape, 0.42)
    for length, share in ((90, 0.26), (32, 0.14), (12, 0.06), (5, 0.025)):
        rough += share * smooth_field(stream("height", length), land.shape, length)
    inland = 1 - np.exp(-coast_m / 5500)
    height = 6 * np.minimum(coast_m / 400, 1) + 620 * inland**1.35 * np.clip(rough, 0.03, None) ** 1.3
    return np.where(land, np.round(np.maximum(height, 1)), 0).astype(np.int16)


def _towns(land: np.ndarray, height: np.ndarray, coast_m: np.ndarray) -> dict[str, tuple[int, int, int]]:
    easting, northing = cell_centres()
    buildable = land & (coast_m > 400) & (height < 160)
    towns = {}
    for name, along, across, radius in TOWN_PLANS:
        wanted = on_the_axis(along, across)
        away = np.hypot(easting - wanted[0], northing - wanted[1]) + 30.0 * height
        row, column = np.unravel_index(np.argmin(np.where(buildable, away, np.inf)), land.shape)
        towns[name] = (int(easting[row, column]), int(northing[row, column]), radius)
    return towns


def _habitat(
    land: np.ndarray, height: np.ndarray, coast_m: np.ndarray, towns: dict[str, tuple[int, int, int]]
) -> np.ndarray:
    def field(name: str, length: float) -> np.ndarray:
        return smooth_field(stream("habitat", name), land.shape, length)

    easting, northing = cell_centres()
    up, across = np.gradient(ndimage.gaussian_filter(height.astype(float), 2), CELL)
    slope = np.hypot(up, across)
    hollow = ndimage.gaussian_filter(height.astype(float), 8) - height
    patch = field("patch", 4)
    sandy = field("sandy", 70) + 0.3 * patch
    habitat = np.full(land.shape, CODE_OF["pasture"], np.uint8)
    tilled = (height < 95) & (
        field("tilled", 60) + 0.45 * field("field", 3) + np.where(easting > 622_000, 0.5, -0.5) > 0.45
    )
    habitat[tilled] = CODE_OF["arable"]
    habitat[(height > 175 + 40 * field("moor edge", 25)) | (sandy > 1.55)] = CODE_OF["heath"]
    wet = field("wet", 35) + 0.5 * patch + hollow / 18
    habitat[(height > 120) & (slope < 0.11) & (wet > 0.75)] = CODE_OF["bog"]
    wooded = field("wooded", 16) + 0.5 * patch + hollow / 22 - np.where(height > 260, 1.2, 0)
    habitat[(coast_m > 700) & (wooded > 1.25)] = CODE_OF["woodland"]
    habitat[(coast_m < 1100) & (coast_m > 100) & (height < 22) & (sandy > 0.55)] = CODE_OF["dune"]
    for spot in _spots("lake", land & (height > 60) & (slope < 0.06) & (coast_m > 2500), 7):
        away = np.hypot(easting - easting[spot], northing - northing[spot])
        habitat[away < 380 + 90 * patch] = CODE_OF["lake"]
    for spot in _spots("quarry", land & (height < 220) & (coast_m > 800), 14):
        habitat[np.hypot(easting - easting[spot], northing - northing[spot]) < 210] = CODE_OF["quarry"]
    habitat[land & (coast_m <= CELL)] = CODE_OF["shore"]
    for east, north, radius in towns.values():
        away = np.hypot(easting - east, northing - north) / radius
        habitat[land & (away + 0.22 * patch < 1) & (coast_m > CELL)] = CODE_OF["town"]
    return np.where(land, habitat, 0).astype(np.uint8)


def _spots(name: str, allowed: np.ndarray, count: int) -> list[tuple[int, int]]:
    rows, columns = np.nonzero(allowed)
    chosen = stream(name).choice(len(rows), size=min(count, len(rows)), replace=False)
    return [(int(rows[i]), int(columns[i])) for i in chosen]


def _boundary(land: np.ndarray) -> MultiPolygon:
    outlines = [
        shape(outline)
        for outline, value in features.shapes(land.astype(np.uint8), mask=land, transform=TRANSFORM)
        if value == 1
    ]
    smooth = [Polygon(rounded(np.array(part.buffer(40).simplify(70).exterior.coords))) for part in outlines]
    whole = MultiPolygon(
        sorted((part for part in smooth if part.area > 200_000), key=lambda part: -part.area)
    )
    return MultiPolygon([Polygon(np.round(part.exterior.coords)) for part in whole.geoms])


def rounded(points: np.ndarray, times: int = 2) -> np.ndarray:
    """Cut the corners of a line, twice, as Chaikin did; ends stay where they are unless the line is closed."""
    closed = bool(np.all(points[0] == points[-1]))
    for _ in range(times):
        before, after = points[:-1], points[1:]
        cut = np.empty((2 * len(before), 2))
        cut[0::2], cut[1::2] = 0.75 * before + 0.25 * after, 0.25 * before + 0.75 * after
        points = np.vstack([cut, cut[:1]]) if closed else np.vstack([points[:1], cut, points[-1:]])
    return points
