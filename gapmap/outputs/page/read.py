"""Read back what a page holds: for tests, and to see what a page gives away."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from gapmap.outputs.page.pack import BOTH
from gapmap.outputs.page.planes import Whole, groups_of, planes_to_wholes, text_to_bytes, unfold_signs
from gapmap.outputs.page.sentences import BESIDE, HOLE

#: A column as it is read back.
Read = Whole | npt.NDArray[np.float64] | list[str]
_MARK = re.compile(f"({HOLE}|{BESIDE}[^{BESIDE}]*{BESIDE})")
_PACKED = re.compile(
    r'<script type="text/plain" id="packed" data-bytes="(\d+)" data-parts="([\d ]+)">(.*?)</script>', re.DOTALL
)


def page_to_columns(text: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Read facts and columns back out of a written page.

    Parameters
    ----------
    text
        The page's HTML.

    Returns
    -------
    dict, dict
        The facts, and the columns by name. ``found.species`` and ``found.classes`` (a bit set) hold a number
        for each species of each square, square by square, ``found.count`` of them for each.
    """
    _, _, told, kept = page_to_parts(text)
    facts = json.loads(told)
    columns = Columns(facts["columns"], kept)
    found = columns.all()
    if "found.count" in found:
        found["found.species"] = columns.known("found.species")
        del found["found.gap"]
    if "expected.count" in found:
        found["expected.chance_if_visited"] = columns.known("expected.percent") / 100
        found["expected.found_before"] = found["expected.years"][found["expected.year"]]
    return facts, found


def page_to_parts(text: str) -> list[bytes]:
    """What is packed in a written page: its style, its script, its facts as JSON, and the bytes of its columns."""
    length, lengths, packed = _PACKED.findall(text)[0]
    whole = zlib.decompress(text_to_bytes(packed, int(length)))
    ends = np.cumsum([int(each) for each in lengths.split()]).tolist()
    return [whole[begin:end] for begin, end in zip([0, *ends[:-1]], ends, strict=True)]


def read_block(manifest: Sequence[Sequence[object]], packed: bytes) -> dict[str, Read]:
    """Read back what a block holds, by column name.

    Parameters
    ----------
    manifest, packed
        ``Block.manifest`` and ``Block.to_bytes()``.

    Examples
    --------
    >>> from gapmap.outputs.page.pack import Block
    >>> block = Block()
    >>> block.add("visits", [3, 0, 12])
    >>> block.add_texts("reason", ["5 of 12 species", "7 of 12 species", ""])
    >>> read = read_block(block.manifest, block.to_bytes())
    >>> read["visits"].tolist(), read["reason"]
    ([3, 0, 12], ['5 of 12 species', '7 of 12 species', ''])
    """
    return Columns(manifest, zlib.decompress(packed)).all()


class Columns:
    """Columns by name, each read when it is asked for."""

    def __init__(self, manifest: Sequence[Sequence[object]], whole: bytes) -> None:
        self._parts: dict[str, tuple[list[Any], bytes]] = {}
        self._read: dict[str, Whole] = {}
        start = 0
        for name, *how in manifest:
            end = start + _length(how)
            self._parts[str(name)] = how, whole[start:end]
            start = end

    def all(self) -> dict[str, Any]:
        """Every column; sentences and their numbers joined to texts."""
        found: dict[str, Any] = {}
        for name in self._parts:
            if name.endswith(".forms"):
                found[name.removesuffix(".forms")] = self._texts(name.removesuffix(".forms"))
            elif not re.search(r"\.(form|usual|number\.\d+)$|^growth\.earlier", name):
                found[name] = self.get(name)
        return found

    def get(self, name: str) -> Read:
        """One column."""
        (kind, *_), part = self._parts[name]
        if kind == "strings":
            strings: list[str] = json.loads(part)
            return strings
        numbers = self.codes(name)
        if kind == "signed":
            return unfold_signs(numbers)
        how, _, scale = str(kind).partition("/")
        return np.where(numbers > 0, (numbers - 1) / int(scale), np.nan) if how == "decimal" else numbers

    def codes(self, name: str) -> Whole:
        """The whole numbers a column of numbers is kept as."""
        if name not in self._read:
            (_, count, width, _, *given), part = self._parts[name]
            numbers = planes_to_wholes(part, count, width)
            self._read[name] = self._put_back(name, numbers, given[0]) if given else numbers
        return self._read[name]

    def _put_back(self, name: str, ordered: Whole, given: str) -> Whole:
        """Numbers kept sorted by a known column, in the order of their rows again."""
        groups = groups_of(self.known(given))
        if f"{name}.usual" in self._parts:
            usual = np.cumsum(np.asarray(self.get(f"{name}.usual"), dtype=np.int64))
            ordered = usual[groups.group] + unfold_signs(ordered)
        numbers = np.empty_like(ordered)
        numbers[groups.order] = ordered
        return numbers

    def known(self, name: str) -> Whole:
        """Numbers by which columns are kept: a column, two joined, or what is worked out from others."""
        first, *second = name.split(BOTH)
        if second:
            other = self.known(second[0])
            return self.known(first) * (int(other.max(initial=0)) + 1) + other
        work = _WORKED_OUT.get(name.partition(":")[0])
        if work is None:
            return self.codes(name)
        if name not in self._read:
            self._read[name] = work(self, int(name.partition(":")[2] or 0))
        return self._read[name]

    def _texts(self, name: str) -> list[str]:
        forms = self.get(f"{name}.forms")
        pieces = [_MARK.split(str(form)) for form in forms]
        is_hole = re.compile(rf"{re.escape(name)}\.number\.\d+")
        holes = [self.codes(each) for each in self._parts if is_hole.fullmatch(each)]
        return [
            "".join(self._pieces(pieces[code], row, [column[row] for column in holes]))
            for row, code in enumerate(self.codes(f"{name}.form").tolist())
        ]

    def _pieces(self, pieces: list[str], row: int, numbers: list[int]) -> list[str]:
        left = iter(numbers)
        return [
            str(next(left)) if piece == HOLE
            else str(int(self.get(piece[1:-1])[row])) if piece.startswith(BESIDE) else piece
            for piece in pieces
        ]  # fmt: skip


