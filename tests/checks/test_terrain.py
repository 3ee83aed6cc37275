"""Values under positions, beside rasterio's own ``sample``, which opens the raster cell by cell; and in planes of
rasters that pyproj, not rasterio, says where a place lies in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyproj
import pytest
import rasterio
from rasterio.crs import CRS
from rasterio.transform import from_origin
from rasterio.warp import transform

from gapmap.checks.terrain import raster_under
from gapmap.errors import FileError
from gapmap.grid.systems import system_named

BRITISH = system_named("british")
#: A plane of somebody's own, which no register numbers; another from the register.
OWN_PLANE = "+proj=laea +lat_0=56 +lon_0=-2 +x_0=0 +y_0=0 +ellps=GRS80 +units=m"
EUROPEAN = "EPSG:3035"



@pytest.fixture(params=["EPSG:27700", "EPSG:4326"])
def raster(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """1,300 rows of 700 cells, each its own number, one in nine without a value."""
    cells = np.arange(1_300 * 700, dtype="float32").reshape(1_300, 700)
    cells[cells % 9 == 0] = -9999
    origin = (600_000, 760_000, 100, 100) if request.param == "EPSG:27700" else (0.6, 57.0, 0.002, 0.001)
    path = tmp_path / "height.tif"
    with rasterio.open(path, "w", driver="GTiff", width=700, height=1_300, count=1, dtype="float32", nodata=-9999,
                       crs=request.param, transform=from_origin(*origin)) as written:  # fmt: skip
        written.write(cells, 1)
    return path


@pytest.mark.parametrize("count", [0, 1, 4_000])
def test_the_same_as_cell_by_cell(raster: Path, count: int) -> None:
    lot = np.random.default_rng(4)
    x, y = lot.uniform(580_000, 690_000, count), lot.uniform(610_000, 790_000, count)
    found = raster_under(raster, system_named("british"), x, y)
    with rasterio.open(raster) as reference:
        across, down = (x, y) if reference.crs.to_epsg() == 27700 else transform("EPSG:27700", reference.crs, x, y)
        one_by_one = [value[0] for value in reference.sample(zip(across, down, strict=True), masked=True)]
    expected = np.array([np.nan if np.ma.is_masked(value) else float(value) for value in one_by_one])
    np.testing.assert_array_equal(found, expected)
    assert count < 2 or 0.1 < np.isnan(found).mean() < 0.9


def write_raster(path: Path, crs: str | None, west: float, north: float, cells: npt.NDArray[np.float32]) -> Path:
    """A raster of kilometre cells."""
    rows, columns = cells.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=columns, height=rows, count=1, dtype="float32", nodata=-9999.0,
        crs=CRS.from_user_input(crs) if crs else None, transform=from_origin(west, north, 1000, 1000),
    ) as raster:  # fmt: skip
        raster.write(cells, 1)
    return path


@pytest.mark.parametrize("crs", ["EPSG:27700", None, OWN_PLANE, EUROPEAN])
def test_a_value_is_the_one_under_the_place_whatever_the_plane(tmp_path: Path, crs: str | None) -> None:
    x, y = np.array([402_300.0, 415_700.0, 431_250.0]), np.array([652_600.0, 660_400.0, 671_900.0])
    over = pyproj.Transformer.from_crs(27700, crs or 27700, always_xy=True).transform(x, y)
    west, north = np.floor(min(over[0]) / 1000 - 2) * 1000, np.ceil(max(over[1]) / 1000 + 2) * 1000
    cells = np.arange(60 * 60, dtype=np.float32).reshape(60, 60)
    path = write_raster(tmp_path / "cells.tif", crs, west, north, cells)
    expected = [cells[int((north - b) // 1000), int((a - west) // 1000)] for a, b in zip(*over, strict=True)]
    assert raster_under(path, BRITISH, x, y).tolist() == expected


def test_outside_and_where_nothing_is_known_there_is_no_value(tmp_path: Path) -> None:
    cells = np.array([[1, -9999], [3, 4]], dtype=np.float32)
    path = write_raster(tmp_path / "cells.tif", "EPSG:27700", 400_000, 602_000, cells)
    x = np.array([400_500, 401_500, 400_000, 401_999, 399_999, 402_000, np.nan, 9e8])
    y = np.array([601_500, 601_500, 600_001, 600_001, 601_000, 601_000, 601_000, 601_000])
    found = raster_under(path, BRITISH, x, y)
    assert found[[0, 2, 3]].tolist() == [1, 3, 4]
    assert np.isnan(found[[1, 4, 5, 6, 7]]).all()
    assert raster_under(path, BRITISH, x[:0], y[:0]).tolist() == []
    assert np.isnan(raster_under(path, BRITISH, x[4:], y[4:])).all()


def test_a_raster_that_is_none_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "cells.tif").write_text("not a raster", encoding="utf-8")
    with pytest.raises(FileError, match=r"The raster cells\.tif cannot be read"):
        raster_under(tmp_path / "cells.tif", BRITISH, np.array([1.0]), np.array([1.0]))
