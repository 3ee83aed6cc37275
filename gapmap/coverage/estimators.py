"""Published estimators of how many species there are, for many squares at once.

The data are incidences: a square has ``T`` visits (sampling units), and a species was found on ``y`` of them.
Every function works on whole columns, one value a square; where the data cannot carry a number it gives NaN.

Sources
-------
Chao, A. (1987) Biometrics 43: 783–791; bias-corrected form, variance and log-normal interval as in
Chao, A. (2005) Species estimation and applications, Encyclopedia of Statistical Sciences 12: 7907–7916.
Burnham, K.P. & Overton, W.S. (1979) Ecology 60: 927–936 (jackknife), as written for incidences by
Smith, E.P. & van Belle, G. (1984) Biometrics 40: 119–129.
Chao, A. & Jost, L. (2012) Ecology 93: 2533–2547 (sample coverage).
Chao, A., Colwell, R.K., Lin, C.-W. & Gotelli, N.J. (2009) Ecology 90: 1125–1133 (sufficient sampling).
Colwell, R.K. et al. (2012) Journal of Plant Ecology 5: 3–21 (rarefaction and extrapolation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Two-sided 95 % point of the normal distribution, as the published intervals use it.
_Z95 = 1.959963984540054


@dataclass(frozen=True)
class Frequencies:
    """What the estimators need of each square: one value a square in every array.

    Parameters
    ----------
    visits
        Sampling units ``T``.
    species
        Species found on at least one of them.
    once, twice
        Species found on exactly one and on exactly two: ``Q1`` and ``Q2``.
    finds
        Sum over species of the visits each was found on, ``U``.
    """

    visits: Number
    species: Number
    once: Number
    twice: Number
    finds: Number


def frequencies(row: npt.ArrayLike, found: npt.ArrayLike, visits: npt.ArrayLike) -> Frequencies:
    """Count what the estimators need.

    Parameters
    ----------
    row
        For each square × species with a find: the index of its square, 0 to n - 1.
    found
        On how many visits the species was found there, at least 1; zeros are passed over.
    visits
        Visits to each of the n squares.

    Examples
    --------
    Two squares with 4 visits each: species found on 1, 1, 2 and 3 visits, and on 1 visit.

    >>> f = frequencies([0, 0, 0, 0, 1], [1, 1, 2, 3, 1], [4, 4])
    >>> f.species.tolist(), f.once.tolist(), f.twice.tolist(), f.finds.tolist()
    ([4.0, 1.0], [2.0, 1.0], [1.0, 0.0], [7.0, 1.0])
    """
    rows = np.asarray(row, dtype=np.int64)
    times = np.asarray(found, dtype=np.int64)
    units = np.asarray(visits, dtype=np.float64)
    n = len(units)
    none_once_twice_more = np.bincount(4 * rows + np.minimum(times, 3), minlength=4 * n).reshape(n, 4)
    return Frequencies(
        visits=units,
        species=none_once_twice_more[:, 1:].sum(axis=1).astype(np.float64),
        once=none_once_twice_more[:, 1].astype(np.float64),
        twice=none_once_twice_more[:, 2].astype(np.float64),
        finds=np.bincount(rows, weights=times, minlength=n).astype(np.float64),
    )


@dataclass(frozen=True)
class Estimate:
    """An estimate of the number of species with its variance and 95 % interval, one value a square."""

    species: Number
    variance: Number
    low: Number
    high: Number


def chao2(f: Frequencies, *, bias_corrected: bool = True) -> Estimate:
    """Chao2, a lower bound of the number of species there.

    Parameters
    ----------
    f
        Frequencies of the squares.
    bias_corrected
        ``Q1 (Q1 - 1) / (2 (Q2 + 1))`` for the species not found, which holds for ``Q2 = 0`` too; otherwise
        the first form ``Q1² / (2 Q2)``, with the bias-corrected one where ``Q2 = 0``.

    Returns
    -------
    Estimate
        NaN where there are fewer than two visits. The interval is log-normal, never below the species found.

    Examples
    --------
    3 visits, species found on 1, 1, 1, 2 visits: 4 + 2/3 × 3 × 2 / (2 × 2) = 5.

    >>> chao2(frequencies([0, 0, 0, 0], [1, 1, 1, 2], [3])).species.tolist()
    [5.0]
    >>> chao2(frequencies([0], [1], [1])).species.tolist()
    [nan]
    """
    q1, q2, species = f.once, f.twice, f.species
    with np.errstate(divide="ignore", invalid="ignore"):
        a = (f.visits - 1) / f.visits
        corrected = bias_corrected | (q2 == 0)
        unseen = np.where(corrected, a * q1 * (q1 - 1) / (2 * (q2 + 1)), a * q1**2 / (2 * q2))
        estimate = species + unseen
        ratio = q1 / q2
        first_form = q2 * (a / 2 * ratio**2 + a**2 * ratio**3 + a**2 / 4 * ratio**4)
        both = (
            a * q1 * (q1 - 1) / (2 * (q2 + 1))
            + a**2 * q1 * (2 * q1 - 1) ** 2 / (4 * (q2 + 1) ** 2)
            + a**2 * q1**2 * q2 * (q1 - 1) ** 2 / (4 * (q2 + 1) ** 4)
        )
        no_twice = a * q1 * (q1 - 1) / 2 + a**2 * q1 * (2 * q1 - 1) ** 2 / 4 - a**2 * q1**4 / (4 * estimate)
        missed = np.exp(-f.finds / species)
        no_once = species * missed * (1 - missed)
        variance = np.select(
            [q1 == 0, q2 == 0, corrected], [no_once, no_twice, both], default=first_form
        )
    low, high = _interval(species, unseen, variance, missed)
    bad = f.visits < 2
    empty = ~bad & (species == 0)
    return Estimate(*(
        np.where(bad, np.nan, np.where(empty, 0.0, column)) for column in (estimate, variance, low, high)
    ))


def _interval(species: Number, unseen: Number, variance: Number, missed: Number) -> tuple[Number, Number]:
    """Log-normal interval about the unseen species; where none is estimated, from the finds a species."""
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        k = np.exp(_Z95 * np.sqrt(np.log1p(variance / unseen**2)))
        spread = _Z95 * np.sqrt(species * missed) / (1 - missed)
        low = np.where(unseen > 0, species + unseen / k, np.maximum(species, species / (1 - missed) - spread))
        high = np.where(unseen > 0, species + unseen * k, species / (1 - missed) + spread)
    return low, high


def jackknife1(f: Frequencies) -> Number:
    """First-order jackknife: ``S + Q1 (T - 1) / T``; NaN without a visit."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(f.visits >= 1, f.species + f.once * (f.visits - 1) / f.visits, np.nan)


