"""Points far from all others that would lie among them with latitude and longitude changed about, or a sign mended.

Nothing is moved: each such point stays where it was written, and a doubt says where it would lie.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import duckdb
import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.grid.projections import grid_to_lonlat, home_of
from gapmap.grid.systems import UTM_NORTH, UTM_SOUTH, System, system_of
from gapmap.records.one_file import CleanFile
from gapmap.records.places.positions import POSITION
from gapmap.records.problems import Problem, add_cell_problems, add_problems
from gapmap.records.verdicts import DOUBT, FINE, Verdict, verdicts_to_frame
from gapmap.settings import Settings

#: A file is thought to have changed its columns about when so large a share of its points says so.
_MOST = 0.9
_AT_MOST = 5_000

_Degrees = npt.NDArray[np.float64]


def say_turned_points(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], system: System, settings: Settings
) -> None:
    """Add to each file's problems the points that seem to be turned about.

    Parameters
    ----------
    system
        The grid of the map, which most records are in.
    """
    for file in cleaned:
        if any(key > UTM_NORTH and key != system.key for key in file.systems):
            _doubt_points(connection, file, system)
        if system.key > UTM_NORTH and not settings.area.grid and all(key > UTM_NORTH for key in file.systems):
            _doubt_file(connection, file, system)


def _doubt_points(connection: duckdb.DuckDBPyConnection, file: CleanFile, system: System) -> None:
    places = _points(connection, file, f"system <> {system.key}")
    if not len(places):
        return
    longitude, latitude = _degrees(places)
    is_far = np.array([not _are_neighbours(int(key), system.key) for key in places["system"]], dtype=bool)
    verdicts = [FINE] * len(places)
    for words, (across, up) in _other_readings(longitude, latitude).items():
        for row in np.flatnonzero(is_far & (home_of(across, up) == system.key)):
            if verdicts[row] is FINE:
                own = system_of(int(places["system"].iloc[row])).title
                verdicts[row] = _turned(
                    (latitude[row], longitude[row]), (up[row], across[row]), words, own, system.title
                )
    told = pd.concat([places, verdicts_to_frame(verdicts)], axis=1)
    told["shown"] = [_in_words(*pair) for pair in zip(latitude, longitude, strict=True)]
    connection.register("turned_points", told)
    same = " and ".join(f"raw.{name} = looked.{name}" for name in POSITION)
    add_cell_problems(connection, file.problems, file.rows, _header(file), "looked.shown", "turned_points", same)
    connection.unregister("turned_points")


def _doubt_file(connection: duckdb.DuckDBPyConnection, file: CleanFile, system: System) -> None:
    """A file all of whose points would lie in one of the national grids if its two columns changed places."""
    places = _points(connection, file, "true")
    if not len(places):
        return
    longitude, latitude = _degrees(places)
    homes = np.where(np.abs(longitude) <= 90, home_of(latitude, longitude), 0)
    national = (homes > 0) & (homes <= UTM_NORTH)
    if national.mean() >= _MOST:
        title = system_of(int(np.bincount(homes[national]).argmax())).title
        words = (
            f"The coordinates of this file lie in the {system.title}; with latitude and longitude changed about they "
            f"would lie in the {title}."
        )
        do = 'Mend the headers in a copy of the file if so; if not, write grid = "utm" under [area] in the area file.'
        problem = Problem(0, _header(file), "", "coordinates turned", DOUBT, words, do)
        add_problems(connection, file.problems, [problem])


def _points(connection: duckdb.DuckDBPyConnection, file: CleanFile, where: str) -> pd.DataFrame:
    names = ", ".join(POSITION)
    places: pd.DataFrame = connection.execute(
        f"""select distinct {names} from {file.rows}
            where is_kept and is_point and system > {UTM_NORTH} and {where} order by all limit {_AT_MOST}"""
    ).df()
    return places


def _degrees(places: pd.DataFrame) -> tuple[_Degrees, _Degrees]:
    longitude, latitude = np.full((2, len(places)), np.nan)
    keys = places["system"].to_numpy(dtype=np.int64)
    for key in np.unique(keys):
        own = keys == key
        east, north = (places[name].to_numpy(dtype=np.float64)[own] for name in ("easting", "northing"))
        longitude[own], latitude[own] = grid_to_lonlat(system_of(int(key)), east, north)
    return longitude, latitude


def _other_readings(longitude: _Degrees, latitude: _Degrees) -> Mapping[str, tuple[_Degrees, _Degrees]]:
    """Longitudes and latitudes as they may have been meant, by what went wrong, the likeliest first."""
    up = np.where(np.abs(longitude) <= 90, longitude, np.nan)
    return {
        "with latitude and longitude changed about": (latitude, up),
        "with the other sign of the longitude": (-longitude, latitude),
        "with the other sign of the latitude": (longitude, -latitude),
        "with latitude and longitude changed about and the other sign of the longitude": (-latitude, up),
    }


def _are_neighbours(one: int, other: int) -> bool:
    """Whether two systems are zones of UTM side by side: an area may well reach over the line between them."""
    same_half = (one > UTM_SOUTH) == (other > UTM_SOUTH)
    return min(one, other) > UTM_NORTH and same_half and abs(one - other) in (1, 59)


def _turned(written: tuple[float, float], meant: tuple[float, float], words: str, own: str, home: str) -> Verdict:
    sentence = f"The place {_in_words(*written)} lies in the {own}, far from the other records; {words} it would lie "
    return Verdict(
        "coordinates turned", DOUBT, f"{sentence}in the {home}.", f"{_in_words(*meant)}, if that is what was meant"
    )


def _in_words(latitude: float, longitude: float) -> str:
    return f"{round(latitude, 4):g}, {round(longitude, 4):g}"


def _header(file: CleanFile) -> str:
    return ", ".join(file.headers[name] for name in ("latitude", "longitude") if name in file.headers)
