"""The best possible plan, proven, for areas of ordinary size.

Every set of visits to one square that could still stand in the best plan becomes a column of an integer
programme: at most one column a square, nobody more days than they give. Which columns can be left out is decided
by the prices of the bound (reduced costs): one that loses more than the gap between bound and plan is in no
better plan. HiGHS solves the rest.

Source: Q. Huangfu and J. A. J. Hall (2018), "Parallelizing the dual revised simplex method", Mathematical
Programming Computation 10, for HiGHS, which scipy carries.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from gapmap.visits.bound import Bound
from gapmap.visits.plan import Choice, Plan
from gapmap.visits.prospects import Parties, Prospects, allowed, chances_by_mode

Numbers = npt.NDArray[np.float64]
_Column = tuple[float, float, tuple[Choice, ...]]  # loss at the prices, value, visits
_Option = tuple[Choice, Numbers, float, float]  # visit, chances, travel, price of its days
_Grown = tuple[tuple[int, ...], Numbers, float]  # options taken, worth left, net of prices
_WIDEST_LAYER = 40


def best_plan(
    prospects: Prospects,
    parties: Parties,
    plan: Plan,
    bound: Bound,
    *,
    cost_a_km: float = 0.0,
    most_per_square: int = 3,
    seconds: float = 20.0,
    most_columns: int = 12_000,
) -> tuple[Plan, bool]:
    """Find a better plan, the best there is where that can be proven.

    Parameters
    ----------
    prospects, parties, cost_a_km, most_per_square
        As for ``plan``.
    plan, bound
        A plan at hand and a bound on the best.
    seconds
        Time that HiGHS may take.
    most_columns
        Sets of visits to weigh at most; beyond it those that lose most at the prices are left out.

    Returns
    -------
    Plan, bool
        Never worse than the plan at hand; true when no better one exists.
    """
    if not allowed(prospects, parties).any():
        return plan, True
    gap = bound.value - plan.value
    columns, complete = _columns(prospects, parties, bound, gap, cost_a_km, most_per_square, most_columns)
    chosen, finished = _solve(columns, prospects, parties, seconds) if columns else ([], True)
    found = _as_plan(chosen, prospects, parties, cost_a_km)
    better = found if found.value > plan.value + 1e-9 else plan
    return better, complete and finished


def _columns(
    prospects: Prospects,
    parties: Parties,
    bound: Bound,
    gap: float,
    cost_a_km: float,
    most: int,
    most_columns: int,
) -> tuple[list[_Column], bool]:
    may = allowed(prospects, parties)
    months = np.array([c.month for c in prospects.conditions])
    by_party = np.array([bound.prices[list(m)].sum(axis=0) for m in parties.members])[:, months]
    travel = np.where(np.isfinite(parties.travel), parties.travel, 0.0) / 1000 * cost_a_km
    chances, kinds, _ = chances_by_mode(prospects, parties)
    first = np.searchsorted(np.unique(kinds), parties.kind) * len(prospects.conditions)
    found: list[_Column] = []
    complete = True
    for square in range(len(prospects.squares)):
        options = [
            (Choice(square, int(p), int(c)), chances[first[p] + c], float(travel[p, square]), float(by_party[p, c]))
            for p, c in np.argwhere(may[square])
        ]
        room = most - int(prospects.agreed[square])
        grown, all_of_them = _sets(options, prospects.worth[square], room, gap)
        complete &= all_of_them
        found += grown
    if len(found) > most_columns:
        found = sorted(found, key=lambda column: column[0])[:most_columns]
        complete = False
    return found, complete


def _sets(options: list[_Option], worth: Numbers, most: int, gap: float) -> tuple[list[_Column], bool]:
    """Sets of visits to one square whose loss at the prices is within the gap, and whether they are all of them."""
    if not options or most < 1:
        return [], True
    chances = np.array([o[1] for o in options])
    travel = np.array([o[2] for o in options])
    price = np.array([o[3] for o in options])
    alone = chances @ worth - travel - price
    useful = np.flatnonzero(alone > -gap)
    layer: list[_Grown] = [((int(n),), worth * (1 - chances[n]), float(alone[n])) for n in useful]
    best = max([0.0, *(net for _, _, net in layer)])
    kept, complete = [(members, net) for members, _, net in layer], True
    for size in range(2, most + 1):
        following: list[_Grown] = []
        for members, left, net in layer:
            adds = chances[useful] @ left - travel[useful] - price[useful]
            most_added = float(adds.max(initial=0.0))
            best = max(best, net + most_added)
            hopeful = net + adds + (most - size) * most_added >= best - gap
            for place in np.flatnonzero((useful >= members[-1]) & hopeful & (adds > -gap)):
                number = int(useful[place])
                following.append(((*members, number), left * (1 - chances[number]), net + float(adds[place])))
        if len(following) > _WIDEST_LAYER:
            following = sorted(following, key=lambda each: -each[2])[:_WIDEST_LAYER]
            complete = False
        kept += [(members, net) for members, _, net in following]
        layer = following
    sets = [
        (best - net, net + float(price[list(members)].sum()), tuple(options[n][0] for n in members))
        for members, net in kept
        if net >= best - gap - 1e-9
    ]
    return sets, complete


def _solve(columns: list[_Column], prospects: Prospects, parties: Parties, seconds: float) -> tuple[list[Choice], bool]:
    rows, places, days = [], [], []
    squares = {square: n for n, square in enumerate(sorted({choices[0].square for _, _, choices in columns}))}
    for place, (_, _, choices) in enumerate(columns):
        rows.append(squares[choices[0].square])
        places.append(place)
        days.append(1.0)
        for choice in choices:
            for member in parties.members[choice.party]:
                rows.append(len(squares) + member * 13 + prospects.conditions[choice.condition].month)
                places.append(place)
                days.append(1.0)
    height = len(squares) + parties.capacity.size
    matrix = csr_array((days, (rows, places)), shape=(height, len(columns)))
    limits = np.concatenate([np.ones(len(squares)), parties.capacity.reshape(-1)])
    values = np.array([value for _, value, _ in columns])
    done = milp(
        -values,
        constraints=LinearConstraint(matrix, -np.inf, limits),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, 1),
        options={"time_limit": seconds, "mip_rel_gap": 1e-6},
    )
    if done.x is None:
        return [], False
    return [choice for place in np.flatnonzero(done.x > 0.5) for choice in columns[place][2]], done.status == 0


def _as_plan(chosen: list[Choice], prospects: Prospects, parties: Parties, cost_a_km: float) -> Plan:
    chances, kinds, _ = chances_by_mode(prospects, parties)
    first = np.searchsorted(np.unique(kinds), parties.kind) * len(prospects.conditions)
    left, gains, travel = prospects.worth.copy(), [], 0.0
    ordered = sorted(chosen, key=lambda c: (c.square, c.condition, c.party))
    for choice in ordered:
        found = left[choice.square] * chances[first[choice.party] + choice.condition]
        left[choice.square] -= found
        gains.append(float(found.sum()))
        travel += float(parties.travel[choice.party, choice.square]) / 1000 * cost_a_km
    return Plan(tuple(ordered), tuple(gains), sum(gains) - travel)