def jackknife2(f: Frequencies) -> Number:
    """Second-order jackknife: ``S + Q1 (2T - 3) / T - Q2 (T - 2)² / (T (T - 1))``; NaN below two visits."""
    t = f.visits
    with np.errstate(divide="ignore", invalid="ignore"):
        value = f.species + f.once * (2 * t - 3) / t - f.twice * (t - 2) ** 2 / (t * (t - 1))
    return np.where(t >= 2, value, np.nan)


def sample_coverage(f: Frequencies) -> Number:
    """Share of all finds, with the next ones to come, that belongs to species already found (0 to 1).

    ``1 - (Q1 / U) (T - 1) Q1 / ((T - 1) Q1 + 2 Q2)``; where ``Q2 = 0``, ``Q1 - 1`` and 2 stand for ``Q1`` and
    ``2 Q2`` in the fraction. NaN where there are fewer than two visits or nothing was found.

    Examples
    --------
    >>> sample_coverage(frequencies([0, 0, 0, 0], [1, 1, 1, 2], [3])).tolist()
    [0.55]
    """
    t, q1, q2 = f.visits, f.once, f.twice
    with np.errstate(divide="ignore", invalid="ignore"):
        some = (t - 1) * q1 / ((t - 1) * q1 + 2 * q2)
        none = (t - 1) * (q1 - 1) / ((t - 1) * (q1 - 1) + 2)
        value = 1 - q1 / f.finds * np.where(q2 > 0, some, none)
    value = np.where(q1 == 0, 1.0, value)
    return np.where((t >= 2) & (f.finds > 0), value, np.nan)