def _length(how: list[Any]) -> int:
    if how[0] == "strings":
        return int(how[1])
    _, count, width, planes, *_ = how
    return -(-int(count) * int(width) // 8) * int(planes)


def _within(counts: Whole) -> Whole:
    """Place of each row in its square, counted from 0."""
    return np.asarray(np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts), dtype=np.int64)


def _species_found(columns: Columns, _: int) -> Whole:
    """Species square by square: the gaps come place by place."""
    counts = columns.codes("found.count")
    order = np.argsort(_within(counts), kind="stable")
    steps = np.zeros(order.size, dtype=np.int64)
    steps[order] = columns.codes("found.gap") + 1
    summed = np.concatenate(([0], np.cumsum(steps)))
    return np.asarray(summed[1:] - np.repeat(summed[np.cumsum(counts) - counts], counts) - 1, dtype=np.int64)


def _found_in(columns: Columns, place: int) -> Whole:
    """Species of each square found in a class."""
    counts, masks = columns.codes("found.count"), columns.codes("found.classes")
    square = np.repeat(np.arange(counts.size), counts)
    is_in = np.ones(masks.size, dtype=bool) if place == 0 else (masks >> (place - 1) & 1).astype(bool)
    return np.bincount(square[is_in], minlength=counts.size)


def _found_first(columns: Columns, place: int) -> Whole:
    """Species of each square of which a class is the first."""
    counts, masks = columns.codes("found.count"), columns.codes("found.classes")
    square = np.repeat(np.arange(counts.size), counts)
    return np.bincount(square[masks & ((1 << place) - 1) == 1 << (place - 1)], minlength=counts.size)


def _percent(columns: Columns, _: int) -> Whole:
    """Chance that a visit finds a species, in whole per cent, from the falls in each square."""
    counts, falls = columns.codes("expected.count"), columns.codes("expected.fall")
    summed = np.concatenate(([0], np.cumsum(falls)))
    return np.asarray(100 - summed[1:] + np.repeat(summed[np.cumsum(counts) - counts], counts), dtype=np.int64)


def new_by_year(columns: Columns) -> tuple[int, Whole]:
    """First year, and the species new to each square in each year from it on (squares × years)."""
    begins, ends = columns.codes("growth.from"), columns.codes("growth.to")
    start = int(begins[0]) if begins.size else 0
    parts = [(begin - start, end + 1 - start, columns.codes(f"growth.range.{k}"))
             for k, (begin, end) in enumerate(zip(begins.tolist(), ends.tolist(), strict=True))]
    new = np.zeros((columns.codes("found.count").size, parts[-1][1] if parts else 0), dtype=np.int64)
    level = 0
    while parts:
        for begin, _, counts in (part for part in parts if part[1] - part[0] == 1):
            new[:, begin] = counts
        parts = [part for part in parts if part[1] - part[0] > 1]
        if parts:
            longest = max(stop - begin for begin, stop, _ in parts)
            whole = [counts[counts > 0] * (longest + 1) + stop - begin for begin, stop, counts in parts]
            earlier = np.zeros(sum(map(len, whole)), dtype=np.int64)
            earlier[groups_of(np.concatenate(whole)).order] = columns.codes(f"growth.earlier.{level}")
            halves, at = [], 0
            for begin, stop, counts in parts:
                there = counts > 0
                half = np.zeros_like(counts)
                half[there] = earlier[at : at + int(there.sum())]
                at += int(there.sum())
                halves += [(begin, (begin + stop) // 2, half), ((begin + stop) // 2, stop, counts - half)]
            parts, level = halves, level + 1
    return start, new


def _first_year(columns: Columns, _: int) -> Whole:
    """First year in which a species was new to each square; 0 where none was."""
    start, new = new_by_year(columns)
    return np.where(new.any(axis=1), start + (new > 0).argmax(axis=1) if new.shape[1] else 0, 0).astype(np.int64)


_WORKED_OUT = {
    "found.species": _species_found, "found.in": _found_in, "found.first": _found_first,
    "expected.place": lambda columns, _: _within(columns.codes("expected.count")), "expected.percent": _percent,
    "growth.first": _first_year,
}  # fmt: skip
