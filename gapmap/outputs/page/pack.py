"""Columns of numbers and texts packed into one small block.

Whole numbers are cut into planes of a few bits (:mod:`gapmap.outputs.page.planes`); numbers with a sign are folded
(0, -1, 1, -2 …). A column may be kept by what is known already: its rows sorted by another column, each number as
the step from the usual one among its like. What depends on the other column altogether then takes no room, and what
depends on it in part takes less; a column is kept so only where that is smaller. Texts are sentences and their
numbers (:mod:`gapmap.outputs.page.sentences`). Every plane is deflated in the way that suits it, in pieces of rows
that are alike, and the pieces are joined to one zlib stream.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.outputs.page.planes import WIDTHS, Bytes, Whole, fold_signs, groups_of, usual_of, wholes_to_planes
from gapmap.outputs.page.sentences import clean, texts_to_sentences

#: Joins the names of two columns by which a third is kept.
BOTH = "+"
#: Fewest bytes of a piece that is deflated apart, and about what its own table of codes takes.
_LEAST_PIECE, _TABLE = 1200, 60
#: Bytes of a piece on which both ways of deflating it are tried.
_SAMPLE = 16_384
_STRATEGIES = (zlib.Z_DEFAULT_STRATEGY, zlib.Z_HUFFMAN_ONLY)
#: Most planes of less than a byte, and how much more the second way may seem to take to be tried beside the first.
_MOST_PLANES, _CLOSE = 5, 1.1


@dataclass(frozen=True)
class _Part:
    """A column's bytes, and the same deflated."""

    plain: bytes
    pressed: bytes


@dataclass(frozen=True)
class _Way:
    """A way to keep numbers: planes cut in pieces, and about how many bytes they take with the usual numbers."""

    pieces: list[Bytes]
    width: int
    planes: int
    size: float
    spent: float
    given: str = ""
    usual: Whole | None = None


@dataclass
class Block:
    """Columns in the order they are added; ``manifest`` tells the page how each is kept.

    Examples
    --------
    >>> block = Block()
    >>> block.add("visits", [3, 0, 12])
    >>> block.add_texts("reason", ["5 of 12 species", "7 of 12 species", ""])
    >>> [entry[0] for entry in block.manifest]
    ['visits', 'reason.forms', 'reason.form', 'reason.number.0', 'reason.number.1']
    >>> block.manifest[0]
    ['visits', 'whole', 3, 4, 1]
    """

    manifest: list[list[object]] = field(default_factory=list)
    _parts: list[_Part] = field(default_factory=list)
    _known: dict[str, Whole] = field(default_factory=dict)

    def know(self, name: str, values: npt.ArrayLike) -> None:
        """Name numbers that the page works out for itself, so that columns can be kept by them."""
        self._known[name] = np.asarray(values, dtype=np.int64)

    def add(self, name: str, values: npt.ArrayLike, *given: str) -> None:
        """Add whole numbers from 0 up.

        ``given`` names columns known by then, or two joined by ``+``, by which this one may be kept.
        """
        self._put_numbers(name, "whole", np.asarray(values, dtype=np.int64), given)

    def add_ordered(self, name: str, values: npt.ArrayLike, begins: npt.ArrayLike) -> None:
        """Add whole numbers from 0 up of which those from one beginning to the next are alike."""
        numbers = np.asarray(values, dtype=np.int64)
        self._put(name, "whole", _ways(numbers, np.asarray(begins)), numbers.size)

    def add_signed(self, name: str, values: npt.ArrayLike) -> None:
        """Add whole numbers of either sign."""
        self._put_numbers(name, "signed", fold_signs(values))

    def add_decimals(self, name: str, values: npt.ArrayLike, scale: int, *given: str) -> None:
        """Add numbers from 0 up kept to one part in ``scale``; empty ones (NaN) stay empty."""
        numbers = np.asarray(values, dtype=np.float64)
        whole = np.where(np.isfinite(numbers), np.rint(np.nan_to_num(numbers) * scale) + 1, 0).astype(np.int64)
        self._put_numbers(name, f"decimal/{scale}", whole, given)

    def add_strings(self, name: str, values: Iterable[str]) -> None:
        """Add a list of texts as they are, control characters apart."""
        self._put_strings(name, [clean(text) for text in values])

    def add_texts(
        self, name: str, values: Sequence[str] | pd.Series, *given: str, beside: Mapping[str, Whole] | None = None
    ) -> None:
        """Add texts of which many are alike but for their numbers.

        ``beside`` names columns of whole numbers, as long as the texts, that the page has anyway.
        """
        forms, form, numbers = texts_to_sentences(values, beside)
        self._put_strings(f"{name}.forms", forms)
        self.add(f"{name}.form", form, *given)
        by = (f"{name}.form", *(f"{name}.form{BOTH}{each}" for each in given if BOTH not in each))
        for hole, column in enumerate(numbers.T):
            self.add(f"{name}.number.{hole}", column, *by)

    def to_bytes(self, *before: bytes) -> bytes:
        """The whole block as one zlib stream (RFC 1950), after whatever is to stand before it."""
        parts = [*map(_pressed, before), *self._parts]
        check = 1
        for part in parts:
            check = zlib.adler32(part.plain, check)
        end = zlib.compressobj(9, zlib.DEFLATED, -15).flush()
        return b"".join((b"\x78\xda", *(part.pressed for part in parts), end, check.to_bytes(4, "big")))

    def size(self) -> int:
        """Bytes of the block before it is deflated."""
        return sum(len(part.plain) for part in self._parts)

    def _put_strings(self, name: str, texts: list[str]) -> None:
        packed = json.dumps(texts, ensure_ascii=False, separators=(",", ":")).encode()
        self.manifest.append([name, "strings", len(packed)])
        self._parts.append(_pressed(packed))

    def _put_numbers(self, name: str, kind: str, numbers: Whole, given: Sequence[str] = ()) -> None:
        self._known[name] = numbers
        ways = [*_ways(numbers), *(way for each in given for way in self._by(each, numbers))]
        self._put(name, kind, ways, numbers.size)

    def _put(self, name: str, kind: str, ways: list[_Way], count: int) -> None:
        """Keep numbers in the smallest way: the likeliest are tried."""
        ways = sorted(ways, key=lambda way: way.size)
        likeliest = [way for way in ways[:2] if way.size <= ways[0].size * _CLOSE]
        tried = [(way, _pressed(*(piece.tobytes() for piece in way.pieces))) for way in likeliest]
        way, part = min(tried, key=lambda each: each[0].spent + len(each[1].pressed))
        if way.usual is not None:
            self._put_numbers(f"{name}.usual", "signed", fold_signs(np.diff(way.usual, prepend=0)))
        self.manifest.append([name, kind, count, way.width, way.planes, *([way.given] if way.given else [])])
        self._parts.append(part)

    def _by(self, given: str, numbers: Whole) -> Iterator[_Way]:
        """The numbers sorted by a known column, as they are and as steps from the usual one."""
        groups = groups_of(self._key(given))
        ordered = numbers[groups.order]
        usual = usual_of(ordered, groups)
        yield from _ways(ordered, groups.begins, given)
        yield from _ways(fold_signs(ordered - usual[groups.group]), groups.begins, given, usual)

    def _key(self, given: str) -> Whole:
        first, *second = (self._known[name] for name in given.split(BOTH))
        return first * (int(second[0].max(initial=0)) + 1) + second[0] if second else first


