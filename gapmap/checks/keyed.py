"""Places and pairs of things as one whole number, and finding or counting them again."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]


class Lookup:
    """Finds the node that stands at a place in a layer."""

    def __init__(self, places: Whole, layers: Whole) -> None:
        keys = mixed(places, layers)
        self.order = np.argsort(keys, kind="stable")
        self.sorted = keys[self.order]

    def find(self, places: Whole, layers: Whole) -> Whole:
        """Position of each pair of place and layer among those given at first; -1 when it is not there."""
        keys = mixed(places, layers)
        if not len(self.sorted):
            return np.full(len(keys), -1)
        at = np.minimum(np.searchsorted(self.sorted, keys), len(self.sorted) - 1)
        return np.where(self.sorted[at] == keys, self.order[at], -1)


class Counts:
    """Counts how often a pair of whole numbers was given (records at a place on a list, say).

    Examples
    --------
    >>> Counts(np.array([1, 1, 2]), np.array([7, 7, 7])).count(np.array([1, 2, 2]), np.array([7, 7, 8]))
    array([2., 1., 0.])
    """

    def __init__(self, first: Whole, second: Whole) -> None:
        self.keys, self.times = np.unique(mixed(first, second), return_counts=True)

    def count(self, first: Whole, second: Whole) -> Number:
        """How often each pair was given."""
        keys = mixed(first, second)
        if not len(self.keys):
            return np.zeros(len(keys))
        at = np.minimum(np.searchsorted(self.keys, keys), len(self.keys) - 1)
        return np.where(self.keys[at] == keys, self.times[at], 0).astype(float)


def mixed(first: Whole, second: Whole) -> Whole:
    """One 64-bit number for a pair; two pairs of a million agree by chance once in 40 million times."""
    with np.errstate(over="ignore"):
        both = first.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15) ^ second.astype(np.uint64) * np.uint64(
            0xC2B2AE3D27D4EB4F
        )
        both ^= both >> np.uint64(31)
        return (both * np.uint64(0xBF58476D1CE4E5B9)).view(np.int64)


def place_keys(x: Number, y: Number, side: int = 1) -> Whole:
    """A place, or the square of that side it lies in, as one number; places that are not known share one."""
    whole_x = np.floor_divide(np.nan_to_num(x, nan=-9e7, posinf=9e7, neginf=-9e7).round(), side).astype(np.int64)
    whole_y = np.floor_divide(np.nan_to_num(y, nan=-9e7, posinf=9e7, neginf=-9e7).round(), side).astype(np.int64)
    keys: Whole = (whole_x + 100_000_000) * 1_000_000_000 + (whole_y + 100_000_000)
    return keys
