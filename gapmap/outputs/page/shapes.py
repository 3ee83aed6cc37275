"""Squares and background shapes as columns of whole metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import shapely

from gapmap.grid.squares import is_cut, polygons, unpack
from gapmap.grid.systems import system_of
from gapmap.outputs.page.pack import Block
from gapmap.outputs.page.planes import Whole

#: Most cells of the picture that holds one pixel a square; sparser areas are drawn square by square.
MOST_CELLS = 4_000_000
#: Fewest squares for which a sparse picture is still worth it: cells for each square.
CELLS_A_SQUARE = 400


@dataclass(frozen=True)
class Placed:
    """The page's squares in the order the page keeps them: those of the picture first, row by row.

    Parameters
    ----------
    squares
        Packed squares (n,).
    in_picture
        How many of them are one pixel each; the rest are outlines.
    west, south, width, height
        South-west corner of the picture in metres, and its size in squares.
    cells
        Pixel of each square in the picture (in_picture,), counted from the south-west corner eastwards, then north.
    outlines
        Polygons (n - in_picture,) of the others in the map's plane.
    beyond, beyond_outlines
        Packed squares (m,) of records to look at that are no squares of the map, and their polygons.
    """

    squares: Whole
    in_picture: int
    west: int
    south: int
    width: int
    height: int
    cells: Whole
    outlines: npt.NDArray[Any]
    beyond: Whole
    beyond_outlines: npt.NDArray[Any]

    def place_of(self, squares: npt.ArrayLike) -> Whole:
        """Index of each square on the page; -1 for one that is not on it."""
        wanted = np.asarray(squares, dtype=np.int64)
        if self.squares.size == 0:
            return np.full(wanted.shape, -1, dtype=np.int64)
        order = np.argsort(self.squares, kind="stable")
        place = np.searchsorted(self.squares[order], wanted).clip(max=self.squares.size - 1)
        found = order[place]
        return np.where(self.squares[found] == wanted, found, -1)

    def place_with_beyond(self, squares: npt.ArrayLike) -> Whole:
        """Index of each square, those beyond the map after those on it; -1 for one that is neither."""
        wanted = np.asarray(squares, dtype=np.int64)
        place = self.place_of(wanted)
        stray = np.isin(wanted, self.beyond) & (place < 0)
        place[stray] = self.squares.size + np.searchsorted(self.beyond, wanted[stray])
        return place


def place_squares(squares: Whole, system_key: int, side: int, beyond: Whole | None = None) -> Placed:
    """Sort squares into those that are a pixel of one picture and those drawn by their outline.

    Parameters
    ----------
    squares
        Packed squares (n,), each once.
    system_key, side
        Grid system of the map's plane, and side of its squares in metres.
    beyond
        Packed squares that are shown with the records to look at only; those of the map among them are left out.
    """
    strays = np.setdiff1d(np.zeros(0, np.int64) if beyond is None else beyond, squares)
    keys, sides, eastings, northings = unpack(squares)
    own = (keys == system_key) & (sides == side)
    if own.any():
        own[own] = _are_whole(squares[own], side)
    west, south, width, height = _frame(eastings[own], northings[own], side)
    if width * height > min(MOST_CELLS, CELLS_A_SQUARE * max(int(own.sum()), 1_000)):
        own[:] = False
        west, south, width, height = 0, 0, 0, 0
    cells = ((northings[own] - south) // side) * width + (eastings[own] - west) // side
    order = np.argsort(cells)
    others = np.sort(squares[~own])
    ordered = np.concatenate((squares[own][order], others))
    return Placed(
        ordered, int(own.sum()), west, south, width, height, cells[order], _outlines(others, system_key),
        strays, _outlines(strays, system_key),
    )  # fmt: skip


def _outlines(squares: Whole, system_key: int) -> npt.NDArray[Any]:
    return np.asarray(polygons(squares, system_of(system_key)) if squares.size else [], dtype=object)


def bounds_of(placed: Placed, side: int, others: list[gpd.GeoDataFrame], *, beyond: bool = False) -> list[int]:
    """West, south, east and north of everything on the map, in metres; on request of what lies beyond it too."""
    boxes = [frame.total_bounds for frame in others if len(frame)]
    if placed.in_picture:
        east, north = placed.west + placed.width * side, placed.south + placed.height * side
        boxes.append(np.array([placed.west, placed.south, east, north], dtype=float))
    if len(placed.outlines):
        boxes.append(shapely.total_bounds(placed.outlines))
    if beyond and len(placed.beyond_outlines):
        boxes.append(shapely.total_bounds(placed.beyond_outlines))
    boxes = [box for box in boxes if np.isfinite(box).all()]
    if not boxes:
        return [0, 0, 100_000, 100_000]
    table = np.array(boxes)
    low, high = np.floor(table[:, :2].min(axis=0)), np.ceil(table[:, 2:].max(axis=0))
    return [int(number) for number in (*low, *high)]


def nearly_all(placed: Placed, side: int) -> tuple[list[int], int]:
    """A frame that holds nearly all squares, and how many lie outside it.

    A few squares far from all others, such as those of mistyped references, would shrink the map to a dot. The
    frame reaches from the middle of the squares to half as far again as 96 in 100 of them do; everything is kept
    in the frame unless that makes the map at least twice as large.

    Returns
    -------
    list of int, int
        West, south, east and north in metres; squares that reach outside.
    """
    boxes = np.zeros((placed.squares.size, 4))
    rows, columns = np.divmod(placed.cells, max(placed.width, 1))
    west, south = placed.west + columns * side, placed.south + rows * side
    boxes[: placed.in_picture] = np.stack([west, south, west + side, south + side], axis=1)
    boxes[placed.in_picture :] = shapely.bounds(placed.outlines) if len(placed.outlines) else boxes[placed.in_picture :]
    boxes = boxes[np.isfinite(boxes).all(axis=1)]
    whole = bounds_of(placed, side, [])
    if len(boxes) < 5:
        return whole, 0
    centres = (boxes[:, :2] + boxes[:, 2:]) / 2
    low, high = np.quantile(centres, (0.02, 0.98), axis=0, method="nearest")
    reach = np.maximum((high - low) / 2, side)
    inside = (np.abs(centres - (low + high) / 2) <= 1.5 * reach + side).all(axis=1)
    frame = [*np.floor(boxes[inside, :2].min(axis=0)), *np.ceil(boxes[inside, 2:].max(axis=0))]
    longest = max(frame[2] - frame[0], frame[3] - frame[1])
    if inside.all() or max(whole[2] - whole[0], whole[3] - whole[1]) < 2 * longest:
        return whole, 0
    return [int(number) for number in frame], int((~inside).sum())


def add_squares(block: Block, placed: Placed) -> None:
    """Add the pixels as gaps and the outlines as lines of whole metres."""
    block.add("cell_gap", np.diff(placed.cells, prepend=0))
    add_lines(block, "outline", [*placed.outlines, *placed.beyond_outlines])


def add_lines(block: Block, name: str, geometries: list[Any], tolerance_m: float = 0.0) -> None:
    """Add geometries as rings and lines.

    For each geometry ``name.lines`` tells how many lines it has, for each line ``name.corners`` how many
    corners; ``name.xy`` holds easting and northing of each corner as the step from the corner before.
    """
    shapes = np.asarray(geometries, dtype=object)
    if tolerance_m and shapes.size:
        shapes = shapely.simplify(shapes, tolerance_m)
    lines_each, corners, steps = [], [], [np.zeros(0, dtype=np.int64)]
    before = np.zeros((1, 2), dtype=np.int64)
    for shape in shapes:
        lines = _lines_of(shape)
        lines_each.append(len(lines))
        for line in lines:
            corners.append(len(line))
            steps.append(np.diff(line, axis=0, prepend=before).ravel())
            before = line[-1:]
    block.add(f"{name}.lines", lines_each)
    block.add(f"{name}.corners", corners)
    block.add_signed(f"{name}.xy", np.concatenate(steps))


def _lines_of(shape: Any) -> list[Whole]:
    if shape is None or shape.is_empty:
        return []
    if hasattr(shape, "geoms"):
        return [line for part in shape.geoms for line in _lines_of(part)]
    rings = [shape.exterior, *shape.interiors] if shape.geom_type == "Polygon" else [shape]
    return [np.rint(shapely.get_coordinates(ring)).astype(np.int64) for ring in rings]


def _are_whole(squares: Whole, side: int) -> npt.NDArray[np.bool_]:
    """True for squares that are not cut at the edge of their zone; those wholly beyond it are drawn whole too."""
    cut = is_cut(squares)
    whole = ~cut
    whole[cut] = np.abs(shapely.area(polygons(squares[cut])) - side * side) < 1.0
    return whole


def _frame(eastings: Whole, northings: Whole, side: int) -> tuple[int, int, int, int]:
    if eastings.size == 0:
        return 0, 0, 0, 0
    west, south = int(eastings.min()), int(northings.min())
    return west, south, (int(eastings.max()) - west) // side + 1, (int(northings.max()) - south) // side + 1
