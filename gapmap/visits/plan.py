"""Who goes where and when, for the most gain.

The gain of visits to one square is the worth found at least once, so a second visit adds less than the first:
the gain is submodular. A greedy plan (each step the visit that adds most) is improved by taking visits out and
putting better ones in; ``bound.py`` says how close to the best possible it is.

Source: G. L. Nemhauser, L. A. Wolsey and M. L. Fisher (1978), "An analysis of approximations for maximizing
submodular set functions", Mathematical Programming 14.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from gapmap.visits.prospects import Parties, Prospects, allowed, chances_by_mode

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
_NEVER = -np.inf


@dataclass(frozen=True)
class Choice:
    """One visit: numbers of the square, the party and the condition."""

    square: int
    party: int
    condition: int


@dataclass(frozen=True)
class Plan:
    """The chosen visits, in the order of the gain they add, and what they are worth together.

    Parameters
    ----------
    choices
        Visits.
    gains
        Species × squares that each adds to those before it.
    value
        Their sum less the cost of travel, in species × squares.
    """

    choices: tuple[Choice, ...]
    gains: tuple[float, ...]
    value: float


@dataclass
class _Desk:
    """The state of a plan in the making."""

    prospects: Prospects
    parties: Parties
    cost: Numbers
    most_per_square: int
    detect: Numbers = field(init=False)
    mode_of: Whole = field(init=False)
    may: npt.NDArray[np.bool_] = field(init=False)
    left: Numbers = field(init=False)
    capacity: Whole = field(init=False)
    visits_at: Whole = field(init=False)
    value: Numbers = field(init=False)
    members: tuple[Whole, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.detect, kinds, _ = chances_by_mode(self.prospects, self.parties)
        conditions = len(self.prospects.conditions)
        first_mode = np.searchsorted(np.unique(kinds), self.parties.kind) * conditions
        self.mode_of = first_mode[:, None] + np.arange(conditions)[None, :]
        self.may = allowed(self.prospects, self.parties)
        self.left = self.prospects.worth.copy()
        self.capacity = self.parties.capacity.copy()
        self.visits_at = np.zeros(len(self.prospects.squares), dtype="int64")
        self.members = tuple(np.array(m, dtype="int64") for m in self.parties.members)
        months = np.array([c.month for c in self.prospects.conditions], dtype="int64")
        self.month_of = months
        self.value = np.full(self.may.shape, _NEVER)
        gains = self.left @ self.detect.T
        for square in range(len(self.visits_at)):
            self.refresh(square, gains[square])

    def refresh(self, square: int, gains: Numbers | None = None) -> None:
        """Work out again what each party would add at one square."""
        if self.visits_at[square] >= self.most_per_square:
            self.value[square] = _NEVER
            return
        gains = self.detect @ self.left[square] if gains is None else gains
        each = gains[self.mode_of] - self.cost[:, square, None]
        self.value[square] = np.where(self.may[square], each, _NEVER)

    def has_days(self) -> npt.NDArray[np.bool_]:
        """P × C: whether every member has a day left in that month."""
        days = np.array([self.capacity[m].min(axis=0) for m in self.members]).reshape(len(self.members), 13)
        return days[:, self.month_of] > 0

    def best(self) -> tuple[Choice, float] | None:
        """The visit that adds most; None when none adds anything."""
        possible = np.where(self.has_days()[None, :, :], self.value, _NEVER)
        if not possible.size:
            return None
        place = int(possible.argmax())
        square, party, condition = (int(n) for n in np.unravel_index(place, possible.shape))
        worth = float(possible[square, party, condition])
        return (Choice(square, party, condition), worth) if worth > 1e-9 else None

    def put(self, choice: Choice) -> None:
        """Add a visit."""
        self._change(choice, -1)

    def take(self, choice: Choice, others: Sequence[Choice]) -> None:
        """Take a visit out again; ``others`` are those that stay."""
        self._change(choice, +1)
        self.left[choice.square] = self.prospects.worth[choice.square]
        for other in others:
            if other.square == choice.square:
                self.left[choice.square] *= 1 - self.chances(other)
        self.refresh(choice.square)

    def chances(self, choice: Choice) -> Numbers:
        """K: chance that the visit finds each species where it lives."""
        chances: Numbers = self.detect[self.mode_of[choice.party, choice.condition]]
        return chances

    def _change(self, choice: Choice, days: int) -> None:
        self.capacity[self.members[choice.party], self.month_of[choice.condition]] += days
        self.visits_at[choice.square] -= days
        if days < 0:
            self.left[choice.square] = self.left[choice.square] * (1 - self.chances(choice))
            self.refresh(choice.square)


def plan(
    prospects: Prospects,
    parties: Parties,
    *,
    cost_a_km: float = 0.0,
    most_per_square: int = 3,
    kept: Sequence[Choice] = (),
    improvements: int = 4,
) -> Plan:
    """Choose visits within everybody's days, reach and rules for the most gain.

    Parameters
    ----------
    prospects
        What is to be gained where and when.
    parties
        Who can go.
    cost_a_km
        What a kilometre of travel, one way, costs in species × squares.
    most_per_square
        Visits to one square at most.
    kept
        Visits already agreed: they stay, and the rest is planned around them.
    improvements
        Rounds of taking each visit out and putting the best possible one in its place.

    Returns
    -------
    Plan
        Empty when nobody can go anywhere. The same input gives the same plan.
    """
    cost = np.where(np.isfinite(parties.travel), parties.travel, 0.0) / 1000 * cost_a_km
    desk = _Desk(prospects, parties, cost, most_per_square)
    chosen = list(kept)
    for choice in chosen:
        desk.put(choice)
    _fill(desk, chosen)
    for _ in range(improvements):
        if not _improve(desk, chosen, len(kept)):
            break
    return _valued(chosen, prospects, desk)


def _fill(desk: _Desk, chosen: list[Choice]) -> None:
    while (found := desk.best()) is not None:
        desk.put(found[0])
        chosen.append(found[0])


def _improve(desk: _Desk, chosen: list[Choice], fixed: int) -> bool:
    better = False
    for place in range(fixed, len(chosen)):
        old = chosen[place]
        others = chosen[:place] + chosen[place + 1 :]
        desk.take(old, others)
        worth_of_old = float(desk.value[old.square, old.party, old.condition])
        found = desk.best()
        if found is not None and found[1] > worth_of_old + 1e-9:
            chosen[place] = found[0]
            better = True
        desk.put(chosen[place])
    _fill(desk, chosen)
    return better


def _valued(chosen: list[Choice], prospects: Prospects, desk: _Desk) -> Plan:
    left = prospects.worth.copy()
    gains = []
    for choice in chosen:
        found = left[choice.square] * desk.chances(choice)
        left[choice.square] -= found
        gains.append(float(found.sum()))
    travel = sum(float(desk.cost[c.party, c.square]) for c in chosen)
    return Plan(tuple(chosen), tuple(gains), sum(gains) - travel)
