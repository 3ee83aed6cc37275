"""Places that cannot be quite right: outside the area, in the sea, at odds with what stands beside them, too exact.

Nothing here changes a place or makes a row no record: each answer is a doubt or a note that says by how far.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely

from gapmap.grid.projections import lonlat_to_grid
from gapmap.records.places.counties import county_doubts
from gapmap.records.places.known import holds_area, read_boundary, read_places
from gapmap.records.places.measures import boxes, by_system, distance_in_words, distance_to_box, metres_outside, texts
from gapmap.records.verdicts import DOUBT, FINE, NOTE, Verdict, quoted, verdicts_to_frame, worst
from gapmap.settings import Settings

__all__ = ["place_doubts", "read_boundary", "read_places"]

#: Coordinates may lie this far outside the square of their reference before it is said (metres).
NEAR_ENOUGH_M = 200
#: A place name's records are thought to lie together unless half of them are further than this from their middle.
TOGETHER_M = 5_000
#: Fewer different spots do not tell where a place is.
_ENOUGH_SPOTS = 4
#: A record this far from the middle of its place name, and ten times as far as most, is odd (metres).
FAR_M = 20_000
#: People name the nearest place they know: so far from its square a record may still be meant (metres; common
#: practice, no source). A county has its bounds.
NEAR_A_NAME_M = 5_000
_LAND_WORDS = ("coast", "land", "shore")
_METRES_PER_DEGREE = 111_320.0

_Numbers = npt.NDArray[np.float64]
_Verdicts = dict[int, list[Verdict]]


def place_doubts(frame: pd.DataFrame, settings: Settings, folder: Path | None = None) -> pd.DataFrame:
    """Say what is odd about places; meant for the distinct places of a file.

    Parameters
    ----------
    frame
        ``system``, ``easting``, ``northing``, ``precision_m`` (metres) and ``is_point``, and where the file has them
        ``latitude`` and ``longitude`` (degrees, written beside a reference), ``county`` and ``place`` (texts).
    settings
        The area's boundary and background layers are looked for; a layer whose name speaks of coast, land or shore
        is the land.
    folder
        The area's folder; without it there is no boundary, no land and no lookups/places.csv.

    Returns
    -------
    DataFrame
        ``code``, ``severity``, ``sentence``, ``suggestion``, one row a row; the most serious where there are several.

    Raises
    ------
    FileError, ColumnError
        The boundary, a layer or lookups/places.csv cannot be read.

    Examples
    --------
    >>> seen = pd.DataFrame({"system": [1], "easting": [325000], "northing": [673000], "precision_m": [1000],
    ...     "is_point": [False], "latitude": [56.9], "longitude": [-3.2]})
    >>> place_doubts(seen, Settings()).code.tolist()
    ['places disagree']
    >>> place_doubts(seen.drop(columns=["latitude", "longitude"]), Settings()).code.tolist()
    ['']
    """
    places = frame.reset_index(drop=True)
    found: _Verdicts = {}
    _compare_coordinates(places, found)
    if folder is not None:
        _compare_boundary(places, settings, folder, found)
        _compare_names(places, folder / "lookups" / "places.csv", found)
        for row, verdict in county_doubts(places, settings, folder).items():
            _say(found, row, verdict)
    _compare_among_themselves(places, found)
    _watch_exactness(places, found)
    return verdicts_to_frame([worst(found.get(row, [])) if row in found else FINE for row in range(len(places))])


def _say(found: _Verdicts, row: int, verdict: Verdict) -> None:
    found.setdefault(row, []).append(verdict)


# ---- coordinates beside a reference


def _compare_coordinates(places: pd.DataFrame, found: _Verdicts) -> None:
    """Latitude and longitude against the reference beside them, and whether they are only its middle."""
    if not {"latitude", "longitude"} <= set(places.columns):
        return
    latitude = pd.to_numeric(places["latitude"], errors="coerce").to_numpy(dtype=np.float64)
    longitude = pd.to_numeric(places["longitude"], errors="coerce").to_numpy(dtype=np.float64)
    usable = (np.abs(latitude) <= 90) & (np.abs(longitude) <= 180)
    for system, own in by_system(places):
        rows = own[usable[own]]
        if not rows.size:
            continue
        x, y = (
            np.asarray(values, dtype=np.float64) for values in lonlat_to_grid(system, longitude[rows], latitude[rows])
        )
        west, south, side = boxes(places, rows)
        apart = distance_to_box(x, y, west, south, side)
        step = np.maximum(_written_step(latitude[rows]), _written_step(longitude[rows]))
        for place in np.flatnonzero(~np.isfinite(x) | (apart > np.maximum(step, NEAR_ENOUGH_M))):
            _say(
                found,
                int(rows[place]),
                _places_disagree(latitude[rows[place]], longitude[rows[place]], float(apart[place])),
            )
        off_middle = np.hypot(x - west - side / 2, y - south - side / 2)
        is_middle = (side >= 1000) & (off_middle <= np.maximum(2 * step, 10)) & (step * 20 < side)
        for place in np.flatnonzero(is_middle):
            words = (
                f"The coordinates are the middle of the {_side_in_words(side[place])} square, "
                "so they say no more than it does."
            )
            _say(found, int(rows[place]), Verdict("middle of a square", NOTE, words))


def _places_disagree(latitude: float, longitude: float, apart: float) -> Verdict:
    where = f"{latitude:g}, {longitude:g}"
    if not np.isfinite(apart):
        words = f"The coordinates {where} do not lie in the grid of the reference beside them."
    else:
        words = f"The coordinates {where} lie {distance_in_words(apart)} from the square of the reference beside them."
    return Verdict("places disagree", DOUBT, words, "which of the two is right? the reference was used")


def _written_step(degrees: _Numbers) -> _Numbers:
    """Metres that the last written decimal of a coordinate amounts to."""
    step = np.full(len(degrees), _METRES_PER_DEGREE / 1e7)
    for decimals in range(6, -1, -1):
        step[np.abs(degrees - np.round(degrees, decimals)) < 1e-9] = _METRES_PER_DEGREE / 10.0**decimals
    return step


def _side_in_words(side: float) -> str:
    return f"{round(side / 1000)} km" if side >= 1000 else f"{round(side)} m"


# ---- the boundary, and the sea


def _compare_boundary(places: pd.DataFrame, settings: Settings, folder: Path, found: _Verdicts) -> None:
    area = settings.area
    named = [folder / name for name in area.background if any(word in Path(name).stem.lower() for word in _LAND_WORDS)]
    lands = [path for path in named if holds_area(path)]
    for system, rows in by_system(places):
        west, south, side = boxes(places, rows)
        shapes = shapely.box(west, south, west + side, south + side)
        if area.boundary:
            outside = metres_outside(shapes, read_boundary(folder / area.boundary, system))
            for place in np.flatnonzero(outside > 0):
                words = f"The place lies {distance_in_words(outside[place])} outside the boundary of {area.name}."
                _say(found, int(rows[place]), Verdict("outside the area", DOUBT, words, "check the reference"))
        if lands:
            land = shapely.union_all([read_boundary(path, system) for path in lands])
            away = metres_outside(shapes, land)
            for place in np.flatnonzero(away > 0):
                words = f"The place lies in the sea, {distance_in_words(away[place])} from the nearest land."
                _say(found, int(rows[place]), Verdict("in the sea", DOUBT, words, "check the reference"))


# ---- names of places and counties


def _compare_names(places: pd.DataFrame, path: Path, found: _Verdicts) -> None:
    """Names of places and vice-counties against the squares that lookups/places.csv gives them."""
    columns = [name for name in ("county", "place") if name in places.columns]
    if not columns or not path.is_file():
        return
    known = read_places(path)
    for system, rows in by_system(places):
        own = known[known["system"] == system.key]
        if not len(own):
            continue
        x, y, width = (own[name].to_numpy(dtype=np.float64) for name in ("easting", "northing", "side"))
        known_boxes = shapely.box(x, y, x + width, y + width)
        named = own.groupby("key").indices
        west, south, side = boxes(places, rows)
        own_boxes = shapely.box(west, south, west + side, south + side)
        for column in columns:
            keys = texts(places, column).iloc[rows].str.casefold().to_numpy()
            for name, places_of_it in pd.Series(keys).groupby(keys).indices.items():
                if name not in named:
                    continue
                mine = np.asarray(places_of_it)
                apart = metres_outside(own_boxes[mine], shapely.union_all(known_boxes[named[name]]))
                is_off = apart > (NEAR_A_NAME_M if column == "place" else 0)
                for place, metres in zip(mine[is_off], apart[is_off], strict=True):
                    row = int(rows[place])
                    words = (
                        f"The place lies {distance_in_words(metres)} from {quoted(str(places[column].iloc[row]))}, "
                        "which is written beside it."
                    )
                    _say(found, row, Verdict(f"{column} disagrees", DOUBT, words, "which of the two is right?"))


def _compare_among_themselves(places: pd.DataFrame, found: _Verdicts) -> None:
    """A place name whose references lie together but for one far away: often a slip in the letters of the reference."""
    if "place" not in places.columns or not len(places):
        return
    names = texts(places, "place").str.casefold()
    key, _ = pd.factorize(names + "\n" + places["system"].astype(str))
    half = np.where(places["is_point"], 0, places["precision_m"] / 2)
    x, y = (places[name].to_numpy(dtype=np.float64) + half for name in ("easting", "northing"))
    spots = pd.DataFrame({"key": key, "x": x, "y": y})[(names != "").to_numpy()].drop_duplicates()
    size = spots.groupby("key")["x"].transform("size")
    known = spots[size >= _ENOUGH_SPOTS]
    known_x, known_y = known["x"].to_numpy(), known["y"].to_numpy()
    for number, spot in known.groupby("key").indices.items():
        middle_x, middle_y = np.median(known_x[spot]), np.median(known_y[spot])
        spread = float(np.median(np.hypot(known_x[spot] - middle_x, known_y[spot] - middle_y)))
        if spread > TOGETHER_M:
            continue
        mine = np.flatnonzero(key == number)
        away = np.hypot(x[mine] - middle_x, y[mine] - middle_y)
        limit = max(FAR_M, 10 * spread) + places["precision_m"].to_numpy(dtype=np.float64)[mine]
        for row, metres in zip(mine[away > limit], away[away > limit], strict=True):
            name = quoted(str(places["place"].iloc[row]))
            words = f"The place lies {distance_in_words(metres)} from where the other records of {name} are."
            _say(found, int(row), Verdict("far from its name", DOUBT, words, "check the letters of the reference"))


# ---- too exact


def _watch_exactness(places: pd.DataFrame, found: _Verdicts) -> None:
    """Points that are the exact middle or corner of a large square, and places to the metre."""
    easting, northing = (places[name].to_numpy(dtype=np.int64) for name in ("easting", "northing"))
    precision, is_point = places["precision_m"].to_numpy(dtype=np.int64), places["is_point"].to_numpy(dtype=bool)
    is_place = places["system"].to_numpy(dtype=np.int64) > 0
    for side in (10_000, 1_000):
        for what, shift in (("middle", side // 2), ("corner", 0)):
            fits = (
                is_place
                & is_point
                & (precision < side)
                & ((easting - shift) % side == 0)
                & ((northing - shift) % side == 0)
            )
            for row in np.flatnonzero(fits):
                words = (
                    f"The point is exactly the {what} of a {side // 1000} km square, "
                    "so the place may be known no better than that."
                )
                _say(
                    found,
                    int(row),
                    Verdict(f"{what} of a square", NOTE, words, f"give the {side // 1000} km reference if so"),
                )
    for row in np.flatnonzero(is_place & (precision <= 1)):
        words = "The place is given to the metre, finer than most devices in the field can tell; it is kept as it is."
        _say(found, int(row), Verdict("very exact", NOTE, words))
