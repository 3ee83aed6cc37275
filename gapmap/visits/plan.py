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
    """The chosen visits, what each adds to those before it, and what they are worth together.

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
    """The state of a plan in the making: every visit that the rules allow, in the order of squares."""

    prospects: Prospects
    parties: Parties
    cost_a_km: float
    most_per_square: int
    detect: Numbers = field(init=False)
    left: Numbers = field(init=False)
    capacity: Whole = field(init=False)
    visits_at: Whole = field(init=False)
    party: Whole = field(init=False)
    condition: Whole = field(init=False)
    mode: Whole = field(init=False)
    start: Whole = field(init=False)
    cost: Numbers = field(init=False)
    value: Numbers = field(init=False)
    live: Numbers = field(init=False)

    def __post_init__(self) -> None:
        prospects, parties = self.prospects, self.parties
        self.detect, kinds, _ = chances_by_mode(prospects, parties)
        self.first_mode = np.searchsorted(np.unique(kinds), parties.kind) * len(prospects.conditions)
        square, self.party, self.condition = (
            np.ascontiguousarray(axis) for axis in np.nonzero(allowed(prospects, parties))
        )
        self.square = square
        self.start = np.searchsorted(square, np.arange(len(prospects.squares) + 1))
        self.mode = self.first_mode[self.party] + self.condition
        self.cost = parties.travel[self.party, square] / 1000 * self.cost_a_km
        self.left = prospects.worth.copy()
        self.capacity = parties.capacity.copy()
        self.visits_at = prospects.agreed.copy()
        self.members = tuple(np.array(m, dtype="int64") for m in parties.members)
        self.month_of = np.array([c.month for c in prospects.conditions], dtype="int64")
        gains = self.left @ self.detect.T
        self.value = gains[square, self.mode] - self.cost if len(square) else np.zeros(0)
        self.value[self.visits_at[square] >= self.most_per_square] = _NEVER
        self._group_by_days()
        self.live = self.value.copy()

    def _group_by_days(self) -> None:
        """For each volunteer and month, the visits that would take one of those days."""
        month = self.month_of[self.condition] if len(self.condition) else np.zeros(0, dtype="int64")
        volunteers = len(self.capacity)
        widest = max((len(m) for m in self.members), default=1)
        table = np.full((len(self.members), widest), -1, dtype="int64")
        for row, members in enumerate(self.members):
            table[row, : len(members)] = members
        self.days_of = np.where(table[self.party] >= 0, table[self.party] * 13 + month[:, None], -1)
        options, _ = np.nonzero(self.days_of >= 0)
        days = self.days_of[self.days_of >= 0]
        order = np.argsort(days, kind="stable")
        ends = np.searchsorted(days[order], np.arange(volunteers * 13 + 1))
        self.with_day = [options[order[ends[n] : ends[n + 1]]] for n in range(volunteers * 13)]

    def refresh(self, square: int) -> None:
        """Work out again what each visit would add at one square."""
        part = slice(self.start[square], self.start[square + 1])
        if self.visits_at[square] >= self.most_per_square:
            self.value[part] = _NEVER
        else:
            self.value[part] = (self.detect @ self.left[square])[self.mode[part]] - self.cost[part]
        self._reopen(np.arange(part.start, part.stop))

    def _reopen(self, options: Whole) -> None:
        days = self.days_of[options]
        free = ((self.capacity.reshape(-1)[days] > 0) | (days < 0)).all(axis=1)
        self.live[options] = np.where(free, self.value[options], _NEVER)

    def best(self, without: int = -1) -> tuple[Choice, float] | None:
        """The visit that adds most, but for those of one party; None when none adds anything."""
        if not len(self.live):
            return None
        live = self.live if without < 0 else np.where(self.party == without, _NEVER, self.live)
        place = int(live.argmax())
        worth = float(live[place])
        if worth <= 1e-9:
            return None
        return Choice(int(self.square[place]), int(self.party[place]), int(self.condition[place])), worth

    def worth_of(self, choice: Choice) -> float:
        """What a visit would add now."""
        gain = float(self.chances(choice) @ self.left[choice.square])
        return gain - float(self.parties.travel[choice.party, choice.square]) / 1000 * self.cost_a_km

    def put(self, choice: Choice) -> None:
        """Add a visit."""
        self.left[choice.square] = self.left[choice.square] * (1 - self.chances(choice))
        self._change(choice, -1)

    def take(self, choice: Choice, others: Sequence[Choice]) -> None:
        """Take a visit out again; ``others`` are those that stay."""
        self.left[choice.square] = self.prospects.worth[choice.square]
        for other in others:
            if other.square == choice.square:
                self.left[choice.square] *= 1 - self.chances(other)
        self._change(choice, +1)

    def chances(self, choice: Choice) -> Numbers:
        """K: chance that the visit finds each species where it lives."""
        chances: Numbers = self.detect[self.first_mode[choice.party] + choice.condition]
        return chances

    def _change(self, choice: Choice, days: int) -> None:
        month = self.month_of[choice.condition]
        self.visits_at[choice.square] -= days
        for member in self.members[choice.party]:
            before = self.capacity[member, month]
            self.capacity[member, month] = before + days
            if before == 0 or before + days == 0:
                self._reopen(self.with_day[member * 13 + month])
        self.refresh(choice.square)


def plan(
    prospects: Prospects,
    parties: Parties,
    *,
    cost_a_km: float = 0.0,
    most_per_square: int = 3,
    improvements: int = 6,
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
        Visits to one square at most, those already agreed among them.
    improvements
        Rounds of taking each visit out and putting the best possible one in its place.

    Returns
    -------
    Plan
        Empty when nobody can go anywhere. The same input gives the same plan.
    """
    desk = _Desk(prospects, parties, cost_a_km, most_per_square)
    chosen: list[Choice] = []
    _fill(desk, chosen)
    for _ in range(improvements):
        better = _improve(desk, chosen)
        if not (_part(desk, chosen) or better):
            break
    return _valued(chosen, desk)


