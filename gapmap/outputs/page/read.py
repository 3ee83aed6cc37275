"""Read back what a page holds: for tests, and to see what a page gives away."""

from __future__ import annotations

import base64
import json
import re
import zlib
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from gapmap.outputs.page.pack import BESIDE, HOLE, Whole, bytes_to_wholes

#: A column as it is read back.
Read = Whole | npt.NDArray[np.float64] | list[str]
_MARK = re.compile(f"({HOLE}|{BESIDE}[^{BESIDE}]*{BESIDE})")


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
    facts, packed = (
        json.loads(re.findall(rf'<script type="application/json" id="{name}">(.*?)</script>', text, re.DOTALL)[0])
        for name in ("facts", "columns")
    )
    columns: dict[str, Any] = dict(_read_columns(facts["columns"], packed))
    if "found.count" in columns:
        _unfold_found(columns, len(facts["classes"]))
    _fill_texts(columns)
    return facts, columns


def read_block(manifest: Sequence[Sequence[object]], text: str) -> dict[str, Read]:
    """Read back what a block holds, by column name.

    Parameters
    ----------
    manifest, text
        ``Block.manifest`` and ``Block.to_text()``, as a page carries them.

    Examples
    --------
    >>> from gapmap.outputs.page.pack import Block
    >>> block = Block()
    >>> block.add("visits", [3, 0, 12])
    >>> block.add_texts("reason", ["5 of 12 species", "7 of 12 species", ""])
    >>> read = read_block(block.manifest, block.to_text())
    >>> read["visits"].tolist(), read["reason"]
    ([3, 0, 12], ['5 of 12 species', '7 of 12 species', ''])
    """
    found = _read_columns(manifest, text)
    _fill_texts(found)
    return found


def _read_columns(manifest: Sequence[Sequence[object]], text: str) -> dict[str, Read]:
    whole = zlib.decompress(base64.b64decode(text))
    found: dict[str, Read] = {}
    start = 0
    for name, kind, length in manifest:
        part = whole[start : start + int(str(length))]
        start += int(str(length))
        found[str(name)] = _read_column(str(kind), part, found)
    return found


def _read_column(kind: str, part: bytes, before: dict[str, Read]) -> Read:
    if kind == "strings":
        strings: list[str] = json.loads(part)
        return strings
    if kind == "bytes":
        return np.frombuffer(part, dtype=np.uint8).astype(np.int64)
    numbers = bytes_to_wholes(part)
    how, _, rest = kind.partition("/")
    if how == "signed":
        return _unfold(numbers)
    if how == "decimal":
        scale, _, near = rest.partition("/")
        steps: npt.NDArray[np.float64] = (numbers - 1).astype(np.float64)
        if near:
            base = np.rint(np.asarray(before[near], dtype=np.float64) * int(scale))
            steps = _unfold(numbers - 1).astype(np.float64) + base
        return np.where(numbers > 0, steps / int(scale), np.nan)
    return numbers


def _unfold(numbers: Whole) -> Whole:
    return (numbers >> 1) ^ -(numbers & 1)


def _unfold_found(columns: dict[str, Any], classes: int) -> None:
    """Species and classes square by square, and the species and lists of each square and class in full."""
    counts, gaps = columns["found.count"], columns.pop("found.gap")
    starts = np.cumsum(counts) - counts
    species = np.zeros(gaps.size, dtype=np.int64)
    rank, at = np.full(counts.size, -1, dtype=np.int64), 0
    for place in range(int(counts.max(initial=0))):
        has = np.flatnonzero(counts > place)
        rank[has] += gaps[at : at + has.size] + 1
        species[starts[has] + place] = rank[has]
        at += has.size
    packed = columns["found.classes"]
    if classes <= 4:
        packed = np.stack([packed & 15, packed >> 4], axis=1).ravel()[: gaps.size]
    columns["found.species"], columns["found.classes"] = species, packed
    square = np.repeat(np.arange(counts.size), counts)
    for place in range(classes + 1):
        mine = square if place == 0 else square[(packed >> (place - 1) & 1).astype(bool)]
        columns[f"effort.{place}.species"] += np.bincount(mine, minlength=counts.size)
        columns[f"effort.{place}.lists"] += columns[f"effort.{place}.visits"]


def _fill_texts(columns: dict[str, Any]) -> None:
    for name in [name.removesuffix(".forms") for name in columns if name.endswith(".forms")]:
        forms, codes, numbers = (columns.pop(f"{name}.{part}") for part in ("forms", "form", "numbers"))
        pieces = [_MARK.split(form) for form in forms]
        left = iter(numbers.tolist())
        columns[name] = [
            "".join(_number_in(piece, row, left, columns) for piece in pieces[code])
            for row, code in enumerate(codes.tolist())
        ]


def _number_in(piece: str, row: int, left: Any, columns: dict[str, Any]) -> str:
    if piece == HOLE:
        return str(next(left))
    return str(int(columns[piece[1:-1]][row])) if piece.startswith(BESIDE) else piece
