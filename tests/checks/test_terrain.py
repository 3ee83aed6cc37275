"""Values under positions, beside rasterio's own ``sample``, which opens the raster cell by cell."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin
from rasterio.warp import transform

from gapmap.checks.terrain import raster_under
from gapmap.grid.systems import system_named


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
