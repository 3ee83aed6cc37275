"""Shares of habitat and height, on small rasters whose shares can be counted by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from gapmap.errors import FileError
from gapmap.expected.ground import read_ground
from gapmap.grid.squares import pack
from gapmap.grid.systems import UTM_NORTH

WEST, SOUTH, SIDE = 500_000, 1_210_000, 1_000


def write(path: Path, cells: list[list[float]], west: int, cell: int, *, crs: str | None = "EPSG:27700") -> Path:
    """A raster whose rows run from north to south and whose south-west corner is (west, SOUTH)."""
    values = np.array(cells, dtype="float32" if any(isinstance(v, float) for v in cells[0]) else "int16")
    place = from_origin(west, SOUTH + cell * len(cells), cell, cell)
    shape = {"height": values.shape[0], "width": values.shape[1], "count": 1, "dtype": values.dtype}
    with rasterio.open(path, "w", driver="GTiff", crs=crs, transform=place, nodata=-1, **shape) as raster:
        raster.write(values, 1)
    return path


def row_of_squares(count: int) -> np.ndarray:
    return pack(1, SIDE, WEST + SIDE * np.arange(count), np.full(count, SOUTH))


def test_shares_are_counted_cells(tmp_path: Path) -> None:
    """Cells of 500 m, four a square: three of wood and one of heath; then four of heath."""
    habitat = write(tmp_path / "habitat.tif", [[1, 1, 2, 2], [1, 2, 2, 2]], WEST, 500)
    got = read_ground(row_of_squares(2), habitat)
    assert got.columns.tolist() == ["habitat 1", "habitat 2"]
    assert got.to_numpy() == pytest.approx(np.array([[0.75, 0.25], [0.0, 1.0]]))


def test_cells_across_an_edge_count_for_the_part_inside(tmp_path: Path) -> None:
    """Columns of 1 km begin 250 m west of the squares: each square holds 3/4 of one column and 1/4 of the next."""
    habitat = write(tmp_path / "habitat.tif", [[1, 2, 3]], WEST - 250, 1_000)
    got = read_ground(row_of_squares(2), habitat)
    assert got.to_numpy() == pytest.approx(np.array([[0.75, 0.25, 0.0], [0.0, 0.75, 0.25]]))


def test_a_square_off_the_raster_has_no_ground(tmp_path: Path) -> None:
    habitat = write(tmp_path / "habitat.tif", [[1, 1], [1, 2]], WEST, 500)
    got = read_ground(row_of_squares(3), habitat)
    assert got.iloc[1:].to_numpy().sum() == 0.0


def test_squares_of_two_zones_have_the_ground_under_them(tmp_path: Path) -> None:
    """Two squares a few kilometres either side of 6° E, where UTM zone 31 ends (DMA TM 8358.1); wood west of it, heath east."""
    values = np.repeat([[1] * 100 + [2] * 100], 100, axis=0).astype("int16")
    with rasterio.open(tmp_path / "habitat.tif", "w", driver="GTiff", crs="EPSG:4326", count=1, dtype="int16", nodata=-1,
                       height=100, width=200, transform=from_origin(5.0, 50.5, 0.01, 0.01)) as raster:  # fmt: skip
        raster.write(values, 1)
    west = pack(UTM_NORTH + 31, 1_000, 710_000, 5_540_000)  # 5.93° E, 49.98° N
    east = pack(UTM_NORTH + 32, 1_000, 290_000, 5_540_000)  # 6.07° E
    got = read_ground(np.array([west, east]), tmp_path / "habitat.tif")
    assert got.to_numpy() == pytest.approx(np.eye(2))
    assert read_ground(np.array([east, west]), tmp_path / "habitat.tif").to_numpy() == pytest.approx(np.eye(2)[::-1])


def test_height_lies_between_two_bands(tmp_path: Path) -> None:
    """Means of 0, 10, … 90 m: the bands' middles are the 10, 30, … 90 % quantiles, 9, 27, 45, 63 and 81 m.

    30 m lies 3/18 of the way from 27 to 45, so that 5/6 of it counts for the second band and 1/6 for the third.
    """
    height = write(tmp_path / "height.tif", [[10.0 * n for n in range(10)]], WEST, 1_000)
    got = read_ground(row_of_squares(10), height=height).to_numpy()
    assert got.sum(axis=1) == pytest.approx(np.ones(10))
    assert got[0] == pytest.approx([1, 0, 0, 0, 0])
    assert got[3] == pytest.approx([0, 5 / 6, 1 / 6, 0, 0], abs=1e-6)
    assert got[9] == pytest.approx([0, 0, 0, 0, 1])


def test_habitat_and_height_share_the_square(tmp_path: Path) -> None:
    habitat = write(tmp_path / "habitat.tif", [[1, 2]], WEST, 1_000)
    height = write(tmp_path / "height.tif", [[5.0, 50.0]], WEST, 1_000)
    got = read_ground(row_of_squares(2), habitat, height)
    assert got.filter(like="habitat").sum(axis=1).tolist() == pytest.approx([0.5, 0.5])
    assert got.sum(axis=1).tolist() == pytest.approx([1.0, 1.0])


def test_no_raster_and_no_square() -> None:
    assert read_ground(row_of_squares(2)).shape == (2, 0)
    assert read_ground(np.array([], dtype="int64")).empty


def test_a_raster_that_cannot_serve_is_said(tmp_path: Path) -> None:
    broken = tmp_path / "broken.tif"
    broken.write_text("not a raster")
    with pytest.raises(FileError, match="cannot be read"):
        read_ground(row_of_squares(1), broken)
    nowhere = write(tmp_path / "nowhere.tif", [[1]], WEST, 1_000, crs=None)
    with pytest.raises(FileError, match="does not say its projection"):
        read_ground(row_of_squares(1), nowhere)
