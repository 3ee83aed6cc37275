"""Places held against what the area's folder knows: its boundary, its land, its list of place names."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import pack
from gapmap.records.lookups import look_up
from gapmap.records.one_file import CleanFile
from gapmap.records.places.doubts import place_doubts
from gapmap.records.places.positions import POSITION
from gapmap.records.problems import add_cell_problems
from gapmap.settings import Settings

_PLACE = (*POSITION, "county", "place")


def say_doubtful_places(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], settings: Settings, folder: Path | None
) -> None:
    """Add to each file's problems what is odd about its places, each distinct place judged once.

    Raises
    ------
    FileError, ColumnError
        The boundary, a layer or the list of place names cannot be read.
    """
    knows = folder is not None and (
        settings.area.boundary
        or settings.area.background
        or settings.area.vice_counties
        or (folder / "lookups" / "places.csv").is_file()
    )
    if not knows:
        return

    def judge(keys: pd.DataFrame) -> pd.DataFrame:
        places = keys.astype(dict.fromkeys(("system", "easting", "northing", "precision_m"), "int64"))
        places["is_point"] = keys["is_point"] == "true"
        return place_doubts(places, settings, folder).assign(shown=places_in_words(places))

    for number, file in enumerate(cleaned, start=1):
        keys = {name: f'raw."{name}"::varchar' for name in _PLACE}
        lookup = look_up(connection, f"places_{number}", file.rows, keys, {"shown": "varchar"}, judge, "raw.is_kept")
        if lookup.has_verdicts:
            header = next((file.headers[m] for m in ("reference", "latitude", "easting") if m in file.headers), "")
            add_cell_problems(
                connection,
                file.problems,
                file.rows,
                header,
                "looked.shown",
                lookup.table,
                f"raw.is_kept and {lookup.on('looked')}",
            )


def places_in_words(places: pd.DataFrame) -> npt.NDArray[np.object_]:
    """Each place as people write it: a reference, or easting and northing for a point."""
    side = np.where(places["is_point"], 1, places["precision_m"])
    squares = pack(places["system"], side, places["easting"], places["northing"])
    points = places["easting"].astype(str) + ", " + places["northing"].astype(str)
    return np.where(places["is_point"], points, np.asarray(squares_to_references(squares), dtype=object))
