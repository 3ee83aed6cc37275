"""Columns of numbers and texts packed into one small block, and read back.

Whole numbers are written in base 128, seven bits a byte, the lowest first, the eighth bit saying that more
follow; sorted numbers as the gaps between them; numbers with a sign folded (0, -1, 1, -2 …). A column of texts
is a list of the different sentences, with their whole numbers lifted out, and the numbers beside it: "5 of 12
species" and "7 of 12 species" are one sentence. Each column is deflated in the way that suits it, and the pieces
are joined to one zlib stream. A number that stands in another column anyway is not kept a second time: the
sentence names the column.
"""

from __future__ import annotations

import base64
import json
import re
import zlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

Whole = npt.NDArray[np.int64]
#: Stands in a sentence for a whole number lifted out of it; taken out of every text that comes in.
HOLE = "\x01"
#: Stands around the name of the column whose number belongs in a sentence; taken out of every text too.
BESIDE = "\x02"
_NUMBER = re.compile(r"(?<![0-9])(?:0|[1-9][0-9]{0,7})(?![0-9])")
#: Bytes of a piece on which both ways of deflating it are tried.
_SAMPLE = 32_768
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f]")


def wholes_to_bytes(values: npt.ArrayLike) -> bytes:
    """Write whole numbers from 0 up in base 128.

    Parameters
    ----------
    values
        Array (n,) of numbers from 0 to 2**53.

    Raises
    ------
    ValueError
        A number is negative.

    Examples
    --------
    >>> wholes_to_bytes([1, 127, 128, 300]).hex(" ")
    '01 7f 80 01 ac 02'
    >>> wholes_to_bytes([])
    b''
    """
    numbers = np.asarray(values, dtype=np.int64)
    if numbers.size == 0:
        return b""
    if numbers.min() < 0:
        raise ValueError("only numbers from 0 up can be packed")
    lengths = np.ones(numbers.size, dtype=np.int64)
    rest = numbers >> 7
    while rest.any():
        lengths += rest > 0
        rest >>= 7
    starts = np.cumsum(lengths) - lengths
    packed = np.zeros(int(lengths.sum()), dtype=np.uint8)
    for place in range(int(lengths.max())):
        has = lengths > place
        digit = (numbers[has] >> (7 * place)) & 127
        packed[starts[has] + place] = digit | np.where(lengths[has] > place + 1, 128, 0)
    return packed.tobytes()


def bytes_to_wholes(packed: bytes) -> Whole:
    """Read numbers written by :func:`wholes_to_bytes`.

    Examples
    --------
    >>> bytes_to_wholes(bytes.fromhex("017f8001ac02"))
    array([  1, 127, 128, 300])
    """
    digits = np.frombuffer(packed, dtype=np.uint8).astype(np.int64)
    if digits.size == 0:
        return np.zeros(0, dtype=np.int64)
    ends = np.flatnonzero(digits < 128)
    starts = np.concatenate(([0], ends[:-1] + 1))
    place = np.arange(digits.size) - np.repeat(starts, ends - starts + 1)
    return np.add.reduceat((digits & 127) << (7 * place), starts)


def fold_signs(values: npt.ArrayLike) -> Whole:
    """Numbers with a sign as numbers from 0 up: 0, -1, 1, -2 … become 0, 1, 2, 3 …"""
    numbers = np.asarray(values, dtype=np.int64)
    return (numbers << 1) ^ (numbers >> 63)


def gaps(sorted_values: npt.ArrayLike) -> Whole:
    """First value, then the difference of each to the one before."""
    numbers = np.asarray(sorted_values, dtype=np.int64)
    return np.diff(numbers, prepend=np.int64(0))


