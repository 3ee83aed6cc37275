"""References as people type them, made ready for reading: capitals and digits only, as flat bytes.

Spaces, punctuation and case are let go. What they said about the digits is kept: where a gap stands between
two digits, because ``NT 25 773`` must not become a reference by closing up.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import cast

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

Whole = npt.NDArray[np.int64]
Bytes = npt.NDArray[np.uint8]

#: No gap between two digits; more than one.
NO_GAP, MANY_GAPS = -1, -2

_AND_SIGNS = "&+;|"
_UNUSUAL = tuple(sign.encode() for sign in _AND_SIGNS)
_TWO_THINGS = re.compile(rf"[0-9A-Za-z]\s*[{_AND_SIGNS}]\s*[0-9A-Za-z]")
_RANGE = re.compile(r"[0-9]\s*[–—]\s*[0-9]")
_NOT_THERE = re.compile(rb"\s*n\s*[/.\\-]\s*a\W*", re.IGNORECASE)
#: Each byte as a capital or digit, or 0 when it is let go.
_KEEP = bytes(
    ord(sign.upper()) if sign.isascii() and sign.isalnum() else 0 for sign in map(chr, range(256))
)


@dataclass(frozen=True)
class Tidied:
    """A column of references as capitals and digits.

    Parameters
    ----------
    letters
        All of them in one row of ASCII bytes.
    starts, lengths
        Where each value begins in it, and how long it is; the length is -1 where nothing can be read: two
        things in one cell, a letter of another alphabet, or n/a.
    gaps
        Place of the gap between two digits of each value, counted from its start; NO_GAP or MANY_GAPS.
    """

    letters: Bytes
    starts: Whole
    lengths: Whole
    gaps: Whole


def tidy(texts: Iterable[object]) -> Tidied:
    """Make a column of references ready for reading.

    Examples
    --------
    >>> tidied = tidy(["nt 25-77", "", "ＮＴ２７"])
    >>> bytes(tidied.letters), tidied.lengths.tolist(), tidied.gaps.tolist()
    (b'NT2577NT27', [6, 0, 4], [4, -1, -1])
    """
    data, offsets, spoiled = _flat(texts)
    kept = np.frombuffer(data.translate(_KEEP), dtype=np.uint8)
    gaps = np.full(len(offsets) - 1, NO_GAP, dtype=np.int64)
    if kept.all():
        letters, starts, lengths = kept, offsets[:-1], offsets[1:] - offsets[:-1]
    else:
        is_kept = kept > 0
        places = np.flatnonzero(is_kept)
        letters = kept[places]
        bounds = np.concatenate([[0], np.cumsum(is_kept)])[offsets]
        starts, lengths = bounds[:-1], np.diff(bounds)
        _find_gaps(letters, places, starts, gaps)
    for row in np.flatnonzero((lengths == 2) & (np.diff(offsets) > 2)):
        if _NOT_THERE.fullmatch(data[offsets[row] : offsets[row + 1]]):
            lengths[row] = -1
    lengths[spoiled] = -1
    return Tidied(letters, starts, lengths, gaps)


def plain_text(text: str) -> str | None:
    """Full-width letters and digits of any script as ASCII; None when a letter has no such equal.

    Examples
    --------
    >>> plain_text("ＮＴ２７"), plain_text("NТ27")
    ('NT27', None)
    """
    plain = []
    for character in text:
        number = ord(character)
        if number < 128:
            plain.append(character)
        elif 0xFF01 <= number <= 0xFF5E:
            plain.append(chr(number - 0xFEE0))
        elif character.isdecimal():
            plain.append(str(unicodedata.decimal(character)))
        elif character.isalnum():
            return None
        else:
            plain.append(" ")
    return "".join(plain)


def is_two_things(text: str) -> bool:
    """Whether a sign such as & or a dash between digits says that a cell holds two references.

    Examples
    --------
    >>> is_two_things("NT25 & NT26"), is_two_things("NT25;")
    (True, False)
    """
    return bool(_TWO_THINGS.search(text) or _RANGE.search(text))


def _flat(texts: Iterable[object]) -> tuple[bytes, Whole, Whole]:
    """All values in one row of ASCII, the bounds of each in it, and the values that cannot be read."""
    array = _arrow(texts)
    data, offsets = _bytes_of(array)
    if data.isascii() and not any(sign in data for sign in _UNUSUAL):
        return data, offsets, np.array([], dtype=np.int64)
    flat = np.frombuffer(data, dtype=np.uint8)
    unusual = (flat >= 128) | np.isin(flat, np.frombuffer(b"".join(_UNUSUAL), dtype=np.uint8))
    rows = np.unique(np.searchsorted(offsets, np.flatnonzero(unusual), side="right") - 1)
    values = array.to_pylist()
    spoiled = []
    for row in rows.tolist():
        text = values[row]
        plain = plain_text(text)
        if plain is None or is_two_things(text):
            spoiled.append(row)
        values[row] = plain or ""
    data, offsets = _bytes_of(_arrow(values))
    return data, offsets, np.array(spoiled, dtype=np.int64)


def _bytes_of(array: pa.LargeStringArray) -> tuple[bytes, Whole]:
    _, bounds, content = array.buffers()
    offsets = np.frombuffer(bounds, dtype=np.int64)[array.offset : array.offset + len(array) + 1]
    first, last = int(offsets[0]), int(offsets[-1])
    data = content[first:last].to_pybytes() if last > first else b""
    return data, offsets - first


def _arrow(texts: Iterable[object]) -> pa.LargeStringArray:
    """The texts as Arrow strings, empty where a value is missing."""
    values = texts if isinstance(texts, pd.Series | np.ndarray | list) else list(texts)
    if len(values) == 0:
        return pa.array([""], type=pa.large_string()).slice(0, 0)
    try:
        array = pa.array(values, from_pandas=True)
        if not (pa.types.is_string(array.type) or pa.types.is_large_string(array.type)):
            raise pa.ArrowInvalid("not text")
    except (pa.ArrowInvalid, pa.ArrowTypeError):
        array = pa.array(["" if pd.isna(cast(float, value)) else str(value) for value in values])
    if isinstance(array, pa.ChunkedArray):
        array = array.combine_chunks()
    array = array.cast(pa.large_string())
    return array.fill_null("") if array.null_count else array


def _find_gaps(letters: Bytes, places: Whole, starts: Whole, gaps: Whole) -> None:
    """Write into gaps where two digits of a value were apart."""
    is_digit = letters < 58
    apart = is_digit[1:] & is_digit[:-1] & (places[1:] - places[:-1] > 1)
    after = np.flatnonzero(apart) + 1
    rows = np.searchsorted(starts, after, side="right") - 1
    within = after > starts[rows]
    after, rows = after[within], rows[within]
    gaps[rows] = after - starts[rows]
    gaps[rows[1:][rows[1:] == rows[:-1]]] = MANY_GAPS
