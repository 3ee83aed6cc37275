"""What a visit may find: worth, detection and who can go, as plain arrays that the planner works on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from gapmap.visits.volunteers import Volunteer

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Condition:
    """When a visit is made: a month (1 to 12) and day, dusk or night."""

    month: int
    time_of_day: str


@dataclass(frozen=True)
class Prospects:
    """What is to be gained, apart from who gains it.

    Parameters
    ----------
    squares
        Packed squares, S.
    species_id
        Species, K.
    worth
        S × K: chance that the species lives in the square and is still to find or re-find there, times what
        finding it is worth (1 for a species still to find). Zero where there is nothing to gain.
    conditions
        C months and hours in which visits can be made.
    detect
        C × K: chance that one visit then finds the species where it lives.
    open_squares
        S × C: whether the square may be visited then.
    two_people
        S × C: whether the area's rules want two people there then.
    agreed
        S: visits to the square that are settled already and count against the most a square may get.
    """

    squares: Whole
    species_id: Whole
    worth: Numbers
    conditions: tuple[Condition, ...]
    detect: Numbers
    open_squares: npt.NDArray[np.bool_]
    two_people: npt.NDArray[np.bool_]
    agreed: Whole


@dataclass(frozen=True)
class Parties:
    """Those who can go together: everybody alone, and pairs where the rules want two.

    Parameters
    ----------
    members
        Volunteers' numbers of each of P parties, one or two each.
    skills
        P × K: 1 where the party can name the species, 0 where it cannot, or a share between.
    kind
        P: parties with the same skills have the same number.
    travel
        P × S: metres one way, the farther member's; infinite where out of somebody's reach.
    capacity
        V × 13: days each volunteer can give in each month (column 0 is unused).
    may_go
        P × C: whether the members go out at that hour and in that month at all.
    """

    members: tuple[tuple[int, ...], ...]
    skills: Numbers
    kind: Whole
    travel: Numbers
    capacity: Whole
    may_go: npt.NDArray[np.bool_]


def make_parties(volunteers: Sequence[Volunteer], skills: Numbers, travel: Numbers, prospects: Prospects) -> Parties:
    """Put volunteers into parties.

    Parameters
    ----------
    volunteers
        V people.
    skills
        V × K shares of the species they can name.
    travel
        V × S metres.
    prospects
        What is to be gained; pairs are formed only when some square wants two people.
    """
    alone = [(number,) for number in range(len(volunteers))]
    pairs = list(combinations(range(len(volunteers)), 2)) if prospects.two_people.any() else []
    reach = np.array([v.reach_m for v in volunteers]).reshape(-1, 1)
    within = np.where(travel <= reach, travel, np.inf)
    capacity = np.array([[0, *(v.month_days.get(m, 0) for m in range(1, 13))] for v in volunteers], dtype="int64")
    goes = np.array(
        [
            [capacity[n, c.month] > 0 and (c.time_of_day == "day" or v.night) for c in prospects.conditions]
            for n, v in enumerate(volunteers)
        ],
        dtype=bool,
    ).reshape(len(volunteers), len(prospects.conditions))
    pairs = [pair for pair in pairs if np.isfinite(within[list(pair)].max(axis=0)).any()]
    members = [*alone, *pairs]
    together = np.array([skills[list(m)].max(axis=0) for m in members]).reshape(len(members), skills.shape[1])
    _, kind = np.unique(together, axis=0, return_inverse=True)
    return Parties(
        tuple(members),
        together,
        np.asarray(kind, dtype="int64").reshape(-1),
        np.array([within[list(m)].max(axis=0) for m in members]).reshape(len(members), travel.shape[1]),
        capacity.reshape(-1, 13),
        np.array(
            [goes[list(m)].all(axis=0) & _common_day([volunteers[n] for n in m], prospects) for m in members],
            dtype=bool,
        ).reshape(len(members), goes.shape[1]),
    )


def _common_day(people: Sequence[Volunteer], prospects: Prospects) -> npt.NDArray[np.bool_]:
    """C: whether all of them can have a day in common in that month, as far as they named days."""
    common: dict[int, bool] = {}
    for month in {c.month for c in prospects.conditions}:
        named = [{day for day in v.dates if day.month == month} for v in people if has_only_dates(v, month)]
        common[month] = not named or bool(set.intersection(*named))
    return np.array([common[c.month] for c in prospects.conditions], dtype=bool)


def has_only_dates(volunteer: Volunteer, month: int) -> bool:
    """Whether all the days that the volunteer gives in a month are named days."""
    named = sum(day.month == month for day in volunteer.dates)
    return named > 0 and named >= volunteer.month_days.get(month, 0)


def chances_by_mode(prospects: Prospects, parties: Parties) -> tuple[Numbers, Whole, Whole]:
    """Detection for each mode, a mode being a kind of party under a condition.

    Returns
    -------
    detect, kind, condition
        A × K chances, and the kind and condition of each of the A modes.
    """
    kinds, first = np.unique(parties.kind, return_index=True)
    conditions, species = prospects.detect.shape
    detect = parties.skills[first][:, None, :] * prospects.detect[None, :, :]
    detect = detect.reshape(len(first) * conditions, species)
    return detect, np.repeat(kinds, conditions), np.tile(np.arange(conditions), len(kinds))


def allowed(prospects: Prospects, parties: Parties) -> npt.NDArray[np.bool_]:
    """S × P × C: whether the party may visit the square then (reach, hour, rules), capacity apart.

    Two go together where and when the rules want two, and only there.
    """
    are_two = np.array([len(m) >= 2 for m in parties.members], dtype=bool)
    within = np.isfinite(parties.travel).T[:, :, None]
    company = are_two[None, :, None] == prospects.two_people[:, None, :]
    result: npt.NDArray[np.bool_] = within & parties.may_go[None, :, :] & prospects.open_squares[:, None, :] & company
    return result
