"""Roads, rivers and the names of places."""

from __future__ import annotations

import heapq

import numpy as np
import pandas as pd
from rasterio import features
from scipy import ndimage, sparse
from scipy.spatial import cKDTree
from shapely.geometry import LineString

from island.chance import smooth_field, stream
from island.terrain import (
    CELL,
    CODE_OF,
    COLUMNS,
    HABITATS,
    NORTH,
    ROWS,
    TRANSFORM,
    WEST,
    Terrain,
    cell_centres,
    rounded,
)

_ROAD_STEP = 4  # cells of the raster to a cell of the road maker's grid
_RIVER_STEP = 2
_RIVER_AREA = 5_000_000  # m² of land that make a river

_ROOTS = (
    "Askel",
    "Birla",
    "Brackle",
    "Candle",
    "Cobbet",
    "Dimmer",
    "Dorrin",
    "Elver",
    "Fallow",
    "Fenwitch",
    "Garrow",
    "Gimlet",
    "Hallan",
    "Hobbin",
    "Imber",
    "Jarrow",
    "Kettle",
    "Kirrel",
    "Lammer",
    "Lindle",
    "Mallow",
    "Mossen",
    "Nettle",
    "Nobbin",
    "Orrin",
    "Osk",
    "Pillar",
    "Pucket",
    "Quill",
    "Rannow",
    "Rushen",
    "Sallow",
    "Skerrin",
    "Tansy",
    "Thimble",
    "Umber",
    "Vessel",
    "Wather",
    "Whinny",
    "Yarrel",
)
_ENDINGS = {
    "shore": ("Strand", "Nab", "Hithe", "Geo"),
    "dune": ("Links", "Warren", "Denes"),
    "heath": ("Moor", "Edge", "Rigg"),
    "woodland": ("Wood", "Shaw", "Hanger", "Copse"),
    "pasture": ("Green", "Leys", "Farm", "Garth"),
    "arable": ("Acre", "Field", "Barton"),
    "bog": ("Moss", "Flow", "Mire"),
    "town": ("Street", "Yard", "Gardens"),
    "quarry": ("Quarry", "Delph"),
    "lake": ("Mere", "Tarn"),
}


def make_roads(terrain: Terrain) -> list[LineString]:
    """Roads between towns and lanes to hamlets, the cheapest way over the hills: a tree and some short cuts."""
    land = _coarse(terrain.land.astype(float), _ROAD_STEP) > 0.55
    height = _coarse(terrain.height.astype(float), _ROAD_STEP)
    bends = np.exp(0.55 * smooth_field(stream("bends"), land.shape, 2.2))  # walls, marshes and old boundaries
    graph = _slope_graph(land, height, bends, _ROAD_STEP * CELL)
    stops = [town[:2] for town in terrain.towns.values()] + _hamlets(terrain)
    nodes = [_node(east, north, land) for east, north in stops]
    cost, before = sparse.csgraph.dijkstra(graph, indices=nodes, return_predecessors=True)
    between = cost[:, nodes]
    tree = sparse.csgraph.minimum_spanning_tree(np.where(np.isfinite(between), between, 0)).tocoo()
    links = {(int(min(a, b)), int(max(a, b))) for a, b in zip(tree.row, tree.col, strict=True)}
    towns = len(terrain.towns)
    for a, near in enumerate(np.argsort(between[:towns, :towns], axis=1, kind="stable")[:, 1:3]):
        links |= {(min(a, int(b)), max(a, int(b))) for b in near if np.isfinite(between[a, b])}
    return [_road(before[a], nodes[b], stops[a], stops[b], land.shape[1]) for a, b in sorted(links)]


def _hamlets(terrain: Terrain, count: int = 34) -> list[tuple[int, int]]:
    generator, easting, northing = stream("hamlets"), *cell_centres()
    farmed = np.isin(terrain.habitat, [CODE_OF["pasture"], CODE_OF["arable"]]) & (terrain.coast_m > 400)
    rows, columns = np.nonzero(farmed)
    spots: list[tuple[int, int]] = [town[:2] for town in terrain.towns.values()]
    for pick in generator.permutation(len(rows)):
        spot = int(easting[rows[pick], columns[pick]]), int(northing[rows[pick], columns[pick]])
        if min(np.hypot(spot[0] - east, spot[1] - north) for east, north in spots) > 3200:
            spots.append(spot)
        if len(spots) == count + len(terrain.towns):
            break
    return spots[len(terrain.towns) :]


def make_rivers(terrain: Terrain) -> list[LineString]:
    """Rivers: water runs down the steepest way, hollows fill and spill, and enough of it is a river."""
    land = _coarse(terrain.land.astype(float), _RIVER_STEP) > 0.5
    height = ndimage.gaussian_filter(_coarse(terrain.height.astype(float), _RIVER_STEP), 1.5)
    order, downstream = _drainage(land, height)
    area = np.where(land, float((_RIVER_STEP * CELL) ** 2), 0.0).ravel()
    for cell in reversed(order):
        if downstream[cell] >= 0:
            area[downstream[cell]] += area[cell]
    return _river_lines(area, downstream, land)


def metres_to_roads(roads: list[LineString]) -> np.ndarray:
    """Distance from every cell to the nearest road, in metres."""
    marked = features.rasterize(roads, out_shape=(ROWS, COLUMNS), transform=TRANSFORM, all_touched=True)
    return np.asarray(ndimage.distance_transform_edt(marked == 0) * CELL)


