"""Where a record was made: grid references, easting and northing, latitude and longitude, to positions in metres."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import NO_SQUARE
from gapmap.grid.coordinates import Degrees, latlon_text_to_degrees
from gapmap.grid.projections import grid_to_grid, home_of, lonlat_to_grid, utm_zone_of
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import is_inside, unpack
from gapmap.grid.systems import UTM_NORTH, UTM_SOUTH, system_named, system_of
from gapmap.records.verdicts import DOUBT, FINE, NOT_A_RECORD, Verdict, quoted, verdicts_to_frame

#: Columns of a position, with their SQL types.
POSITION = {
    "system": "bigint",
    "easting": "bigint",
    "northing": "bigint",
    "precision_m": "bigint",
    "is_point": "boolean",
}

#: A radius of uncertainty reaches the corners of a square whose side is this many times as long.
RADIUS_TO_SIDE = 2**0.5

#: A number as text_to_number takes it, once it is cleaned.
NUMBER = r"[+-]?\d{1,12}(\.\d*)?(e[+]?\d)?"
#: A number whose commas part its thousands: one to three digits that are not a nought, and three after each.
THOUSANDS = r"[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d*)?(e[+]?\d)?"

_METRES_PER_DEGREE = 111_320.0
_Floats = npt.NDArray[np.float64]
_Keys = npt.NDArray[np.int64]


def reference_positions(texts: Sequence[str], grid: str, zones: Sequence[str]) -> pd.DataFrame:
    """Positions of grid references: the south-west corner and the side of the square each one names.

    Parameters
    ----------
    texts
        References as written; '' where the cell is empty.
    grid, zones
        As settings.AreaSection.

    Returns
    -------
    DataFrame with the columns of POSITION and the verdict on each.
    """
    found = references_to_squares(list(texts), grid, tuple(zones))
    system, side, easting, northing = unpack(found.squares)
    unread = np.flatnonzero(np.asarray(found.squares) == NO_SQUARE)
    code, sentence, suggestion = found.code.copy(), found.sentence.copy(), found.suggestion.copy()
    severity = np.where(code != "", DOUBT, "").astype(object)
    severity[unread] = NOT_A_RECORD
    for row in map(int, unread):
        if not texts[row].strip():
            code[row], sentence[row] = "no place", "The row does not say where the species was found."
            suggestion[row] = "Ask for a grid reference."
        else:
            code[row] = code[row] or "reference"
            suggestion[row] = suggestion[row] or "Ask for the reference again."
    return pd.DataFrame(
        {
            "system": system,
            "easting": easting,
            "northing": northing,
            "precision_m": side,
            "is_point": False,
            "code": code,
            "severity": severity,
            "sentence": sentence,
            "suggestion": suggestion,
        }
    )


def lonlat_positions(frame: pd.DataFrame, grid: str, zones: Sequence[str], *, unit_m: float = 1.0) -> pd.DataFrame:
    """Positions of latitudes and longitudes, as points with the width their uncertainty amounts to.

    Parameters
    ----------
    frame
        Text columns latitude, longitude and uncertainty.
    grid, zones
        As settings.AreaSection; with no grid, each point goes to the grid of the land it lies in, or its UTM zone.
    unit_m
        Metres to one unit of the uncertainty.
    """
    latitudes = latlon_text_to_degrees(frame["latitude"].tolist(), "latitude")
    longitudes = latlon_text_to_degrees(frame["longitude"].tolist(), "longitude")
    latitude, longitude = latitudes.values, longitudes.values
    written = [_written_precision(a, b) for a, b in zip(frame["latitude"], frame["longitude"], strict=True)]
    precision, doubtful = _precision(frame["uncertainty"].tolist(), np.array(written, dtype=np.float64), unit_m)
    usable = np.isfinite(latitude) & np.isfinite(longitude) & ((latitude != 0) | (longitude != 0))
    system = systems_of_points(np.where(usable, longitude, 0.0), np.where(usable, latitude, 0.0), grid, zones)
    easting, northing = _projected(np.where(usable, system, 0), longitude, latitude)
    verdicts = [
        _unread(a, b, latitudes, longitudes, row) if not ok else _lonlat_verdict(a, b, bool(there), bool(odd), u)
        for row, (a, b, ok, there, odd, u) in enumerate(
            zip(
                frame["latitude"],
                frame["longitude"],
                usable,
                np.isfinite(easting),
                doubtful,
                frame["uncertainty"],
                strict=True,
            )
        )
    ]
    return _points(system, easting, northing, precision, verdicts)


def metric_positions(frame: pd.DataFrame, system_key: int, side: int, *, unit_m: float = 1.0) -> pd.DataFrame:
    """Positions of eastings and northings in metres.

    Parameters
    ----------
    frame
        Text columns easting, northing and uncertainty.
    system_key
        Key of their grid system.
    side
        Metres to which the whole file is written: the side of the square that a pair without uncertainty names.
    unit_m
        Metres to one unit of the uncertainty.
    """
    easting = np.array([text_to_number(text) for text in frame["easting"]], dtype=np.float64)
    northing = np.array([text_to_number(text) for text in frame["northing"]], dtype=np.float64)
    precision, doubtful = _precision(frame["uncertainty"].tolist(), np.full(len(frame), float(side)), unit_m)
    inside = is_inside(system_key, easting, northing)
    verdicts = [
        _metric_verdict(e, n, bool(ok), bool(odd), u, system_key)
        for e, n, ok, odd, u in zip(
            frame["easting"], frame["northing"], inside, doubtful, frame["uncertainty"], strict=True
        )
    ]
    result = _points(np.full(len(frame), system_key), np.where(inside, easting, np.nan), northing, precision, verdicts)
    said = np.array([bool(text.strip()) for text in frame["uncertainty"]], dtype=bool)
    result["is_point"] = said | (side == 1)
    return result


def systems_of_points(longitude: _Floats, latitude: _Floats, grid: str, zones: Sequence[str]) -> _Keys:
    """The grid system each point is brought into: the one asked for, or else that of the land it lies in.

    Examples
    --------
    >>> systems_of_points(np.array([-3.2, -6.3, 4.4, 0]), np.array([55.9, 53.3, 50.9, 89]), "", ()).tolist()
    [1, 2, 131, 0]
    """
    if grid in ("british", "irish", "channel", "europe"):
        return np.full(len(longitude), system_named(grid).key, dtype=np.int64)
    is_north = latitude >= 0
    zone = utm_zone_of(longitude, latitude)
    keys = zone + np.where(is_north, UTM_NORTH, UTM_SOUTH) if grid == "utm" else home_of(longitude, latitude)
    allowed = np.array(sorted({int(match[0]) for text in zones if (match := re.match(r"\d+", text.strip()))}))
    if allowed.size and len(keys):
        nearest = allowed[np.abs(longitude[:, None] - (allowed * 6 - 183)).argmin(axis=1)]
        in_utm = nearest + np.where(is_north, UTM_NORTH, UTM_SOUTH)
        keys = np.where((keys > UTM_NORTH) & (zone > 0), in_utm, keys)
    return np.where(zone > 0, keys, 0).astype(np.int64)


def bring_over(frame: pd.DataFrame, system_key: int) -> pd.DataFrame:
    """Positions of other systems brought into one: squares become points as wide as their diagonal.

    Parameters
    ----------
    frame
        Columns of POSITION.
    system_key
        Key of the system to bring them into.

    Returns
    -------
    DataFrame of the same columns and rows; system 0 where a position does not lie in the wanted system.
    """
    result = frame.copy()
    half = np.where(frame["is_point"], 0.0, frame["precision_m"] / 2)
    keys = frame["system"].to_numpy()
    east, north = np.full(len(frame), np.nan), np.full(len(frame), np.nan)
    for key in np.unique(keys):
        own = keys == key
        middle = (frame["easting"].to_numpy() + half)[own], (frame["northing"].to_numpy() + half)[own]
        east[own], north[own] = grid_to_grid(system_of(int(key)), system_of(system_key), *middle)
    there = is_inside(system_key, east, north)
    wide = np.where(frame["is_point"], 1.0, RADIUS_TO_SIDE) * frame["precision_m"]
    result["system"] = np.where(there, system_key, 0)
    result["easting"] = np.floor(np.where(there, east, 0)).astype(np.int64)
    result["northing"] = np.floor(np.where(there, north, 0)).astype(np.int64)
    result["precision_m"] = np.round(wide).astype(np.int64)
    result["is_point"] = True
    return result


def text_to_number(text: str) -> float:
    """A number of metres as people write it; not a number when it is none.

    Examples
    --------
    >>> text_to_number("325 400"), text_to_number("325,400 m"), text_to_number("x")
    (325400.0, 325400.0, nan)
    >>> text_to_number("0,125"), text_to_number("325400,123"), text_to_number("1,250.5")
    (0.125, 325400.123, 1250.5)
    """
    cleaned = re.sub(r"\s+|m(etres?|eters?)?\.?$", "", text.strip().lower().replace("−", "-"))
    cleaned = cleaned.replace(",", "" if re.fullmatch(THOUSANDS, cleaned) else ".")
    return float(cleaned) if re.fullmatch(NUMBER, cleaned) else float("nan")


def _written_precision(latitude: str, longitude: str) -> float:
    """Metres that the last written place of the coarser coordinate amounts to."""
    return max(_step_of_degrees(latitude), _step_of_degrees(longitude))


def _step_of_degrees(text: str) -> float:
    parts = re.findall(r"\d+(?:[.,]\d+)?", text)
    if not parts:
        return 1.0
    decimals = len(re.split(r"[.,]", parts[-1])[1]) if re.search(r"[.,]", parts[-1]) else 0
    return _METRES_PER_DEGREE / 60.0 ** min(len(parts) - 1, 2) / 10.0**decimals


def _precision(texts: Sequence[str], fallback: _Floats, unit_m: float) -> tuple[_Floats, npt.NDArray[np.bool_]]:
    metres = np.array([_uncertainty_to_metres(text, unit_m) for text in texts], dtype=np.float64)
    said = np.array([bool(text.strip()) for text in texts], dtype=bool)
    known = np.isfinite(metres) & (metres > 0)
    wide = np.where(known, np.round(metres * RADIUS_TO_SIDE), np.ceil(fallback))
    return np.clip(wide, 1, 10_000_000), said & ~known


def _uncertainty_to_metres(text: str, unit_m: float) -> float:
    kilometres = re.fullmatch(r"(.*\d)\s*km", text.strip().lower())
    return text_to_number(kilometres[1]) * 1000 if kilometres else text_to_number(text.strip().lstrip("±<~ ")) * unit_m


def _projected(system: _Keys, longitude: _Floats, latitude: _Floats) -> tuple[_Floats, _Floats]:
    east, north = np.full(len(system), np.nan), np.full(len(system), np.nan)
    for key in np.unique(system[system > 0]):
        own = system == key
        east[own], north[own] = lonlat_to_grid(system_of(int(key)), longitude[own], latitude[own])
        own_inside = is_inside(int(key), east[own], north[own])
        east[own] = np.where(own_inside, east[own], np.nan)
    return east, north


def _points(
    system: _Keys, easting: _Floats, northing: _Floats, precision: _Floats, verdicts: Sequence[Verdict]
) -> pd.DataFrame:
    there = np.isfinite(easting) & np.isfinite(northing)
    frame = pd.DataFrame(
        {
            "system": np.where(there, system, 0).astype(np.int64),
            "easting": np.floor(np.where(there, easting, 0)).astype(np.int64),
            "northing": np.floor(np.where(there, northing, 0)).astype(np.int64),
            "precision_m": precision.astype(np.int64),
            "is_point": True,
        }
    )
    return pd.concat([frame, verdicts_to_frame(verdicts)], axis=1)


def _unread(latitude: str, longitude: str, latitudes: Degrees, longitudes: Degrees, row: int) -> Verdict:
    """Why a pair of coordinates is none."""
    if not latitude.strip() and not longitude.strip():
        return Verdict(
            "no place", NOT_A_RECORD, "The row does not say where the species was found.", "Ask for the place."
        )
    said = latitudes if latitudes.code[row] else longitudes
    if not said.code[row]:
        return Verdict(
            "coordinates",
            NOT_A_RECORD,
            "Latitude and longitude are both nought, which devices write when they know no place.",
            "Ask for the place.",
        )
    hint = _with_point(latitude if said is latitudes else longitude) if said.code[row] == "outside-range" else ""
    hint = hint or str(said.suggestion[row]) or "Ask for the place."
    return Verdict("coordinates", NOT_A_RECORD, str(said.sentence[row]), _sentence(hint))


def _with_point(text: str) -> str:
    """What a coordinate may have been before its decimal point was lost: devices write six decimals."""
    lost = re.fullmatch(r"\s*(-?\d{1,3})(\d{6})\s*", text)
    return f"{lost[1]}.{lost[2]}, if the decimal point was left out" if lost else ""


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".") + "."


def _lonlat_verdict(latitude: str, longitude: str, there: bool, odd: bool, uncertainty: str) -> Verdict:
    if not there:
        return Verdict(
            "outside the grid",
            NOT_A_RECORD,
            f"{latitude.strip()}, {longitude.strip()} lies outside the grid of this map.",
            "Check the sign of the longitude, and that latitude and longitude have not changed places.",
        )
    return _uncertainty_verdict(uncertainty) if odd else FINE


def _metric_verdict(easting: str, northing: str, inside: bool, odd: bool, uncertainty: str, system_key: int) -> Verdict:
    if not easting.strip() and not northing.strip():
        return Verdict(
            "no place", NOT_A_RECORD, "The row does not say where the species was found.", "Ask for the place."
        )
    if not inside:
        return Verdict(
            "coordinates",
            NOT_A_RECORD,
            f"{quoted(easting)} and {quoted(northing)} are no easting and northing within "
            f"the {system_of(system_key).title}.",
            "Write both in metres, easting first.",
        )
    return _uncertainty_verdict(uncertainty) if odd else FINE


def _uncertainty_verdict(text: str) -> Verdict:
    return Verdict(
        "uncertainty",
        DOUBT,
        f"{quoted(text)} is no uncertainty in metres; the coordinates are taken as exactly as they are written.",
        "Write the radius in metres as a number.",
    )