def _ways(numbers: Whole, begins: npt.ArrayLike = (), given: str = "", usual: Whole | None = None) -> list[_Way]:
    """The numbers in planes of each width; about how many bytes they take is told by the frequencies of bytes."""
    spent = 0.0 if usual is None else _entropy(wholes_to_planes(fold_signs(np.diff(usual, prepend=0)), 4)) + _TABLE
    ways = []
    for width in WIDTHS:
        planes = wholes_to_planes(numbers, width)
        if len(planes) <= _MOST_PLANES or width == WIDTHS[-1]:
            cut = [_cut(plane, np.asarray(begins, dtype=np.int64) * width // 8) for plane in planes]
            pieces = [piece for pieces, _ in cut for piece in pieces]
            ways.append(_Way(pieces, width, len(planes), spent + sum(size for _, size in cut), spent, given, usual))
    return ways


def _cut(plane: Bytes, cuts: Whole) -> tuple[list[Bytes], float]:
    """The plane in pieces, or whole where that is smaller, and about how many bytes it takes."""
    whole = _entropy([plane]) + _TABLE
    ends = [0]
    for cut in cuts.tolist():
        if cut - ends[-1] >= _LEAST_PIECE and plane.size - cut >= _LEAST_PIECE:
            ends.append(cut)
    pieces = [plane[begin:end] for begin, end in zip(ends, [*ends[1:], plane.size], strict=True)]
    apart = _entropy(pieces) + _TABLE * len(pieces)
    return (pieces, apart) if apart < whole else ([plane], whole)


def _entropy(pieces: Sequence[Bytes]) -> float:
    """Bytes that pieces take when each byte takes as many bits as its frequency in its piece tells."""
    bits = 0.0
    for piece in pieces:
        counts = np.bincount(piece, minlength=1)
        counts = counts[counts > 0]
        bits += float(counts @ np.log2(piece.size / counts)) if piece.size else 0.0
    return bits / 8


def _pressed(*plain: bytes) -> _Part:
    """Bytes deflated piece by piece, each by the smaller of two ways and with codes of its own.

    A part ends on a whole byte and refers to nothing before it, so parts can follow each other. Numbers without
    repeats are smaller, and ten times quicker, when only their frequencies are used; which way suits a large piece is
    tried on its beginning.
    """
    alike = groupby(plain, key=_strategy)
    return _Part(b"".join(plain), b"".join(_deflated(pieces, strategy) for strategy, pieces in alike))


def _strategy(piece: bytes) -> int:
    return min(_STRATEGIES, key=lambda strategy: len(_deflated([piece[:_SAMPLE]], strategy, level=1)))


def _deflated(plain: Iterable[bytes], strategy: int, level: int = 6) -> bytes:
    press = zlib.compressobj(level, zlib.DEFLATED, -15, 9, strategy)
    pieces = [press.compress(piece) + press.flush(zlib.Z_BLOCK) for piece in plain]
    return b"".join(pieces) + press.flush(zlib.Z_FULL_FLUSH)
