"""What lies in and around a visit's square, cut out once for paper and telephone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import shapely

from gapmap.grid.squares import polygons
from gapmap.grid.systems import System
from gapmap.outputs.page.contents import Background
from gapmap.visits.fieldsheets import FieldSheet

Shapes = npt.NDArray[np.object_]
#: How far the map reaches beyond the square, as a share of its side.
MARGIN = 0.3
#: Shapes are cut a little beyond the map, so that the cut itself is not drawn as a coast.
_BEYOND = 0.1


@dataclass(frozen=True)
class Vicinity:
    """The map of one square.

    Parameters
    ----------
    west, south, size
        South-west corner and side of the map, metres in the sheet's grid.
    step
        Metres between the lines of the grid.
    shapes
        Kind of layer (land, water, river, road) and the shape, in the order of drawing.
    names
        Easting, northing and name of places.
    """

    west: float
    south: float
    size: float
    step: int
    shapes: tuple[tuple[str, shapely.Geometry], ...]
    names: tuple[tuple[float, float, str], ...]

    @property
    def has_land(self) -> bool:
        """Whether a layer says what is land, so that the rest is water."""
        return any(kind == "land" and isinstance(shape, shapely.Polygon) for kind, shape in self.shapes)


def maps_of(sheets: Sequence[FieldSheet], background: Sequence[Background]) -> dict[int, Vicinity]:
    """Cut out of the area's layers what the map of each square shows.

    Returns
    -------
    dict
        Packed square → its map.
    """
    planes = {sheet.system.key: sheet.system for sheet in sheets}
    layers = {key: _in_plane(background, system) for key, system in planes.items()}
    maps = {}
    for sheet in {sheet.square: sheet for sheet in sheets}.values():
        corner, margin = sheet.corners[0], sheet.side * MARGIN
        west, south = corner.easting - margin, corner.northing - margin
        size = sheet.side + 2 * margin
        maps[sheet.square] = _cut_out(west, south, size, _step(sheet.side), layers[sheet.system.key])
    return maps


def outlines_of_all(sheets: Sequence[FieldSheet]) -> tuple[System, dict[int, shapely.Polygon]]:
    """The grid system of most visits (one at least), and each packed square's outline in its plane."""
    plane = Counter(sheet.system for sheet in sheets).most_common(1)[0][0]
    squares = list(dict.fromkeys(sheet.square for sheet in sheets))
    return plane, dict(zip(squares, polygons(np.array(squares, dtype=np.int64), plane), strict=True))


def map_of_all(
    outlines: Sequence[shapely.Polygon], plane: System, side: int, background: Sequence[Background]
) -> Vicinity:
    """One map that holds all outlines (one at least) and a side about them, with lines every 10 km or so."""
    west, south, east, north = shapely.total_bounds(outlines).tolist()
    size = max(east - west, north - south) + 2 * side
    left, low = (west + east - size) / 2, (south + north - size) / 2
    step = next((step for step in (1_000, 2_000, 5_000, 10_000, 20_000, 50_000) if size / step <= 8), 100_000)
    return _cut_out(left, low, size, step, _in_plane(background, plane))


def _cut_out(
    west: float, south: float, size: float, step: int, layers: Sequence[tuple[Background, Shapes]]
) -> Vicinity:
    window = shapely.box(west, south, west + size, south + size)
    wide = window.buffer(size * _BEYOND, join_style="mitre")
    shapes: list[tuple[str, shapely.Geometry]] = []
    names: list[tuple[float, float, str]] = []
    for layer, areas in layers:
        if layer.kind == "place":
            names += _names(layer.shapes, window)
        else:
            shapes += [(layer.kind, part) for part in _parts(areas, wide)]
    return Vicinity(west, south, size, step, tuple(shapes), tuple(names))


def line_places(low: float, size: float, step: int) -> list[int]:
    """Where the lines of the grid cross a map's edge, metres.

    Examples
    --------
    >>> line_places(613_400, 3200, 1000)
    [614000, 615000, 616000]
    """
    return [int(place) for place in np.arange(np.ceil(low / step) * step, low + size + 1e-6, step)]


def line_label(place: int, step: int) -> str:
    """A grid line's figures, as maps print them.

    Examples
    --------
    >>> line_label(614_000, 1000), line_label(614_500, 100), line_label(5_800_000, 100_000)
    ('14', '145', '5800')
    """
    if step >= 100_000:
        return f"{place // 1000:04d}"
    unit, figures = (1000, 2) if step >= 1000 else (100, 3) if step >= 100 else (10, 4)
    return f"{place // unit % 10**figures:0{figures}d}"


def step_in_words(step: int) -> str:
    """The distance between lines, as people say it.

    Examples
    --------
    >>> step_in_words(2000), step_in_words(100)
    ('2 km', '100 m')
    """
    return f"{step / 1000:g} km" if step >= 1000 else f"{step} m"


def _step(side: int) -> int:
    if side > 5000:
        return max(side // 5, 1)
    return 1000 if side >= 1000 else max(side, 1)


def _in_plane(background: Sequence[Background], plane: System) -> list[tuple[Background, Shapes]]:
    """The layers in the plane of a grid, each with its shapes."""
    moved = [replace(layer, shapes=layer.shapes.to_crs(epsg=plane.epsg)) for layer in background]
    return [(layer, _areas(layer)) for layer in moved]


def _areas(layer: Background) -> Shapes:
    """The layer's shapes; a coast drawn as closed lines is the land inside them."""
    shapes: Shapes = layer.shapes.geometry.to_numpy()
    if layer.kind != "land":
        return shapes
    return np.array([shapely.Polygon(part) if _is_ring(part) else part for part in shapely.get_parts(shapes)], object)


def _is_ring(shape: shapely.Geometry) -> bool:
    return isinstance(shape, shapely.LineString) and shape.is_closed and len(shape.coords) > 3


def _parts(all_of_them: Shapes, window: shapely.Polygon) -> list[shapely.Geometry]:
    near = all_of_them[shapely.intersects(all_of_them, window)]
    parts = shapely.get_parts(shapely.intersection(near, window))
    return [part for part in parts if isinstance(part, (shapely.Polygon, shapely.LineString)) and not part.is_empty]


def _names(shapes: gpd.GeoDataFrame, window: shapely.Polygon) -> list[tuple[float, float, str]]:
    if "name" not in shapes:
        return []
    points = shapes.geometry.representative_point()
    inside = shapely.contains(window, points.to_numpy())
    names = shapes["name"].fillna("").astype(str)
    return [
        (float(point.x), float(point.y), name) for point, name in zip(points[inside], names[inside], strict=True)
    ]