def visits_to_share(f: Frequencies, share: npt.ArrayLike, *, bias_corrected: bool = True) -> Number:
    """Further visits expected to bring the species found to a share of the Chao2 estimate.

    Parameters
    ----------
    f
        Frequencies of the squares.
    share
        The share to reach, above 0: one number or one a square.
    bias_corrected
        As for :func:`chao2`.

    Returns
    -------
    ndarray
        Visits, not rounded; 0 where the share is reached, NaN where there is no estimate or no number of visits is
        expected to reach it.
    """
    share = np.asarray(share, dtype=np.float64)
    if np.any(share <= 0):
        raise ValueError(f"share must lie above 0, is {share}")
    unseen = chao2(f, bias_corrected=bias_corrected).species - f.species
    lacking = share * (f.species + unseen) - f.species
    with np.errstate(divide="ignore", invalid="ignore"):
        step = np.log1p(-f.once / (f.visits * unseen + f.once))
        further = np.where(lacking < unseen, np.log1p(-lacking / unseen) / step, np.nan)
    return np.where(np.isnan(unseen), np.nan, np.where(lacking <= 0, 0.0, further))


def extrapolated(f: Frequencies, further: float, *, bias_corrected: bool = True) -> Number:
    """Species expected after this many further visits: ``S + Q0 (1 - (1 - Q1 / (T Q0 + Q1))^t)``.

    ``Q0`` is what Chao2, bias-corrected or not, estimates was not found. NaN where there is no estimate.
    """
    unseen = chao2(f, bias_corrected=bias_corrected).species - f.species
    with np.errstate(divide="ignore", invalid="ignore"):
        gained = unseen * -np.expm1(further * np.log1p(-f.once / (f.visits * unseen + f.once)))
    return f.species + np.where(unseen > 0, gained, unseen)


def rarefied(
    row: npt.ArrayLike, found: npt.ArrayLike, visits: npt.ArrayLike, at: float | npt.ArrayLike
) -> Number:
    """Species expected on ``at`` of the visits, taken by lot: ``S - Σ C(T - y, t) / C(T, t)``.

    Parameters
    ----------
    row, found, visits
        As for :func:`frequencies`.
    at
        Visits to compare at, one number or one a square. NaN is given where a square has fewer.

    Examples
    --------
    3 visits, species found on 1 and 3 of them; a visit by lot finds 1/3 + 1 species.

    >>> rarefied([0, 0], [1, 3], [3], 1).round(12).tolist()
    [1.333333333333]
    """
    rows, times = np.asarray(row, dtype=np.int64), np.asarray(found, dtype=np.int64)
    units = np.asarray(visits, dtype=np.int64)
    wanted = np.broadcast_to(np.asarray(at, dtype=np.float64), units.shape)
    steps, step_of = np.unique(wanted, return_inverse=True)
    kinds, kind_of = np.unique(units * len(steps) + step_of, return_inverse=True)
    longest = int(units.max(initial=0))
    chance = np.stack([
        _chance_among(int(kind) // len(steps), float(steps[int(kind) % len(steps)]), longest) for kind in kinds
    ]) if len(kinds) else np.zeros((1, 1))
    weights = chance.ravel()[(kind_of * (longest + 1))[rows] + times]
    value = np.bincount(rows, weights=weights, minlength=len(units))
    return np.where((units >= wanted) & (units > 0), value, np.nan)


def _chance_among(visits: int, at: float, longest: int) -> Number:
    """Chance that a species found on 0, 1 … ``longest`` of the visits is among ``at`` of them taken by lot."""
    y = np.arange(longest + 1)
    out = y[y <= visits - at]
    chance = np.ones(longest + 1)
    chance[out] = -np.expm1(
        gammaln(visits - out + 1) - gammaln(visits - out - at + 1) - gammaln(visits + 1) + gammaln(visits - at + 1)
    )
    return chance
