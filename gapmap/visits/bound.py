"""How good the best possible plan could be: an upper bound that no plan can pass.

Days are given a price for each volunteer and month (Lagrangian relaxation); at those prices every square can be
solved on its own. Within a square, a set of visits gains no more than its best visit, and of every other what it adds
to that one (of a visit like another of the set, what it adds to that). Prices are improved by subgradient steps; every
set of prices gives a valid bound and the lowest seen is returned.

Source: M. L. Fisher (1981), "The Lagrangian relaxation method for solving integer programming problems",
Management Science 27, for the relaxation and the step rule; D. Hunter (1976), "An upper bound for the probability of
a union", Journal of Applied Probability 13, for the bound within a square: visits are hung on one another as a tree,
and each counts what it adds to the one it hangs on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gapmap.visits.plan import Plan
from gapmap.visits.prospects import Parties, Prospects, allowed, chances_by_mode

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

#: Steps are made until so many of them together lower the bound by less than this share.
_PATIENCE, _WORTHWHILE = 10, 1.5e-3


@dataclass(frozen=True)
class Bound:
    """A value that no plan can pass, and the prices of days (volunteers × 13 months) that show it."""

    value: float
    prices: Numbers


def upper_bound(
    prospects: Prospects,
    parties: Parties,
    plan: Plan,
    *,
    cost_a_km: float = 0.0,
    most_per_square: int = 3,
    rounds: int = 100,
) -> Bound:
    """Bound the value of any plan from above.

    Parameters
    ----------
    prospects, parties, cost_a_km, most_per_square
        As for ``plan``.
    plan
        A plan at hand: prices start from what its last visits add, and the steps aim at its value.
    rounds
        Subgradient steps at most.

    Returns
    -------
    Bound
        Never below the plan's value.
    """
    if not len(parties.members) or not len(prospects.squares):
        return Bound(0.0, np.zeros(parties.capacity.shape))
    relaxed = _Relaxed(prospects, parties, cost_a_km, most_per_square)
    prices, value = _first_prices(prospects, parties, plan), plan.value
    best, best_prices, scale, since = np.inf, prices, 1.0, 0
    lowest: list[float] = []
    for _ in range(rounds):
        bound, used = relaxed.solve(prices)
        if bound < best - 1e-9:
            best, best_prices, since = bound, prices, 0
        else:
            since += 1
            if since >= 5:
                scale, since = scale / 2, 0
        lowest.append(best)
        if len(lowest) > _PATIENCE and lowest[-_PATIENCE] - best <= _WORTHWHILE * best:
            break
        slack = used - parties.capacity
        slack = np.where((prices <= 0) & (slack < 0), 0.0, slack)
        length = float((slack**2).sum())
        if best - value <= 1e-9 or length == 0 or scale < 1e-4:
            break
        prices = np.maximum(0.0, prices + scale * max(bound - value, 1e-9) / length * slack)
    return Bound(max(best, value), best_prices)


def _first_prices(prospects: Prospects, parties: Parties, plan: Plan) -> Numbers:
    """A volunteer's day in a month is first priced at the least that it adds in the plan."""
    prices = np.full(parties.capacity.shape, np.inf)
    for choice, gain in zip(plan.choices, plan.gains, strict=True):
        month = prospects.conditions[choice.condition].month
        members = list(parties.members[choice.party])
        prices[members, month] = np.minimum(prices[members, month], gain / len(members))
    return np.where(np.isfinite(prices), prices, 0.0)


class _Relaxed:
    """The problem with the days priced instead of limited: every visit that the rules allow, by squares."""

    def __init__(self, prospects: Prospects, parties: Parties, cost_a_km: float, most_per_square: int) -> None:
        self.worth = prospects.worth
        self.detect, kinds, _ = chances_by_mode(prospects, parties)
        self.room = np.maximum(most_per_square - prospects.agreed, 0)
        self.capacity = parties.capacity
        self.members = parties.members
        square, self.party, condition = np.nonzero(allowed(prospects, parties))
        self.square = square
        self.start = np.searchsorted(square, np.arange(len(prospects.squares) + 1))
        first_mode = np.searchsorted(np.unique(kinds), parties.kind) * len(prospects.conditions)
        self.mode = first_mode[self.party] + condition
        self.month = np.array([c.month for c in prospects.conditions], dtype="int64")[condition]
        gains = self.worth @ self.detect.T
        self.net = gains[square, self.mode] - parties.travel[self.party, square] / 1000 * cost_a_km

    def solve(self, prices: Numbers) -> tuple[float, Numbers]:
        """Value at these prices, and how many days each volunteer would be used in each month."""
        by_party = np.array([prices[list(m)].sum(axis=0) for m in self.members])
        net = self.net - by_party[self.party, self.month]
        bound = float((prices * self.capacity).sum())
        used = np.zeros(prices.shape)
        worthwhile = np.flatnonzero(net > 0)
        ends = np.searchsorted(worthwhile, self.start)
        for square in np.flatnonzero((np.diff(ends) > 0) & (self.room > 0)).tolist():
            options = self._best_of_each_mode(worthwhile[ends[square] : ends[square + 1]], net)
            worth, made = self._square(square, options, net[options])
            bound += worth
            for option in made:
                for member in self.members[self.party[option]]:
                    used[member, self.month[option]] += 1
        return bound, used

    def _best_of_each_mode(self, options: Whole, net: Numbers) -> Whole:
        """Of options that find the same, only the one that is left with most."""
        order = options[np.lexsort((-net[options], self.mode[options]))]
        first = np.concatenate(([True], np.diff(self.mode[order]) != 0))
        kept: Whole = order[first]
        return kept

    def _square(self, square: int, options: Whole, net: Numbers) -> tuple[float, Whole]:
        """The most that visits to one square can be worth at the prices, and the options that say so."""
        sought = np.flatnonzero(self.worth[square])
        detect = self.detect[np.ix_(self.mode[options], sought)]
        shared = (detect * self.worth[square, sought]) @ detect.T
        worth, made = most_together(net, shared, int(self.room[square]))
        return worth, options[made]


def most_together(net: Numbers, shared: Numbers, most: int) -> tuple[float, Whole]:
    """No visits to one square are worth more together than this; a visit may be made several times.

    Parameters
    ----------
    net
        n: what each visit is worth alone, its price taken off.
    shared
        n × n: what two visits both find, a visit and its like on the diagonal.
    most
        Visits at most.

    Returns
    -------
    The bound, and the visits that say so.

    Examples
    --------
    >>> most_together(np.array([3.0, 2.0]), np.array([[3.0, 0.5], [0.5, 2.0]]), 2)
    (4.5, array([0, 1]))
    """
    more = most - 1
    alike = np.repeat(np.arange(len(net)), max(more - 1, 0))
    alike = alike[np.argsort((np.diag(shared) - net)[alike], kind="stable")][:more]
    first = np.where(net <= net[:, None], net - shared, 0.0)
    second = np.broadcast_to((net - np.diag(shared))[alike], (len(net), len(alike)))
    beside = np.maximum(np.hstack([first, second]), 0.0)
    place = np.argsort(-beside, axis=1, kind="stable")[:, :more]
    worth = net + np.take_along_axis(beside, place, axis=1).sum(axis=1)
    best = int(worth.argmax())
    others = place[best][beside[best, place[best]] > 0]
    return float(worth[best]), np.concatenate([[best], np.concatenate([np.arange(len(net)), alike])[others]])
