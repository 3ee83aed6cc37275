"""Whole numbers as bytes that deflate well, and bytes as text that a page can hold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]
Bytes = npt.NDArray[np.uint8]
#: Bits of a number that go in one plane: as many numbers as fit share a byte.
WIDTHS = (1, 2, 4, 8)
#: Sevens of bits that a page cannot hold as the character of that number: HTML reads the first two otherwise, the
#: next two end a file or wake a terminal, and "<" may end the element.
HARMFUL = (0, 13, 26, 27, 60)


def wholes_to_planes(values: npt.ArrayLike, width: int) -> list[Bytes]:
    """Cut whole numbers into planes: the lowest bits of all, then the next bits of all, until the rest is nothing.

    Parameters
    ----------
    values
        Array (n,) of numbers from 0 to 2**53.
    width
        Bits of each number in a plane: 1, 2, 4 or 8. Eight bits' worth of numbers share a byte, the first lowest.

    Returns
    -------
    list of arrays
        One plane at least, each of ``ceil(n · width / 8)`` bytes.

    Raises
    ------
    ValueError
        A number is negative.

    Examples
    --------
    >>> [plane.tolist() for plane in wholes_to_planes([1, 2, 300], 8)]
    [[1, 2, 44], [0, 0, 1]]
    >>> [plane.tolist() for plane in wholes_to_planes([1, 2, 3], 4)]
    [[33, 3]]
    """
    numbers = np.asarray(values, dtype=np.int64)
    if numbers.size and numbers.min() < 0:
        raise ValueError("only numbers from 0 up can be packed")
    most = int(numbers.max(initial=0))
    small: npt.NDArray[Any] = numbers.astype(np.uint8 if most < 256 else np.uint16 if most < 65_536 else np.int64)
    planes = []
    for begin in range(0, max(most.bit_length(), 1), width):
        part = ((small >> begin) & ((1 << width) - 1)).astype(np.uint8)
        planes.append(_share_bytes(part, width))
    return planes


def _share_bytes(parts: Bytes, width: int) -> Bytes:
    together = 8 // width
    if together == 1:
        return parts
    padded = np.zeros(-(-parts.size // together) * together, dtype=np.uint8)
    padded[: parts.size] = parts
    shared = padded[::together].copy()
    for place in range(1, together):
        shared |= padded[place::together] << np.uint8(place * width)
    return shared


def planes_to_wholes(packed: bytes, count: int, width: int) -> Whole:
    """Read numbers written by :func:`wholes_to_planes`, the planes one after another.

    Examples
    --------
    >>> planes_to_wholes(bytes([1, 2, 44, 0, 0, 1]), 3, 8)
    array([  1,   2, 300])
    """
    numbers = np.zeros(count, dtype=np.int64)
    together = 8 // width
    length = -(-count // together)
    for plane in range(len(packed) // length if length else 0):
        shared = np.frombuffer(packed, dtype=np.uint8, count=length, offset=plane * length).astype(np.int64)
        parts = np.stack([shared >> (place * width) for place in range(together)], axis=1).ravel()[:count]
        numbers |= (parts & ((1 << width) - 1)) << (plane * width)
    return numbers


def fold_signs(values: npt.ArrayLike) -> Whole:
    """Numbers with a sign as numbers from 0 up: 0, -1, 1, -2 … become 0, 1, 2, 3 …"""
    numbers = np.asarray(values, dtype=np.int64)
    return (numbers << 1) ^ (numbers >> 63)


def unfold_signs(numbers: Whole) -> Whole:
    """The way back."""
    return (numbers >> 1) ^ -(numbers & 1)


@dataclass(frozen=True)
class Groups:
    """Rows in the order of a number that is known of each.

    Parameters
    ----------
    order
        Rows (n,), those of the smallest number first, rows of one number in their own order.
    group
        Group (n,) of each row in that order, counted from 0.
    begins
        Where each group begins in it.
    """

    order: Whole
    group: Whole
    begins: Whole


def groups_of(known: npt.ArrayLike) -> Groups:
    """Sort rows by a known number.

    Examples
    --------
    >>> groups_of([7, 2, 7, 5]).order.tolist(), groups_of([7, 2, 7, 5]).begins.tolist()
    ([1, 3, 0, 2], [0, 1, 2])
    """
    numbers = np.asarray(known, dtype=np.int64)
    narrow = numbers.astype(np.uint16) if 0 <= numbers.min(initial=0) <= numbers.max(initial=0) < 65_536 else numbers
    order = np.argsort(narrow, kind="stable")
    ordered = numbers[order]
    is_first = np.concatenate(([True], ordered[1:] != ordered[:-1])) if ordered.size else np.zeros(0, dtype=bool)
    return Groups(order, np.cumsum(is_first) - 1, np.flatnonzero(is_first))


def usual_of(ordered: Whole, groups: Groups) -> Whole:
    """The middle number of each group (the lower of two).

    Examples
    --------
    >>> usual_of(np.array([1, 9, 4, 6]), groups_of([0, 0, 0, 1]))
    array([4, 6])
    """
    if ordered.size == 0:
        return np.zeros(0, dtype=np.int64)
    width = int(ordered.max()) + 1
    keys = groups.group * width + ordered
    ranked = np.sort(keys.astype(np.int32) if keys[-1] < 2**31 - width else keys) % width
    ends = np.append(groups.begins[1:], ordered.size)
    return np.asarray(ranked[(groups.begins + ends - 1) // 2], dtype=np.int64)


def bytes_to_text(packed: bytes) -> str:
    """Write bytes as text a page can hold between two tags: seven bits a character.

    A harmful seven and the seven after it share a character of two bytes, so that every character carries seven bits
    a byte of UTF-8 and the text is a seventh longer than the bytes, where base64 is a third longer.

    Examples
    --------
    >>> "<" in bytes_to_text(b"<<<<<<<")
    False
    >>> text_to_bytes(bytes_to_text(bytes(20)), 20) == bytes(20)
    True
    """
    filled = np.full((len(packed) + 2 + 6) // 7 * 7, 255, dtype=np.uint8)
    filled[: len(packed)] = np.frombuffer(packed, dtype=np.uint8)
    words = filled.reshape(-1, 7).astype(np.int64) @ (1 << np.arange(48, -1, -8))
    sevens = ((words[:, None] >> np.arange(49, -1, -7)) & 127).astype(np.uint16).ravel()
    place = np.full(128, -1, dtype=np.int64)
    place[list(HARMFUL)] = np.arange(len(HARMFUL))
    harmful = place[sevens] >= 0
    at = np.arange(sevens.size)
    run_begins = np.maximum.accumulate(np.where(harmful & ~np.concatenate(([False], harmful[:-1])), at, 0))
    leads = harmful & ((at - run_begins) % 2 == 0)
    follows = np.concatenate(([False], leads[:-1]))
    characters = sevens.copy()
    characters[1:][leads[:-1]] += ((place[sevens[:-1][leads[:-1]]] + 1) << 7).astype(np.uint16)
    kept: Bytes = characters[follows | ~leads].astype("<u2").view(np.uint8)
    return kept.tobytes().decode("utf-16-le")


def text_to_bytes(text: str, length: int) -> bytes:
    """Read bytes written by :func:`bytes_to_text`; ``length`` of them."""
    characters = np.frombuffer(text.encode("utf-16-le"), dtype="<u2").astype(np.int64)
    leads = np.array([0, *HARMFUL])[characters >> 7]
    pairs = np.stack((leads, characters & 127), axis=1)
    sevens = pairs[np.stack((characters > 127, np.ones(characters.size, dtype=bool)), axis=1)]
    return np.packbits(((sevens[:, None] >> np.arange(6, -1, -1)) & 1).astype(np.uint8).ravel()).tobytes()[:length]
