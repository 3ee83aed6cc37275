"""Vice-counties and other counties as outlines that the user gives: does a record lie in the one it names?

No outlines come with gapmap. Any layer of polygons will do whose attributes hold the names or numbers that people
write; `lookups/places.csv` serves where there is no layer.
"""

from __future__ import annotations

import re
from collections import defaultdict
from functools import lru_cache
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gapmap.errors import FileError
from gapmap.grid.systems import System
from gapmap.records.places.measures import boxes, by_system, distance_in_words, metres_outside, texts
from gapmap.records.verdicts import DOUBT, NOTE, Verdict, quoted
from gapmap.settings import Settings

#: Outlines are drawn coarsely: so far outside one a record may still be meant (metres).
NEAR_ENOUGH_M = 500
_ROW_NUMBERS = ("fid", "ogc_fid", "objectid", "gid", "id")


def county_doubts(places: pd.DataFrame, settings: Settings, folder: Path) -> dict[int, Verdict]:
    """What is odd about the counties written beside places.

    Parameters
    ----------
    places
        As `doubts.place_doubts` takes them; nothing is said without a column ``county``.
    settings
        ``[area] vice_counties`` names the layer.
    folder
        The area's folder.

    Returns
    -------
    dict
        By row: a doubt where the place lies outside the county it names, a note where the layer has no such county.

    Raises
    ------
    FileError
        The layer cannot be read, does not say its reference system, or holds no polygon.
    """
    if not settings.area.vice_counties or "county" not in places.columns:
        return {}
    path = folder / settings.area.vice_counties
    written = texts(places, "county")
    found: dict[int, Verdict] = {}
    for system, rows in by_system(places):
        outlines = read_counties(path, system)
        west, south, side = boxes(places, rows)
        shapes = shapely.box(west, south, west + side, south + side)
        named = written.iloc[rows].to_numpy()
        for name in {text for text in named if text}:
            mine = np.flatnonzero(named == name)
            own = [outlines[key] for key in county_keys(name) if key in outlines]
            apart = metres_outside(shapes[mine], own[0]) if own else np.zeros(len(mine))
            for place, metres in zip(mine, apart, strict=True):
                if not own:
                    words = f"{quoted(name)} is no county of {path.name}, so the place was not held against it."
                    found[int(rows[place])] = Verdict("county not known", NOTE, words, "check the name or number")
                elif metres > NEAR_ENOUGH_M:
                    far = distance_in_words(metres)
                    words = f"The place lies {far} outside {quoted(name)}, which is written beside it."
                    found[int(rows[place])] = Verdict("county disagrees", DOUBT, words, "which of the two is right?")
    return found


def county_keys(text: str) -> list[str]:
    """The ways in which a county may be listed, from the way somebody wrote it, the fullest first.

    Examples
    --------
    >>> county_keys("VC83 Midlothian"), county_keys("Midlothian (Edinburgh)"), county_keys("H 21")
    (['vc83 midlothian', '83', 'midlothian'], ['midlothian (edinburgh)', 'midlothian'], ['h 21', 'h21'])
    >>> county_keys("83.0")
    ['83.0', '83']
    """
    whole = " ".join(text.split()).casefold()
    keys = [whole]
    number = re.match(r"(?:v\.?\s?c\.?\s?)?(h?)\s?0*(\d{1,3})(?:\.0)?\b", whole)
    if number:
        keys.append(number[1] + number[2])
    rest = re.sub(r"\(.*?\)", "", whole[number.end() :] if number else whole).strip(" -–:,.")
    trailing = re.search(r"\((?:vc\s?)?(h?\d{1,3})\)", whole)
    keys += [trailing[1]] if trailing else []
    return list(dict.fromkeys(key for key in (*keys, rest) if key))


def read_counties(path: Path, system: System) -> dict[str, shapely.Geometry]:
    """Outlines of counties in the plane of a grid, by every name and number that the layer has for them."""
    try:
        stamp = path.stat().st_mtime_ns
    except OSError as error:
        raise FileError(
            f"The vice-counties {path.name} cannot be read", found=error.strerror, do="check the path in area.toml"
        ) from error
    return _counties(path, stamp, system.epsg)


@lru_cache(maxsize=4)
def _counties(path: Path, stamp: int, epsg: int) -> dict[str, shapely.Geometry]:
    try:
        frame = gpd.read_file(path)
    except Exception as error:
        raise FileError(
            f"The vice-counties {path.name} are no layer that can be read", found=type(error).__name__,
            do="give a GeoPackage, GeoJSON or shapefile of polygons",
        ) from error  # fmt: skip
    if not isinstance(frame, gpd.GeoDataFrame) or frame.crs is None:
        raise FileError(
            f"The vice-counties {path.name} do not say their coordinate reference system",
            do="save them with one, for instance as GeoPackage",
        )
    frame = frame[frame.geom_type.isin(["Polygon", "MultiPolygon"])].to_crs(epsg=epsg)
    if not len(frame):
        raise FileError(
            f"The vice-counties {path.name} hold no area", found="no polygon", do="give a layer of polygons"
        )
    shapes = shapely.make_valid(frame.geometry.to_numpy())
    parts: dict[str, list[shapely.Geometry]] = defaultdict(list)
    attributes = [name for name in frame.columns if name != frame.active_geometry_name]
    labels = [name for name in attributes if _names_each(frame[name])]
    for name in labels:
        for value, shape in zip(frame[name], shapes, strict=True):
            text = "" if value is None or value != value else str(value)
            for key in county_keys(text):
                parts[key].append(shape)
    return {key: shapely.union_all(own) for key, own in parts.items()}


def _names_each(column: pd.Series) -> bool:
    """Whether a column of a layer may name its shapes: texts and whole numbers, but no areas, days or row numbers."""
    if str(column.name).casefold() in _ROW_NUMBERS:
        return False
    if column.dtype.kind == "f":  # whole numbers with a gap among them
        return bool((column.dropna() % 1 == 0).all())
    return column.dtype.kind != "M"
