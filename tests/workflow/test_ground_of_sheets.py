"""What a field sheet says of its square's ground: shares that can be counted in a raster of four cells."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from gapmap.grid.squares import pack
from gapmap.settings import Settings
from gapmap.visits.fieldsheets import ground_in_words, usual_places
from gapmap.workflow.source import Source
from gapmap.workflow.visits import ground_of


def test_classes_of_one_name_are_one_habitat_whatever_its_letters(tmp_path: Path) -> None:
    """Two of four cells are two kinds of wood, one is heath and one has no name: 50 %, 25 %, and nothing more."""
    with rasterio.open(
        tmp_path / "habitat.tif", "w", driver="GTiff", width=2, height=2, count=1, dtype="uint8", crs="EPSG:27700",
        transform=from_origin(400_000, 402_000, 1000, 1000),
    ) as raster:  # fmt: skip
        raster.write(np.array([[1, 2], [3, 4]], dtype="uint8"), 1)
    settings = Settings.model_validate(
        {"rasters": {"habitat": "habitat.tif", "habitat_names": {"1": "Wood", "2": "Wood", "3": "Heath"}}}
    )
    square = pack(1, 2000, np.array([400_000]), np.array([400_000]))
    here = ground_of(Source(tmp_path, (), settings), square)[int(square[0])]
    assert here == pytest.approx({"Wood": 0.5, "Heath": 0.25})
    assert ground_in_words(here) == "Wood 50 %, Heath 25 %"
    assert usual_places([("heath", 6)], here) == "heath"
