"""How far each volunteer has to go to each square."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt

from gapmap.grid.projections import grid_to_grid
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import centre, unpack
from gapmap.grid.systems import System, system_of
from gapmap.records.own_lists import read_own_list
from gapmap.settings import AreaSection
from gapmap.visits.volunteers import METRES_A_MINUTE, Volunteer

Metres = npt.NDArray[np.float64]


def straight_lines(volunteers: Sequence[Volunteer], squares: npt.NDArray[np.int64], system: System) -> Metres:
    """Straight-line distance from each home to the middle of each square.

    Returns
    -------
    array, volunteers × squares
        Metres.
    """
    easting, northing = middles(squares, system)
    homes = np.array([(v.easting, v.northing) for v in volunteers], dtype="float64").reshape(-1, 2)
    return np.hypot(homes[:, :1] - easting[None, :], homes[:, 1:] - northing[None, :])


def middles(squares: npt.NDArray[np.int64], system: System) -> tuple[Metres, Metres]:
    """Middle of each square in the map's grid, metres; squares of other systems are brought over."""
    easting, northing = (np.array(values, dtype="float64") for values in centre(squares))
    keys = unpack(squares)[0]
    for key in np.unique(keys):
        if key != system.key:
            rows = keys == key
            easting[rows], northing[rows] = grid_to_grid(system_of(int(key)), system, easting[rows], northing[rows])
    return easting, northing


def travel_from_table(
    path: Path, volunteers: Sequence[Volunteer], squares: npt.NDArray[np.int64], distances: Metres, area: AreaSection
) -> tuple[Metres, list[str]]:
    """Replace straight lines by the user's own travel times where the table gives them.

    Parameters
    ----------
    path
        CSV with the columns ``volunteer``, ``square`` and ``minutes``.
    volunteers, squares
        Rows and columns of ``distances``.
    distances
        Straight lines, metres; pairs that the table does not name keep theirs.
    area
        Grid and zones to read references with.

    Returns
    -------
    array, volunteers × squares; list of str
        Metres, minutes counting at the stated 40 km an hour, as reach in minutes does; and a sentence for each row
        that cannot be used.

    Raises
    ------
    FileError
        The table cannot be read, or lacks a column.
    """
    rows = read_own_list(path, "the travel table", needs=("volunteer", "square", "minutes")).dicts()
    travel, sentences = distances.copy(), []
    of_name = {volunteer.name: number for number, volunteer in enumerate(volunteers)}
    of_square = {int(square): number for number, square in enumerate(squares)}
    packed = references_to_squares([row["square"] for _, row in rows], area.grid, area.zones).squares
    for (number, row), square in zip(rows, packed, strict=True):
        minutes = _minutes(row["minutes"])
        if row["volunteer"] not in of_name:
            reason = f"{row['volunteer'] or 'nobody'} is not among the volunteers who can be planned for"
        elif int(square) not in of_square:
            reason = f"{row['square'] or 'an empty cell'} is no square of the area"
        elif minutes is None:
            reason = f"minutes should be a number, is '{row['minutes'][:40]}'"
        else:
            travel[of_name[row["volunteer"]], of_square[int(square)]] = minutes * METRES_A_MINUTE
            continue
        sentences.append(f"{path.name}, row {number}: {reason}.")
    return travel, sentences


def _minutes(text: str) -> float | None:
    try:
        minutes = float(text)
    except ValueError:
        return None
    return minutes if np.isfinite(minutes) and minutes >= 0 else None
