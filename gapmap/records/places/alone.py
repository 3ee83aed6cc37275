"""Places hundreds of kilometres from all others, where no boundary says so: often a slip in the letters.

The letters of a national grid reach far beyond the land, so that QQ2570 reads as well as NT2570.
"""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.grid.systems import UTM_NORTH, System
from gapmap.records.one_file import CleanFile
from gapmap.records.places.judging import places_in_words
from gapmap.records.places.positions import POSITION
from gapmap.records.problems import add_cell_problems
from gapmap.records.verdicts import DOUBT, Verdict, verdicts_to_frame
from gapmap.settings import Settings

#: Side of the squares that are told apart (metres): the ones the letters name.
_SIDE = 100_000
#: So many empty squares between them and all others.
_APART = 2
#: Records from which it can be said what is usual, and the most that may lie alone: their number and share.
_ENOUGH, _FEW, _SHARE = 20, 2, 0.005


def say_places_alone(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], system: System, settings: Settings
) -> None:
    """Add to each file's problems its places that lie far from all others.

    Parameters
    ----------
    connection
        Holds the relation ``candidate_rows`` of everything that can be a record.
    system
        The grid of the map; zones of UTM lie beside each other and are not judged.
    settings
        With a boundary of the area there is nothing to say here: what lies outside it is said elsewhere.
    """
    if settings.area.boundary or system.key > UTM_NORTH:
        return
    cells = connection.execute(
        f"""select floor(easting / {_SIDE})::bigint as east, floor(northing / {_SIDE})::bigint as north,
                count(*) as records
            from candidate_rows where system = {system.key} group by all order by all"""
    ).df()
    alone = cells[_is_alone(cells)]
    if alone.empty:
        return
    connection.register("cells_alone", alone)
    for number, file in enumerate(cleaned, start=1):
        names = ", ".join(f"c.{name}" for name in POSITION)
        places = connection.execute(
            f"""select distinct {names} from candidate_rows c join cells_alone a
                on floor(c.easting / {_SIDE}) = a.east and floor(c.northing / {_SIDE}) = a.north
                where c.system = {system.key} and c.file_id = {number} order by all"""
        ).df()
        if len(places):
            words = f"The place lies more than {_APART * _SIDE // 1000} km from all other records."
            verdict = Verdict("far from all others", DOUBT, words, "check the letters of the reference")
            told = pd.concat([places, verdicts_to_frame([verdict] * len(places))], axis=1)
            connection.register("places_alone", told.assign(shown=places_in_words(places)))
            same = " and ".join(f"raw.{name} = looked.{name}" for name in POSITION)
            header = next((file.headers[m] for m in ("reference", "latitude", "easting") if m in file.headers), "")
            add_cell_problems(connection, file.problems, file.rows, header, "looked.shown", "places_alone", same)
            connection.unregister("places_alone")
    connection.unregister("cells_alone")


def _is_alone(cells: pd.DataFrame) -> npt.NDArray[np.bool_]:
    """Which squares hold few records and have no other square near."""
    east, north, records = (cells[name].to_numpy(dtype=np.int64) for name in ("east", "north", "records"))
    total = records.sum()
    steps = np.maximum(np.abs(east[:, None] - east), np.abs(north[:, None] - north))
    np.fill_diagonal(steps, _APART + 1)
    few = records <= max(_FEW, _SHARE * total)
    alone: npt.NDArray[np.bool_] = few & (steps > _APART).all(axis=1) & (total >= _ENOUGH) & (len(cells) > 1)
    return alone
