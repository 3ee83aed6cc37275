"""The effort surface: the kernel spreads lists and adds none; the file opens with the right place and plane."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import rasterio

from gapmap.coverage.surface import effort_surfaces
from gapmap.errors import GapmapError, OutputError
from gapmap.grid.squares import pack
from gapmap.outputs.rasters import write_surface
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-")


def effort_of(lists: dict[tuple[int, int], int], system: int = 1) -> pd.DataFrame:
    """Lists of the later class by easting and northing in kilometres from the corner of OQ."""
    squares = [int(pack(system, 2000, 500_000 + 1000 * e, 600_000 + 1000 * n).item()) for e, n in lists]
    rows = [(s, c, n, n) for s, n in zip(squares, lists.values(), strict=True) for c in (-1, 1)]
    rows += [(s, 0, 0, 0) for s in squares]
    return pd.DataFrame(rows, columns=["square", "date_class", "lists", "records"])


def test_unsmoothed_cells_are_the_squares_themselves() -> None:
    [surface] = effort_surfaces(effort_of({(0, 0): 3, (4, 2): 5}), CLASSES, kernel_m=0)
    assert surface.bands.shape == (3, 2, 3)
    later = surface.bands[1]
    assert later[1, 0] == 3
    assert later[0, 2] == 5
    assert np.isnan(later).sum() == 4
    assert surface.transform == (2000, 0, 500_000, 0, -2000, 604_000)
    assert surface.labels == ("to 2000", "from 2001", "all dates")


def test_the_kernel_adds_nothing_and_falls_off_as_a_gaussian() -> None:
    [surface] = effort_surfaces(effort_of({(0, 0): 8}), CLASSES, kernel_m=4000)
    band = surface.bands[1]
    assert np.nansum(band) == pytest.approx(8, rel=1e-5)
    row, column = np.unravel_index(np.nanargmax(band), band.shape)
    # 4 km away, one standard deviation: exp(-1/2) of the top
    assert band[row, column + 2] / band[row, column] == pytest.approx(np.exp(-0.5), rel=1e-4)


def test_no_data_beyond_the_reach_of_the_kernel_and_zero_in_a_class_without_lists() -> None:
    [surface] = effort_surfaces(effort_of({(0, 0): 8, (60, 0): 2}), CLASSES)
    assert np.isnan(surface.bands[1, 3, 15])
    assert np.nanmax(surface.bands[0]) == 0


def test_one_surface_for_each_system() -> None:
    both = pd.concat([effort_of({(0, 0): 1}), effort_of({(0, 0): 1}, system=2)])
    assert [one.system.key for one in effort_surfaces(both, CLASSES)] == [1, 2]
    assert effort_surfaces(both.iloc[:0], CLASSES) == []


def test_squares_too_far_apart_are_refused_in_one_sentence() -> None:
    far = effort_of({(0, 0): 1, (12_000_000 // 1000, 12_000_000 // 1000): 1}, system=4)
    with pytest.raises(GapmapError, match="too far apart"):
        effort_surfaces(far, CLASSES)


def test_the_file_opens_in_its_place(tmp_path) -> None:
    [surface] = effort_surfaces(effort_of({(0, 0): 3, (4, 2): 5}), CLASSES, kernel_m=0)
    path = tmp_path / "effort.tif"
    write_surface(surface, path)
    with rasterio.open(path) as raster:
        assert raster.crs.to_epsg() == 27700
        assert raster.descriptions == surface.labels
        assert np.isnan(raster.nodata)
        assert tuple(raster.bounds) == (500_000, 600_000, 506_000, 604_000)
        at = [(501_000, 601_000), (505_000, 603_000)]
        assert [list(one) for one in raster.sample(at)] == [[0, 3, 3], [0, 5, 5]]
        assert "not smoothed" in raster.tags()["TIFFTAG_IMAGEDESCRIPTION"]
    assert [one.name for one in tmp_path.iterdir()] == ["effort.tif"]


def test_a_place_that_cannot_be_written_to_is_one_sentence(tmp_path) -> None:
    (tmp_path / "file").write_text("")
    [surface] = effort_surfaces(effort_of({(0, 0): 3}), CLASSES)
    with pytest.raises(OutputError):
        write_surface(surface, tmp_path / "file" / "effort.tif")