def make_places(terrain: Terrain, count: int = 240) -> pd.DataFrame:
    """Invented named places all over the land: name, easting, northing; the towns come first."""
    generator = stream("places")
    rows, columns = np.nonzero(terrain.land & (terrain.habitat != 0))
    easting, northing = cell_centres()
    names = list(terrain.towns)
    spots = [(float(east), float(north)) for east, north, _ in terrain.towns.values()]
    for pick in generator.permutation(len(rows)):
        row, column = rows[pick], columns[pick]
        spot = (float(easting[row, column]), float(northing[row, column]))
        if min(np.hypot(spot[0] - east, spot[1] - north) for east, north in spots) < 1300:
            continue
        endings = _ENDINGS[HABITATS[int(terrain.habitat[row, column])]]
        name = f"{_ROOTS[generator.integers(len(_ROOTS))]} {endings[generator.integers(len(endings))]}"
        if name not in names:
            names.append(name)
            spots.append(spot)
        if len(names) == count:
            break
    return pd.DataFrame({"name": names, "easting": [s[0] for s in spots], "northing": [s[1] for s in spots]})


def nearest_places(places: pd.DataFrame, easting: np.ndarray, northing: np.ndarray) -> np.ndarray:
    """Row of the nearest named place for each point."""
    tree = cKDTree(places[["easting", "northing"]].to_numpy())
    return np.asarray(tree.query(np.column_stack([easting, northing]))[1])


def _coarse(values: np.ndarray, step: int) -> np.ndarray:
    return values.reshape(ROWS // step, step, COLUMNS // step, step).mean(axis=(1, 3))


def _slope_graph(land: np.ndarray, height: np.ndarray, bends: np.ndarray, side: int) -> sparse.csr_array:
    rows, columns = land.shape
    number = np.arange(rows * columns).reshape(rows, columns)
    starts, ends, costs = [], [], []
    for down, right in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = (slice(0, rows - down), slice(max(0, -right), columns - max(0, right)))
        b = (slice(down, rows), slice(max(0, right), columns - max(0, -right)))
        both = land[a] & land[b]
        length = side * np.hypot(down, right)
        climb = np.abs(height[a] - height[b]) / length
        cost = length * (bends[a] + bends[b]) / 2 * (1 + 12 * climb + 40 * climb**2 + 0.002 * height[a])
        starts.append(number[a][both])
        ends.append(number[b][both])
        costs.append(cost[both])
    start, end, cost = (np.concatenate(parts) for parts in (starts, ends, costs))
    both_ways = (np.concatenate([cost, cost]), (np.concatenate([start, end]), np.concatenate([end, start])))
    return sparse.csr_array(both_ways, shape=(number.size, number.size))


def _node(easting: float, northing: float, land: np.ndarray) -> int:
    side = _ROAD_STEP * CELL
    rows, columns = np.nonzero(land)
    away = np.hypot(WEST + side * (columns + 0.5) - easting, NORTH - side * (rows + 0.5) - northing)
    best = int(np.argmin(away))
    return int(rows[best] * land.shape[1] + columns[best])


def _road(
    before: np.ndarray, node: int, start: tuple[int, int], end: tuple[int, int], columns: int
) -> LineString:
    cells = []
    while node >= 0:
        cells.append(node)
        node = int(before[node])
    points = _points(np.array(cells[::-1]), columns, _ROAD_STEP)
    points[0], points[-1] = start, end
    return LineString(np.round(rounded(points)))


def _points(cells: np.ndarray, columns: int, step: int) -> np.ndarray:
    side = step * CELL
    return np.column_stack([WEST + side * (cells % columns + 0.5), NORTH - side * (cells // columns + 0.5)])


def _drainage(land: np.ndarray, height: np.ndarray) -> tuple[list[int], np.ndarray]:
    """Cells from the sea upwards, and the cell each one drains to (-1 for the sea): flooding inwards from the coast."""
    rows, columns = land.shape
    level, solid = height.ravel(), land.ravel()
    downstream = np.full(land.size, -1)
    seen = ~solid
    queue = [(0.0, int(cell)) for cell in np.nonzero(seen & ndimage.binary_dilation(land).ravel())[0]]
    heapq.heapify(queue)
    order = []
    while queue:
        water, cell = heapq.heappop(queue)
        if solid[cell]:
            order.append(cell)
        row, column = divmod(cell, columns)
        for down in (-1, 0, 1):
            for right in (-1, 0, 1):
                other = (row + down) * columns + column + right
                if 0 <= row + down < rows and 0 <= column + right < columns and not seen[other]:
                    seen[other] = True
                    downstream[other] = cell
                    heapq.heappush(queue, (max(water + 0.001, float(level[other])), other))
    return order, downstream


def _river_lines(area: np.ndarray, downstream: np.ndarray, land: np.ndarray) -> list[LineString]:
    wet = (area >= _RIVER_AREA) & land.ravel()
    fed = np.zeros(wet.shape, bool)
    fed[downstream[wet & (downstream >= 0)]] = True
    heads = np.nonzero(wet & ~fed)[0]
    drawn = np.zeros(wet.shape, bool)
    lines = []
    for head in heads[np.argsort(-area[heads], kind="stable")]:
        cells, cell = [int(head)], int(head)
        while not drawn[cell]:
            drawn[cell] = True
            cell = int(downstream[cell])
            cells.append(cell)
            if not land.ravel()[cell]:
                break
        if len(cells) > 4:
            lines.append(LineString(np.round(rounded(_points(np.array(cells), land.shape[1], _RIVER_STEP)))))
    return lines
