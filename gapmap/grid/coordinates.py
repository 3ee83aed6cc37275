"""Latitude and longitude as people type them, in degrees: whole columns at a time.

Understood are decimal degrees with point or comma (``55.95``, ``-3,19``) and degrees, minutes and seconds with
any usual signs (``55°57′11″N``, ``W 3 11 20``, ``55:57.2 N``). What could mean two things is a problem.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.grid.tidying import plain_text

Axis = Literal["latitude", "longitude"]

#: Every code, and what it stands for.
CODES = {
    "empty": "the cell is empty",
    "not-a-coordinate": "no number of degrees can be made out",
    "not-a-pair": "a cell that should hold latitude and longitude does not hold two coordinates",
    "hemisphere": "a letter that may mean east or west (O), or two hemispheres at once",
    "sign-and-hemisphere": "a minus sign and a letter for the hemisphere together",
    "other-axis": "a latitude in the column of longitudes, or the other way round",
    "minutes": "minutes or seconds that are not below 60, or that follow broken degrees or minutes",
    "outside-range": "more degrees than there are",
}

_LONGEST_CELL = 120
_LIMIT = {"latitude": 90.0, "longitude": 180.0}
_LETTERS = {"latitude": "NS", "longitude": "EW"}
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?"
_FORM = re.compile(
    rf"(?P<before>[NSEWO])?\s*(?P<sign>[-+])?\s*(?P<degrees>{_NUMBER})\s*(?:°|DEG(?:REES)?\.?|D|:)?\s*"
    rf"(?:(?<=[^0-9.,])(?P<minutes>{_NUMBER})\s*(?P<minute_sign>'(?!')|MIN(?:UTES)?\.?|M|:)?\s*"
    rf"(?:(?<=[^0-9.,])(?P<seconds>{_NUMBER})\s*(?P<second_sign>\"|''|SEC(?:ONDS)?\.?|S)?)?)?"
    r"\s*(?P<after>[NSEWO])?[.,;]?"
)
_SIGNS = str.maketrans({
    "º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "ʹ": "'", "″": '"', "”": '"', "“": '"',
    "ʺ": '"', "−": "-", "–": "-", "—": "-", "\u00a0": " ", "\u2009": " ", "\u202f": " ",
})


@dataclass(frozen=True)
class Degrees:
    """What became of a column of coordinates.

    Parameters
    ----------
    values
        float64 array in degrees, north and east positive; not a number where a value could not be read.
    code, sentence, suggestion
        Object arrays of str, empty where nothing is wrong: a fixed word of CODES, what is wrong, what to do.
    """

    values: npt.NDArray[np.float64]
    code: npt.NDArray[np.object_]
    sentence: npt.NDArray[np.object_]
    suggestion: npt.NDArray[np.object_]


@dataclass(frozen=True)
class _Answer:
    value: float = float("nan")
    code: str = ""
    sentence: str = ""
    suggestion: str = ""


def latlon_text_to_degrees(texts: Iterable[object], axis: Axis) -> Degrees:
    """Read a column of latitudes or of longitudes.

    Parameters
    ----------
    texts
        The cells: text, numbers, or missing.
    axis
        Which of the two the column holds.

    Examples
    --------
    >>> latlon_text_to_degrees(["55.95", "55° 57′ 36″ N", "55,5", -12], "latitude").values.tolist()
    [55.95, 55.96, 55.5, -12.0]
    >>> latlon_text_to_degrees(["3 75 W"], "longitude").sentence[0]
    '3 75 W has minutes or seconds that cannot be (they run from 0 to below 60).'
    """
    cells = pd.Series(texts if isinstance(texts, pd.Series | np.ndarray | list) else list(texts), dtype=object)
    values = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    values[~(np.abs(values) <= _LIMIT[axis])] = np.nan
    code, sentence, suggestion = (np.full(len(values), "", dtype=object) for _ in range(3))
    rows = np.flatnonzero(np.isnan(values))
    seen: dict[str, _Answer] = {}
    for row, cell in zip(rows.tolist(), cells.iloc[rows], strict=True):
        text = "" if pd.isna(cell) else str(cell)
        if text not in seen:
            seen[text] = _answer(text, axis)
        answer = seen[text]
        values[row] = answer.value
        code[row], sentence[row], suggestion[row] = answer.code, answer.sentence, answer.suggestion
    return Degrees(values, code, sentence, suggestion)


def latlon_pairs_to_degrees(texts: Iterable[object]) -> tuple[Degrees, Degrees]:
    """Read a column whose cells hold latitude and longitude together, latitude first.

    Returns
    -------
    Longitudes and latitudes. A trouble with either coordinate of a cell stands in both.

    Examples
    --------
    >>> lon, lat = latlon_pairs_to_degrees(["55.95, -3.19", "55°57'N 3°12'W", "somewhere"])
    >>> lon.values.tolist(), lat.values.tolist()
    ([-3.19, -3.2, nan], [55.95, 55.95, nan])
    >>> lat.code.tolist()
    ['', '', 'not-a-pair']
    """
    cells = ["" if pd.isna(text) else " ".join(str(text).split()) for text in pd.Series(list(texts), dtype=object)]
    pairs = [halves(cell) if len(cell) <= _LONGEST_CELL else ("", "") for cell in cells]
    lat = latlon_text_to_degrees([pair[0] for pair in pairs], "latitude")
    lon = latlon_text_to_degrees([pair[1] for pair in pairs], "longitude")
    for row, (cell, pair) in enumerate(zip(cells, pairs, strict=True)):
        if cell.strip() and pair == ("", ""):
            for side in (lat, lon):
                side.code[row] = "not-a-pair"
                side.sentence[row] = f"{_shown(cell)} does not hold a latitude and a longitude."
                side.suggestion[row] = "write it as in 55.95, -3.19"
        elif lat.code[row] or lon.code[row]:
            ill, well = (lat, lon) if lat.code[row] else (lon, lat)
            well.values[row] = np.nan
            for part in ("code", "sentence", "suggestion"):
                getattr(well, part)[row] = getattr(ill, part)[row]
    return lon, lat


def _answer(text: str, axis: Axis) -> _Answer:
    """One cell that is not a plain number of degrees."""
    shown = _shown(text)
    if not text.strip():
        return _Answer(code="empty", sentence=f"The {axis} is missing.")
    plain = plain_text_of_coordinate(" ".join(text.split())) if len(text) <= _LONGEST_CELL else None
    match = _FORM.fullmatch(plain) if plain is not None else None
    if match is None:
        return _Answer(
            code="not-a-coordinate", sentence=f"{shown} is not a {axis}.",
            suggestion="write decimal degrees, such as 55.95 or -3.19",
        )
    letters = (match["before"] or "") + (match["after"] or "")
    if match["second_sign"] == "S" and not match["after"] and not (match["minute_sign"] or "").startswith("M"):
        letters += "S"  # south, for seconds are only written s after minutes written m
    if len(letters) > 1 or letters == "O":
        return _Answer(
            code="hemisphere", sentence=f"{shown} does not say clearly which hemisphere it lies in ({letters}).",
            suggestion="use one of the letters N, S, E, W, or a minus sign for south and west",
        )
    other: Axis = "longitude" if axis == "latitude" else "latitude"
    if letters and letters in _LETTERS[other]:
        return _Answer(
            code="other-axis", sentence=f"{shown} is a {other} in the column of {axis}s.",
            suggestion="the two columns may have been exchanged",
        )
    return _degrees_of(match, letters, axis, shown)


def _degrees_of(match: re.Match[str], letters: str, axis: Axis, shown: str) -> _Answer:
    parts = [match["degrees"], match["minutes"] or "0", match["seconds"] or "0"]
    degrees, minutes, seconds = (float(part.replace(",", ".")) for part in parts)
    last = 2 if match["seconds"] else 1 if match["minutes"] else 0
    if minutes >= 60 or seconds >= 60 or any("." in part or "," in part for part in parts[:last]):
        return _Answer(
            code="minutes",
            sentence=f"{shown} has minutes or seconds that cannot be (they run from 0 to below 60)."
            if minutes >= 60 or seconds >= 60
            else f"{shown} has minutes or seconds after a fraction of the part before.",
            suggestion="write degrees, minutes and seconds as in 55°57'11\", or decimal degrees alone",
        )
    value = degrees + minutes / 60 + seconds / 3600
    if match["sign"] == "-" and letters:
        return _Answer(
            code="sign-and-hemisphere", sentence=f"{shown} has both a minus sign and the letter {letters}.",
            suggestion=f"perhaps {-value:g} is meant" if letters in "SW" else "leave out one of the two",
        )
    if value > _LIMIT[axis]:
        is_swapped = axis == "latitude" and value <= 180
        return _Answer(
            code="outside-range", sentence=f"{shown} is more than a {axis} can be ({_LIMIT[axis]:g}°).",
            suggestion="latitude and longitude may have been exchanged" if is_swapped
            else "eastings and northings belong into columns of their own",
        )
    is_negative = match["sign"] == "-" or letters in ("S", "W")
    return _Answer(-value if is_negative else value)


def plain_text_of_coordinate(text: str) -> str | None:
    """Capitals, with every kind of prime, degree sign and dash made the usual one; None for other alphabets.

    Examples
    --------
    >>> plain_text_of_coordinate("55° 57′ 11″ n")
    '55° 57\\' 11" N'
    """
    usual = text.translate(_SIGNS)
    parts = [part if part == "°" else plain_text(part) for part in re.split("(°)", usual)]
    return None if None in parts else "".join(part or "" for part in parts).strip().upper()


def halves(cell: str) -> tuple[str, str]:
    """Latitude and longitude of a cell that holds both; empty texts when it cannot be parted.

    Examples
    --------
    >>> halves("55.95, -3.19"), halves("somewhere")
    (('55.95', '-3.19'), ('', ''))
    """
    for pattern in (r"\s*;\s*", r"\s*,\s+", r"(?<=[NSns])[\s,/]+", r"\s*/\s*", r"\s+"):
        parts = [part for part in re.split(pattern, cell.strip()) if part]
        if len(parts) == 2:
            return parts[0], parts[1]
    comma = re.fullmatch(r"\s*([-+]?[0-9]+\.[0-9]+),([-+]?[0-9]+\.[0-9]+)\s*", cell)
    return (comma[1], comma[2]) if comma else ("", "")


def _shown(text: str) -> str:
    one_line = " ".join(text.split())
    return one_line if len(one_line) <= 60 else one_line[:59] + "…"
