"""How good the best possible plan could be: an upper bound that no plan can pass.

Days are given a price for each volunteer and month (Lagrangian relaxation); at those prices every square can be
solved on its own. Within a square, a set of visits gains no more than along a chain in which each visit is
credited with what it adds to the one before it, because the gain is submodular. Prices are improved by
subgradient steps; every set of prices gives a valid bound and the lowest seen is returned.

Source: M. L. Fisher (1981), "The Lagrangian relaxation method for solving integer programming problems",
Management Science 27, for the relaxation and the step rule; the chain bound follows from submodularity alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from gapmap.visits.plan import Plan
from gapmap.visits.prospects import Parties, Prospects, allowed, chances_by_mode

Numbers = npt.NDArray[np.float64]


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
    for _ in range(rounds):
        bound, used = relaxed.solve(prices)
        if bound < best - 1e-9:
            best, best_prices, since = bound, prices, 0
        else:
            since += 1
            if since >= 5:
                scale, since = scale / 2, 0
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
    """The problem with the days priced instead of limited."""

    def __init__(self, prospects: Prospects, parties: Parties, cost_a_km: float, most_per_square: int) -> None:
        self.worth = prospects.worth
        self.detect, kinds, conditions = chances_by_mode(prospects, parties)
        self.gains = self.worth @ self.detect.T
        self.room = np.maximum(most_per_square - prospects.agreed, 0)
        self.capacity = parties.capacity
        months = np.array([c.month for c in prospects.conditions], dtype="int64")
        may = allowed(prospects, parties)
        travel = np.where(np.isfinite(parties.travel), parties.travel, 0.0) / 1000 * cost_a_km
        self.members = parties.members
        self.month = months[conditions]
        self.options = []
        for kind, condition in zip(kinds, conditions, strict=True):
            rows = np.flatnonzero(parties.kind == kind)
            cost = np.where(may[:, rows, condition], travel[rows].T, np.inf)
            self.options.append((rows, cost))

    def solve(self, prices: Numbers) -> tuple[float, Numbers]:
        """Value at these prices, and how many days each volunteer would be used in each month."""
        net, party = self._net(prices)
        bound = float((prices * self.capacity).sum())
        used = np.zeros(prices.shape)
        for square in np.flatnonzero((net.max(axis=1) > 0) & (self.room > 0)).tolist():
            worth, modes = self._square(square, net[square])
            bound += worth
            for mode in modes:
                for member in self.members[party[square, mode]]:
                    used[member, self.month[mode]] += 1
        return bound, used

    def _net(self, prices: Numbers) -> tuple[Numbers, npt.NDArray[np.int64]]:
        net = np.empty(self.gains.shape)
        party = np.zeros(self.gains.shape, dtype="int64")
        by_party = np.array([prices[list(m)].sum(axis=0) for m in self.members])
        squares = np.arange(len(self.gains))
        for mode, (rows, cost) in enumerate(self.options):
            priced = cost + by_party[rows, self.month[mode]][None, :]
            cheapest = priced.argmin(axis=1)
            net[:, mode] = self.gains[:, mode] - priced[squares, cheapest]
            party[:, mode] = rows[cheapest]
        return net, party

    def _square(self, square: int, net: Numbers) -> tuple[float, list[int]]:
        """Best chain of visits to one square: its value at the prices, and its modes."""
        modes = np.flatnonzero(net > 0)
        detect = self.detect[modes]
        shared = (detect * self.worth[square]) @ detect.T
        value = net[modes]
        chains = [[int(mode)] for mode in range(len(modes))]
        best, best_chain = float(value.max()), chains[int(value.argmax())]
        for _ in range(1, self.room[square]):
            grown = value[:, None] - shared + net[modes][None, :]
            before = grown.argmax(axis=0)
            value = grown[before, np.arange(len(modes))]
            chains = [[*chains[int(before[mode])], mode] for mode in range(len(modes))]
            if value.max() <= best:
                break
            best, best_chain = float(value.max()), chains[int(value.argmax())]
        return best, [int(modes[mode]) for mode in best_chain]
