"""How finds of a species grow with effort: rates, a heavy-tailed curve, and the power of effort.

Visits to one square look at different places, at different times, by different eyes: the same chance of
detection at every visit does not hold. Two curves are fitted to each species and averaged: one with a power of
effort (found or not), and a beta-binomial over lists whose spread between squares is learned and shared among species.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln

Numbers = npt.NDArray[np.float64]

#: Power of effort in the first curve.
POWER = 0.65
#: Prior for the power that richness follows: its mean and spread.
POWER_PRIOR = (0.75, 0.25)
_POWERS = np.arange(0.1, 1.41, 0.1)
_SHAPES = np.array([0.3, 0.5, 1, 2, 4, 8, 16, 50])
_SPREADS = np.array([0.3, 0.6, 1.2, 2.5, 5.0, 10.0, 30.0, 100.0])
_MEANS = np.exp(np.linspace(np.log(2e-5), np.log(0.8), 40))
_BINS = 64
#: Pairs of square and species reckoned with at once (40 MB).
_AT_ONCE = 8_000


@dataclass(frozen=True)
class Effort:
    """Effort put into bins: ``lists`` (B) of each bin, ``bin_of`` (S × K), and ``squares`` in each (K × B or 1 × B)."""

    lists: Numbers
    bin_of: npt.NDArray[np.int64]
    squares: Numbers


def bin_effort(effort: Numbers) -> Effort:
    """Put effort into at most 64 bins of like size, exactly where few values occur; bin 0 is no effort."""
    values = np.unique(effort[effort > 0])
    if len(values) <= _BINS:
        lists = np.concatenate([[0.0], values])
        bin_of = np.searchsorted(lists, effort)
    else:
        edges = np.exp(np.linspace(np.log(values[0]), np.log(values[-1]), _BINS + 1))
        bin_of = np.where(effort > 0, np.clip(np.searchsorted(edges, effort, side="right"), 1, _BINS), 0)
        total = np.bincount(bin_of.ravel(), effort.ravel(), minlength=_BINS + 1)
        count = np.bincount(bin_of.ravel(), minlength=_BINS + 1)
        lists = np.where(count > 0, total / np.maximum(count, 1), np.concatenate([[0.0], edges[1:]]))
    species = effort.shape[1]
    flat = bin_of + np.arange(species) * len(lists)
    squares = np.bincount(flat.ravel(), minlength=species * len(lists)).reshape(species, len(lists))
    return Effort(lists, bin_of, squares.astype(np.float64))


def bin_lists(lists: Numbers, species: int) -> Effort:
    """Put the lists of S squares into bins, the same for all species."""
    once = bin_effort(lists[:, None])
    return Effort(once.lists, np.broadcast_to(once.bin_of, (len(lists), species)), once.squares)


def rates(effort: Effort, found: Numbers, power: float) -> Numbers:
    """Rate of each species so that the squares it is expected in, Σ 1−exp(−rate·effort^power), match those found.

    Parameters
    ----------
    effort
        Binned effort.
    found
        K: squares it was found in.
    power
        Power of effort.

    Returns
    -------
    K natural logs of the rate for one list.

    Examples
    --------
    >>> effort = bin_effort(np.ones((10, 1)))
    >>> bool(np.isclose(np.exp(rates(effort, np.array([5.0]), 0.65))[0], np.log(2)))
    True
    """
    worked = effort.squares[:, 1:]
    amount = effort.lists[1:] ** power
    wanted = np.clip(found, 0.25, np.maximum(worked.sum(axis=1) - 0.5, 0.25))
    rate = np.log(wanted / np.maximum(worked @ amount, 1e-9))
    for _ in range(40):
        expected = np.exp(rate)[:, None] * amount
        missed = np.exp(-expected)
        slope = (worked * expected * missed).sum(axis=1)
        step = ((worked * (1 - missed)).sum(axis=1) - wanted) / np.maximum(slope, 1e-9)
        rate = rate - np.clip(step, -1, 1)
    return rate


def power_of_effort(lists: Numbers, found: Numbers) -> float:
    """The power of effort that the richness of squares follows, drawn towards its prior.

    The species found in a square are counted against those its effort would give, with a negative binomial for
    differences between squares; the likelihood counts half, since neighbouring squares are alike.

    Parameters
    ----------
    lists
        S: lists of each square.
    found
        S × K: 1 where found.
    """
    worked = lists > 0
    mean, spread = POWER_PRIOR
    if worked.sum() < 2 or found.sum() == 0:
        return mean
    effort = bin_effort(lists[:, None])
    richness = found[worked].sum(axis=1)
    each = found.sum(axis=0)
    totals, how_many = np.unique(each, return_counts=True)
    score = np.empty(len(_POWERS))
    for number, power in enumerate(_POWERS):
        rate = np.exp(rates(effort, totals, float(power)))
        by_bin = (1 - np.exp(-rate[:, None] * effort.lists[None, :] ** power)) * how_many[:, None]
        likely = np.maximum(by_bin.sum(axis=0)[effort.bin_of[worked, 0]], 1e-9)[:, None]
        fit = (
            gammaln(richness[:, None] + _SHAPES)
            - gammaln(_SHAPES)
            + _SHAPES * np.log(_SHAPES / (_SHAPES + likely))
            + richness[:, None] * np.log(likely / (_SHAPES + likely))
        ).sum(axis=0)
        score[number] = 0.5 * fit.max() - 0.5 * ((power - mean) / spread) ** 2
    weight = np.exp(score - score.max())
    return float((weight * _POWERS).sum() / weight.sum())


@dataclass(frozen=True)
class HeavyTail:
    """Beta-binomial curves of K species: what their finds leave of each mean and spread on a grid, K × G."""

    weight: Numbers

    def log_hazard(self, lists: Numbers) -> Numbers:
        """n × K: log(−log(chance that none of so many lists, n values, in a square finds the species))."""
        missed = np.exp(_none_in(np.maximum(lists, 1e-6)))
        chance = np.clip(missed @ self.weight.T, 1e-12, 1 - 1e-9)
        answer: Numbers = np.log(-np.log(chance))
        return answer

    def log_hazard_after(
        self, with_it: Numbers, lists: Numbers, more: Numbers | float, kinds: npt.NDArray[np.int64]
    ) -> Numbers:
        """n: as ``log_hazard``, for squares whose own lists are known: the same curve given what they found.

        Parameters
        ----------
        with_it, lists
            n: lists of the square with the species, of how many.
        more
            Lists to come, n or one for all.
        kinds
            n: positions of the species.
        """
        told = np.column_stack([with_it, np.maximum(lists, with_it), np.broadcast_to(more, with_it.shape)])
        missed = np.empty(len(told))
        for start in range(0, len(told), _AT_ONCE):
            part = slice(start, start + _AT_ONCE)
            distinct, of_pair = np.unique(told[part], axis=0, return_inverse=True)
            some, made, coming = (distinct[:, [column]] for column in range(3))
            likely = _some_in(some, made)
            likely = np.exp(likely - likely.max(axis=1, keepdims=True))
            none = likely * np.exp(_none_after(some, made, coming))
            weight, of_pair = self.weight[kinds[part]] + 1e-12, of_pair.reshape(-1)
            missed[part] = (weight * none[of_pair]).sum(axis=1) / (weight * likely[of_pair]).sum(axis=1)
        answer: Numbers = np.log(-np.log(np.clip(missed, 1e-12, 1 - 1e-9)))
        return answer


def _none_in(lists: Numbers) -> Numbers:
    """Log chance that none of so many lists finds it: lists × G."""
    spread = np.repeat(_SPREADS, len(_MEANS))
    other = (1 - np.tile(_MEANS, len(_SPREADS))) * spread
    answer: Numbers = gammaln(other + lists[:, None]) - gammaln(other) - _by_spread(lists[:, None]) + gammaln(spread)
    return answer


def _some_in(with_it: Numbers, lists: Numbers) -> Numbers:
    """Log chance that given lists among so many find it: a list with it could have held it, whatever its weight."""
    lists = np.maximum(lists, with_it)
    spread = np.repeat(_SPREADS, len(_MEANS))
    mean = np.tile(_MEANS, len(_SPREADS)) * spread
    other = spread - mean
    answer: Numbers = (
        gammaln(mean + with_it)
        - gammaln(mean)
        + gammaln(other + lists - with_it)
        - gammaln(other)
        - _by_spread(lists)
        + gammaln(spread)
    )
    return answer


def _by_spread(lists: Numbers) -> Numbers:
    """Log gamma of the spread and so many lists: n × G, worked out once for all means."""
    answer: Numbers = np.repeat(gammaln(_SPREADS + lists), len(_MEANS), axis=1)
    return answer


def _none_after(with_it: Numbers, lists: Numbers, more: Numbers) -> Numbers:
    """Log chance that none of so many more lists finds it, after given lists among so many did: n × G."""
    spread = np.repeat(_SPREADS, len(_MEANS))
    other = (1 - np.tile(_MEANS, len(_SPREADS))) * spread + lists - with_it
    answer: Numbers = gammaln(other + more) - gammaln(other) - _by_spread(lists + more) + _by_spread(lists)
    return answer


def heavy_tail(effort: Effort, finds: Numbers) -> HeavyTail:
    """Fit beta-binomial curves: lists with the species out of lists that could have held it, square by square.

    Parameters
    ----------
    effort
        Binned effort, S × K.
    finds
        S × K lists with the species.

    Source
    ------
    Skellam, J.G. (1948) A probability distribution derived from the binomial, Journal of the Royal Statistical
    Society B 10, 257–261. The spread between squares is shared among species by empirical Bayes.
    """
    species = finds.shape[1]
    square, kind = np.nonzero(finds)
    with_it = np.maximum(np.rint(finds[square, kind]), 1.0)
    none = _none_in(effort.lists)
    pairs, pair_of = np.unique(np.column_stack([with_it, effort.bin_of[square, kind]]), axis=0, return_inverse=True)
    often = np.zeros((species, len(pairs)))
    np.add.at(often, (kind, pair_of.reshape(-1)), 1.0)
    some = _some_in(pairs[:, [0]], effort.lists[pairs[:, 1].astype(np.int64)][:, None])
    score = effort.squares @ none + often @ (some - none[pairs[:, 1].astype(np.int64)])
    profile = score.reshape(species, len(_SPREADS), len(_MEANS))
    best = profile.max(axis=2)
    best = best - best.max(axis=1, keepdims=True)
    prior = np.zeros(len(_SPREADS))
    for _ in range(20):
        share = np.exp(best + prior)
        share /= share.sum(axis=1, keepdims=True)
        prior = np.log((share.sum(axis=0) + 0.5) / (species + 0.5 * len(_SPREADS)))
    score = (profile + prior[None, :, None]).reshape(species, len(_SPREADS) * len(_MEANS))
    weight = np.exp(score - score.max(axis=1, keepdims=True))
    return HeavyTail(weight / weight.sum(axis=1, keepdims=True))
