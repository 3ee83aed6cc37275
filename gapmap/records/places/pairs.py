"""A column of places whose cells hold a grid reference, or latitude and longitude together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from gapmap.grid.coordinates import halves
from gapmap.records.places.positions import POSITION, lonlat_positions, reference_positions
from gapmap.records.verdicts import VERDICT_COLUMNS


def place_positions(texts: Sequence[str], grid: str, zones: Sequence[str]) -> pd.DataFrame:
    """Positions of references, and of pairs of coordinates that stand where a reference should.

    Parameters
    ----------
    texts
        Cells as written; latitude comes before longitude.
    grid, zones
        As settings.AreaSection.

    Returns
    -------
    DataFrame with the columns of POSITION and the verdict on each.

    Examples
    --------
    >>> place_positions(["NT2573", "55.95, -3.19"], "", ())[["easting", "northing", "is_point"]].to_numpy().tolist()
    [[325000, 673000, False], [325784, 673636, True]]
    """
    found = reference_positions(texts, grid, zones)
    rows = np.flatnonzero(found["code"].to_numpy() == "coordinates")
    parted = [halves(" ".join(texts[row].split())) for row in map(int, rows)]
    rows = np.array([row for row, pair in zip(rows, parted, strict=True) if all(pair)], dtype=np.int64)
    if not rows.size:
        return found
    pairs = pd.DataFrame([pair for pair in parted if all(pair)], columns=["latitude", "longitude"])
    points = lonlat_positions(pairs.assign(uncertainty=""), grid, zones)
    is_read = points["system"].to_numpy() > 0
    for name in (*POSITION, *VERDICT_COLUMNS):
        column = found[name].to_numpy(dtype=object).copy()
        column[rows[is_read]] = points[name].to_numpy(dtype=object)[is_read]
        found[name] = pd.Series(column, index=found.index).astype(found[name].dtype)
    return found