def _fill(desk: _Desk, chosen: list[Choice]) -> None:
    while (found := desk.best()) is not None:
        desk.put(found[0])
        chosen.append(found[0])


def _improve(desk: _Desk, chosen: list[Choice]) -> bool:
    better = False
    for place, old in enumerate(tuple(chosen)):
        desk.take(old, chosen[:place] + chosen[place + 1 :])
        found = desk.best()
        if found is not None and found[1] > desk.worth_of(old) + 1e-9:
            chosen[place] = found[0]
            better = True
        desk.put(chosen[place])
    _fill(desk, chosen)
    return better


def _part(desk: _Desk, chosen: list[Choice]) -> bool:
    """Let pairs part where each of the two finds somebody else to go with, and two visits gain more than one."""
    better = False
    for place, old in enumerate(tuple(chosen)):
        if len(desk.members[old.party]) < 2:
            continue
        others = chosen[:place] + chosen[place + 1 :]
        desk.take(old, others)
        worth, first = desk.worth_of(old), desk.best(without=old.party)
        if first is None:
            desk.put(old)
            continue
        desk.put(first[0])
        second = desk.best(without=old.party)
        if second is not None and first[1] + second[1] > worth + 1e-9:
            desk.put(second[0])
            chosen[place] = first[0]
            chosen.append(second[0])
            better = True
        else:
            desk.take(first[0], others)
            desk.put(old)
    return better


def _valued(chosen: list[Choice], desk: _Desk) -> Plan:
    left = desk.prospects.worth.copy()
    gains = []
    for choice in chosen:
        found = left[choice.square] * desk.chances(choice)
        left[choice.square] -= found
        gains.append(float(found.sum()))
    travel = sum(float(desk.parties.travel[c.party, c.square]) / 1000 * desk.cost_a_km for c in chosen)
    return Plan(tuple(chosen), tuple(gains), sum(gains) - travel)
