"""Which columns of a file say where a record was made, and in which grid."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pandas as pd

from gapmap.grid.coordinates import Axis, latlon_text_to_degrees
from gapmap.records.database import first_row
from gapmap.records.files.raw import is_blank
from gapmap.records.in_hand import FileInHand
from gapmap.records.lookups import Lookup
from gapmap.records.places.doubts import place_doubts
from gapmap.records.places.lettered import lettered_positions
from gapmap.records.places.metres import look_up_metres, unit_of
from gapmap.records.places.other_grid import say_other_grid
from gapmap.records.places.pairs import place_positions
from gapmap.records.places.positions import (
    POSITION,
    lonlat_positions,
    reference_positions,
)
from gapmap.settings import Settings

_AXES: tuple[Axis, Axis] = ("latitude", "longitude")
#: What a header of coordinates may say before its S or W.
_MEASURED = frozenset(
    ("lat", "latitude", "lats", "latitudes", "lon", "long", "lng", "longitude", "gps", "verbatim", "decimal", "dec",
     "deg", "degree", "degrees", "wgs")
)  # fmt: skip


def find_places(file: FileInHand, settings: Settings) -> list[Lookup]:
    """Resolve the columns of the place: the reference first, coordinates where it is empty.

    Returns
    -------
    list of Lookup
        With the columns of POSITION, in the order in which they are to be believed.

    Raises
    ------
    ColumnError
        There are eastings and northings, and nothing says in which grid.
    """
    grid, zones, columns = settings.area.grid, settings.area.zones, file.columns
    lookups, where = [], "true"
    if "reference" in columns:
        has_other = {"easting", "northing"} <= columns.index.keys() or {"latitude", "longitude"} <= columns.index.keys()
        reference = file.cell("reference")
        if "zone" in columns:
            is_bare = f"regexp_matches({reference}, '^[A-Za-z]')"
            reference = f"(case when {is_bare} then {file.cell('zone')} || {reference} else {reference} end)"
        own = (reference, columns.header("reference"))
        spare = [(f"raw.c{column}", columns.headers[column]) for column in columns.spare]
        filled = [own, *spare] if spare or has_other else []
        for number, (cell, header) in enumerate(filled if has_other else [*filled, own]):
            is_filled = f"{where} and not {is_blank(cell)}" if number < len(filled) else where
            lookups.append(
                file.look_up(
                    f"reference_{number}",
                    {"reference": cell},
                    POSITION,
                    lambda keys: place_positions(keys["reference"].tolist(), grid, zones),
                    header,
                    is_filled,
                )
            )
            where = f"{where} and {is_blank(cell)}"
    if {"letters", "easting", "northing"} <= columns.index.keys():
        parts = ("letters", "easting", "northing")
        lookups.append(
            file.look_up(
                "lettered",
                {m: file.cell(m) for m in parts},
                POSITION,
                lambda keys: lettered_positions(keys, grid, zones),
                ", ".join(columns.header(m) for m in parts),
                where,
            )
        )
    elif {"latitude", "longitude"} <= columns.index.keys():
        _compare_coordinates(file, grid, zones)
        only_metres = _has_only_metres(file, where)
        lookups.append(
            file.look_up(
                "lonlat",
                {**{m: _with_side(file, m) for m in _AXES}, "uncertainty": file.cell("uncertainty")},
                POSITION,
                lambda keys: lonlat_positions(keys, grid, zones, unit_m=unit_of(file)),
                f"{columns.header('latitude')}, {columns.header('longitude')}",
                f"{where} and not ({only_metres})" if only_metres else where,
            )
        )
        if only_metres:
            lookups.append(look_up_metres(file, settings, f"{where} and {only_metres}"))
    elif {"easting", "northing"} <= columns.index.keys():
        lookups.append(look_up_metres(file, settings, where))
    return lookups


def _has_only_metres(file: FileInHand, where: str) -> str:
    """SQL: whether a row has easting and northing and neither coordinate; '' where no row is so."""
    if not {"easting", "northing"} <= file.columns.index.keys():
        return ""
    filled = [f"not {is_blank(file.cell(meaning))}" for meaning in ("easting", "northing")]
    is_so = " and ".join([*(is_blank(file.cell(axis)) for axis in _AXES), *filled])
    found = first_row(file.connection, f"select count(*) > 0 from {file.rows} raw where {where} and {is_so}")
    return is_so if found[0] else ""


def _compare_coordinates(file: FileInHand, grid: str, zones: Sequence[str]) -> None:
    """Say where the coordinates beside a reference do not lie in its square."""
    if "reference" not in file.columns:
        return
    meanings = ("reference", "latitude", "longitude")

    def compare(keys: pd.DataFrame) -> pd.DataFrame:
        places = reference_positions(keys["reference"].tolist(), grid, zones)
        for name in _AXES:
            places[name] = latlon_text_to_degrees(keys[name].tolist(), name).values
        return place_doubts(places[[*POSITION, "latitude", "longitude"]], Settings())

    both = " and ".join(f"not {is_blank(file.cell(meaning))}" for meaning in meanings)
    header = f"{file.columns.header('latitude')}, {file.columns.header('longitude')}"
    beside = file.look_up("beside", {meaning: file.cell(meaning) for meaning in meanings}, {}, compare, header, both)
    say_other_grid(file, beside, grid, zones, file.columns.header("reference"))


def _with_side(file: FileInHand, axis: Axis) -> str:
    """SQL: a coordinate with the W or S that only its header says."""
    cell, letter = file.cell(axis), _side_in_header(file.columns.header(axis), axis)
    if not letter:
        return cell
    return f"(case when regexp_matches({cell}, '^\\s*\\d[^A-Za-z]*$') then {cell} || ' {letter}' else {cell} end)"


def _side_in_header(header: str, axis: Axis) -> str:
    """S or W where a header ends in it and says nothing besides but what is measured; '' otherwise.

    Examples
    --------
    >>> [_side_in_header(header, "longitude") for header in ("Long (W)", "Longitude West", "Longitude (W negative)")]
    ['W', 'W', '']
    >>> [_side_in_header(header, "latitude") for header in ("Lat. S", "Latitude (N/S)", "Latitude (deg, min, s)")]
    ['S', '', '']
    """
    side = {"latitude": ("s", "south"), "longitude": ("w", "west")}[axis]
    parted = re.sub(r"(latitude)(?=south\b)|(longitude|long?)(?=w(?:est)?\b)", r"\1\2 ", header.lower())
    *before, last = re.sub(r"[\W\d_]+", " ", parted).split() or [""]
    is_signed = re.search(r"(?:^|[\s(\[{/])[-+−±]\w+\W*$", header) is not None
    return side[0].upper() if last in side and _MEASURED.issuperset(before) and not is_signed else ""