@dataclass
class Block:
    """Columns in the order they are added; ``manifest`` tells the page where each begins.

    Examples
    --------
    >>> block = Block()
    >>> block.add("visits", [3, 0, 12])
    >>> block.add_texts("reason", ["5 of 12 species", "7 of 12 species", ""])
    >>> block.manifest[1][:2], len(block.manifest)
    (['reason.forms', 'strings'], 4)
    """

    manifest: list[list[object]] = field(default_factory=list)
    _parts: list[bytes] = field(default_factory=list)
    _decimals: dict[str, npt.NDArray[np.float64]] = field(default_factory=dict)

    def add(self, name: str, values: npt.ArrayLike) -> None:
        """Add whole numbers from 0 up."""
        self._put(name, "whole", wholes_to_bytes(values))

    def add_signed(self, name: str, values: npt.ArrayLike) -> None:
        """Add whole numbers of either sign."""
        self._put(name, "signed", wholes_to_bytes(fold_signs(values)))

    def add_bytes(self, name: str, values: npt.ArrayLike) -> None:
        """Add numbers from 0 to 255."""
        self._put(name, "bytes", np.asarray(values, dtype=np.uint8).tobytes())

    def add_decimals(self, name: str, values: npt.ArrayLike, scale: int, near: str = "") -> None:
        """Add numbers from 0 up kept to one part in ``scale``; empty ones (NaN) stay empty.

        With ``near``, the name of a column of decimals already added that is nowhere empty where this one is
        not, the steps from it are kept, which are small.
        """
        numbers = np.asarray(values, dtype=np.float64)
        known = np.isfinite(numbers)
        whole = np.zeros(numbers.size, dtype=np.int64)
        steps = np.rint(numbers[known] * scale).astype(np.int64)
        if near:
            steps = fold_signs(steps - np.rint(self._decimals[near][known] * scale).astype(np.int64))
        whole[known] = steps + 1
        self._decimals[name] = np.where(known, np.rint(numbers * scale) / scale, np.nan)
        self._put(name, f"decimal/{scale}" + (f"/{near}" if near else ""), wholes_to_bytes(whole))

    def add_strings(self, name: str, values: Iterable[str]) -> None:
        """Add a list of texts as they are, control characters apart."""
        self._put_strings(name, [clean(text) for text in values])

    def add_texts(
        self, name: str, values: Sequence[str] | pd.Series, beside: Mapping[str, Whole] | None = None
    ) -> None:
        """Add texts of which many are alike but for their numbers.

        ``beside`` names columns of whole numbers, as long as the texts, that the page has anyway.
        """
        codes, different = pd.factorize(pd.Series(values, dtype=object).fillna("").astype(str))
        lifted = [_lift_numbers(clean(text)) for text in different]
        forms = np.array([form for form, _ in lifted], dtype=object)[codes] if len(codes) else np.zeros(0, object)
        numbers = [lifted[code][1] for code in codes]
        if beside:
            forms, numbers = _numbers_beside(forms, numbers, beside)
        places, shapes = pd.factorize(pd.Series(forms, dtype=object))
        self._put_strings(f"{name}.forms", [str(form) for form in shapes])
        self.add(f"{name}.form", places)
        self.add(f"{name}.numbers", [number for row in numbers for number in row])

    def to_text(self) -> str:
        """The whole block, deflated, as base64."""
        return base64.b64encode(_deflate(self._parts)).decode("ascii")

    def _put_strings(self, name: str, texts: list[str]) -> None:
        self._put(name, "strings", json.dumps(texts, ensure_ascii=False).encode())

    def _put(self, name: str, kind: str, packed: bytes) -> None:
        self.manifest.append([name, kind, len(packed)])
        self._parts.append(packed)


def _deflate(parts: list[bytes]) -> bytes:
    """One zlib stream (RFC 1950) whose pieces were deflated apart, each by the smaller of two ways.

    A piece ends on a whole byte and refers to nothing before it, so pieces can follow each other. Numbers without
    repeats are smaller, and ten times quicker, when only their frequencies are used; which way suits a large piece is
    tried on its beginning.
    """
    check = 1
    pieces = [b"\x78\xda"]
    for part in parts:
        check = zlib.adler32(part, check)
        sample = part[:_SAMPLE]
        ways = {way: _piece(sample, way) for way in (zlib.Z_DEFAULT_STRATEGY, zlib.Z_HUFFMAN_ONLY)}
        best = min(ways, key=lambda way: len(ways[way]))
        pieces.append(ways[best] if len(part) <= _SAMPLE else _piece(part, best))
    last = zlib.compressobj(9, zlib.DEFLATED, -15).flush()
    return b"".join((*pieces, last, check.to_bytes(4, "big")))


def _piece(part: bytes, strategy: int) -> bytes:
    press = zlib.compressobj(6, zlib.DEFLATED, -15, 9, strategy)
    return press.compress(part) + press.flush(zlib.Z_FULL_FLUSH)


def clean(text: str) -> str:
    """Text without control characters (a line break stays) and without halves of characters."""
    return _CONTROL.sub(" ", text).encode("utf-8", "replace").decode("utf-8")


def _lift_numbers(text: str) -> tuple[str, list[int]]:
    return _NUMBER.sub(HOLE, text), [int(digits) for digits in _NUMBER.findall(text)]


def _numbers_beside(
    forms: npt.NDArray[np.object_], numbers: list[list[int]], beside: Mapping[str, Whole]
) -> tuple[npt.NDArray[np.object_], list[list[int]]]:
    """Name a column in place of each number that stands in it; the numbers that are left are kept."""
    forms, numbers = forms.copy(), list(numbers)
    for form in pd.unique(pd.Series(forms, dtype=object)):
        rows = np.flatnonzero(forms == form)
        table = np.array([numbers[row] for row in rows], dtype=np.int64).reshape(len(rows), -1)
        named = [_column_of(table[:, hole], rows, beside) for hole in range(table.shape[1])]
        pieces = str(form).split(HOLE)
        fits = np.stack([fit for _, fit in named], axis=1) if named else np.zeros((len(rows), 0), dtype=bool)
        for fit in np.unique(fits, axis=0):
            alike = (fits == fit).all(axis=1)
            marks = [f"{BESIDE}{name}{BESIDE}" if is_there else HOLE
                     for (name, _), is_there in zip(named, fit, strict=True)]
            forms[rows[alike]] = pieces[0] + "".join(mark + rest for mark, rest in zip(marks, pieces[1:], strict=True))
            for row, left in zip(rows[alike], table[alike][:, ~fit].tolist(), strict=True):
                numbers[row] = left
    return forms, numbers


def _column_of(values: Whole, rows: Whole, beside: Mapping[str, Whole]) -> tuple[str, npt.NDArray[np.bool_]]:
    """The column that holds most of these numbers, and where it does; none that holds fewer than half of them."""
    fits = {name: column[rows] == values for name, column in beside.items()}
    name = max(fits, key=lambda each: int(fits[each].sum()))
    return name, fits[name] & (2 * int(fits[name].sum()) >= len(rows))
