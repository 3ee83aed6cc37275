"""References that do not fit the coordinates beside them until they are read in another grid.

Two letters and digits may be a square of the British grid or of a UTM zone; the coordinates beside them can tell.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from gapmap.grid.projections import lonlat_to_grid, utm_zone_of
from gapmap.grid.systems import SYSTEMS
from gapmap.records.database import first_row
from gapmap.records.in_hand import FileInHand
from gapmap.records.lookups import ROWS, Lookup
from gapmap.records.places.measures import boxes, by_system, distance_to_box
from gapmap.records.places.positions import reference_positions
from gapmap.records.problems import Problem, add_problems
from gapmap.records.verdicts import DOUBT

#: So many places are tried in other grids, and so large a share must fit.
_TRIED = 300
_MOST = 0.9
#: Rows from which, and share of rows at odds with their reference above which, another grid is looked for.
_FEWEST, _MANY = 10, 0.5
_NEAR_M = 1_000
_BANDS = "CDEFGHJKLMNPQRSTUVWX"


def say_other_grid(file: FileInHand, beside: Lookup, grid: str, zones: Sequence[str], header: str) -> None:
    """Add to the problems in which grid the references would fit, when most do not fit as they were read.

    Parameters
    ----------
    beside
        Distinct references with the latitude and longitude beside them, and whether they disagree.
    grid, zones
        How the references were read.
    """
    odd, every = first_row(
        file.connection,
        f"""select coalesce(sum({ROWS}) filter (code = 'places disagree'), 0)::bigint, coalesce(sum({ROWS}), 0)::bigint
            from {beside.table}""",
    )
    if odd < _FEWEST or odd < _MANY * every:
        return
    tried = file.connection.execute(
        f"""select key_reference as reference, try_cast(key_latitude as double) as latitude,
                try_cast(key_longitude as double) as longitude
            from {beside.table} where code = 'places disagree' using sample {_TRIED} rows (reservoir, 1)"""
    ).df().dropna()  # fmt: skip
    for other, other_zones in _other_grids(tried, grid, zones):
        if _share_fitting(tried, other, other_zones) >= _MOST:
            called = f"the grid {other}" + (f", zones {' '.join(other_zones)}" if other_zones else "")
            words = (
                f"{odd:,} of {every:,} references do not fit the coordinates beside them, but would as squares of "
                f"{called}."
            )
            add = f"--grid {other}" + (f' --zone "{" ".join(other_zones)}"' if other_zones else "")
            write = f'grid = "{other}"' + (f" and zones = {list(other_zones)}".replace("'", '"') if other_zones else "")
            do = f"Add {add}, or write {write} under [area] in the area file."
            add_problems(file.connection, file.problems, [Problem(0, header, "", "another grid", DOUBT, words, do)])
            return


def _other_grids(tried: pd.DataFrame, grid: str, zones: Sequence[str]) -> list[tuple[str, tuple[str, ...]]]:
    number = utm_zone_of(tried["longitude"], tried["latitude"])
    band = np.clip((tried["latitude"].to_numpy() + 80) // 8, 0, len(_BANDS) - 1).astype(int)
    held = pd.Series([f"{zone}{_BANDS[place]}" for zone, place in zip(number, band, strict=True) if zone > 0])
    candidates = [("utm", tuple(sorted(held.unique()))), *((system.name, ()) for system in SYSTEMS.values())]
    return [one for one in candidates if one != (grid, tuple(zones))]


def _share_fitting(tried: pd.DataFrame, grid: str, zones: Sequence[str]) -> float:
    places = reference_positions(tried["reference"].tolist(), grid, zones)
    fitting = 0
    for system, rows in by_system(places[places["system"] > 0].reset_index(names="row")):
        own = places[places["system"] > 0].iloc[rows]
        beside = tried.iloc[own.index]
        x, y = lonlat_to_grid(system, beside["longitude"], beside["latitude"])
        apart = distance_to_box(np.asarray(x), np.asarray(y), *boxes(own, np.arange(len(own))))
        fitting += int((apart <= _NEAR_M).sum())
    return fitting / max(len(tried), 1)
