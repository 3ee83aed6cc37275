"""One overall measure: one in how many accepted records is as odd as this one.

Each measure is first turned into the same coin, the natural log of "one in N accepted records is as odd in this way"
(a likely slip of the pen already is evidence). The mean of the evidence is ranked among accepted records again, so that
the answer is a count, not a score.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]
YesNo = npt.NDArray[np.bool_]

#: A measure is nothing odd up to this: one in five.
ORDINARY = float(np.log(5))
#: A slip of place counts as much as so many of the other ways together: it is the commonest (our judgement).
SLIP_COUNTS = 3.0
#: How many records of all species a species' own spacing is filled up with, so that rarities borrow from the rest.
BORROWED = 4.0
#: Records of a species with another, from which on it is told how far apart they usually stand (our judgement).
LEAST_USUAL = 10
#: Metres added to a species' mean spacing before spacings are compared between species.
FLOOR_M = 1000.0

_SPAN = 1e10  # metres between two species in one sorted column


def yardstick(values: Number, among: YesNo) -> Number:
    """The values of accepted records in rising order, to hold others against."""
    kept: Number = np.sort(values[among & ~np.isnan(values)])
    return kept


def commonness(values: Number, stick: Number) -> Number:
    """Natural log of one in how many of the yardstick is as high; 0 where the value is 0, missing or minus infinity.

    Examples
    --------
    >>> values = np.array([0.0, 1.0, 2.0, 3.0])
    >>> np.exp(commonness(values, yardstick(values, np.ones(4, bool)))).round(1).tolist()
    [1.0, 1.3, 2.0, 4.0]
    """
    if not len(stick):
        return np.zeros(len(values))
    as_high = len(stick) - np.searchsorted(stick, np.nan_to_num(values, nan=-np.inf, posinf=np.inf), "left")
    share = np.maximum(as_high, 1) / len(stick)
    return np.where(~np.isnan(values) & (values > -np.inf) & (values != 0), -np.log(share), 0.0)


@dataclass(frozen=True)
class Spacing:
    """How far the records of each species stand from their nearest other: the yardstick of its range.

    All but ``metres`` are as felt: old records count as farther off.
    """

    ordered: Number
    count: Whole
    mean: Number
    pool: Number
    share_apart: float
    metres: Number

    def surprise(self, species: Whole, felt: Number, own: YesNo) -> Number:
        """Natural log of one in how many records of the species stands as far off.

        Parameters
        ----------
        species, felt
            Shape (n,): species and metres to the nearest other record of it, infinite when there is none.
        own
            Shape (n,): whether the record is itself part of the yardstick, and is left out.
        """
        pool = np.exp(-commonness(np.where(felt > 0, felt / (self.mean[species] + FLOOR_M), np.nan), self.pool))
        pool = np.where(felt > 0, pool * self.share_apart, 1.0)
        end = np.cumsum(self.count)[species]
        as_far = end - np.searchsorted(self.ordered, species * _SPAN + np.minimum(felt, _SPAN / 10), "left") - own
        others = self.count[species] - own
        # Without any other outing, all others of the species are of its own: they bear no witness for it.
        as_far, others = (np.where(np.isfinite(felt), count, 0) for count in (as_far, others))
        answer: Number = -np.log(np.minimum((as_far + BORROWED * pool) / (others + BORROWED), 1.0))
        return answer

    def usual(self, species: int) -> tuple[float, float] | None:
        """Metres within which half and nine tenths of the species' records have another; None for so few records that
        one of them would be much of it."""
        end = int(np.cumsum(self.count)[species])
        own = self.metres[end - int(self.count[species]) : end] - species * _SPAN
        own = own[own < _SPAN / 10]
        if len(own) < LEAST_USUAL:
            return None
        half, most = np.quantile(own, [0.5, 0.9])
        return float(half), float(most)


def spacing(species: Whole, felt: Number, among: YesNo, species_count: int, metres: Number | None = None) -> Spacing:
    """Measure the spacing of every species: its own distances, and all species' relative to their own mean.

    Parameters
    ----------
    species, felt, among
        Shape (n,): species, metres to the nearest other record as felt, and whether the record counts.
    species_count
        How many species there are.
    metres
        Shape (n,): the same distances as they are, where old records are felt as farther.
    """
    metres = felt if metres is None else metres
    sound = among & np.isfinite(felt)
    count = np.bincount(species[sound], minlength=species_count)
    mean = np.bincount(species[sound], felt[sound], species_count) / np.maximum(count, 1)
    relative = felt / (mean[species] + FLOOR_M)
    apart = among & (relative > 0)
    return Spacing(
        np.sort(species[among] * _SPAN + np.minimum(felt[among], _SPAN / 10)),
        np.bincount(species[among], minlength=species_count).astype(np.int64),
        mean,
        yardstick(relative, apart),
        float((apart.sum() + 1) / (among.sum() + 2)),  # Laplace's rule: what has not been seen yet is not impossible
        np.sort(species[among] * _SPAN + np.minimum(metres[among], _SPAN / 10)),
    )


def whole(slip: Number, ways: list[Number]) -> Number:
    """All measures in one: natural log of the mean of what each way of being odd is evidence of.

    A record has most likely one thing about it, if any, so that evidence is averaged, not multiplied: one strong
    reason is not drowned by several weak ones, and the ways need not be independent of each other.

    Parameters
    ----------
    slip
        Shape (n,): natural log of how many times likelier the record is as a slip than as it stands.
    ways
        For each further way of being odd, shape (n,): natural log of one in how many records is as odd.

    Source
    ------
    Averages of evidence, and p^(−2/3) / 3 as the evidence in a share p: V. Vovk and R. Wang, E-values: calibration,
    combination and applications, Annals of Statistics 49 (2021) (cited from memory).

    Examples
    --------
    >>> whole(np.array([0.0, 6.0, -np.inf]), [np.log([1.0, 1.0, 1000.0])]).round(1).tolist()
    [-0.2, 5.7, 2.1]
    """
    evidence = [slip + np.log(SLIP_COUNTS), *(np.maximum(way, 0) * 2 / 3 - np.log(3) for way in ways)]
    total: Number = np.logaddexp.reduce(evidence, axis=0) - np.log(len(ways) + SLIP_COUNTS)
    return total


def two_sided(values: Number, species: Whole, among: YesNo) -> Number:
    """Natural log of one in how many of its species lies as far out on either side (heights); 0 where missing.

    Parameters
    ----------
    values, species
        Shape (n,).
    among
        Shape (n,): which of them the others are held against; each counts for itself besides.

    Examples
    --------
    >>> heights, among = np.array([10.0, 20.0, 30.0, 90.0, 90.0]), np.array([True, True, True, False, False])
    >>> np.exp(two_sided(heights, np.zeros(5, np.int64), among)).round(2).tolist()
    [2.0, 1.0, 2.0, 2.5, 2.5]
    """
    known = ~np.isnan(values)
    place = species * _SPAN + np.where(known, values, 0.0)
    held = np.sort(place[among & known])
    first, end = (np.searchsorted(held, (species + side) * _SPAN) for side in (-0.5, 0.5))
    own = (among & known).astype(np.int64)
    below = np.searchsorted(held, place, "right") - first - own
    above = end - np.searchsorted(held, place, "left") - own
    share = 2 * (np.minimum(below, above) + 1) / (end - first - own + 2)
    return np.where(known, -np.log(np.minimum(share, 1.0)), 0.0)
