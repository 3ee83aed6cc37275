"""Plans against every possible plan counted out by hand, and against the published guarantee of the greedy step.

Outside source: with one limit on the number of visits, a greedy plan reaches at least 1 − 1/e of the best
(Nemhauser, Wolsey and Fisher 1978, theorem 4.2; from memory). Otherwise the check is complete enumeration.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations_with_replacement, product

import numpy as np
import pytest

from gapmap.visits.bound import _Relaxed, upper_bound
from gapmap.visits.exact import best_plan
from gapmap.visits.plan import Choice, Plan, plan
from gapmap.visits.prospects import Condition, Parties, Prospects, chances_by_mode, make_parties
from gapmap.visits.volunteers import Volunteer


def small_case(
    seed: int, squares: int = 3, people: int = 2, days: int = 2, pairs: bool = False
) -> tuple[Prospects, Parties]:
    rng = np.random.default_rng(seed)
    species = 4
    conditions = (Condition(5, "day"), Condition(5, "night"), Condition(9, "day"))
    prospects = Prospects(
        squares=np.arange(squares),
        species_id=np.arange(species),
        worth=rng.random((squares, species)),
        conditions=conditions,
        detect=rng.random((len(conditions), species)) * 0.7,
        open_squares=np.ones((squares, len(conditions)), dtype=bool),
        two_people=np.full((squares, len(conditions)), pairs),
        agreed=np.zeros(squares, dtype="int64"),
    )
    volunteers = [
        Volunteer(f"Volunteer {n}", 0, 0, 30_000, {5: 1, 9: days - 1} if days > 1 else {5: 1}, (), bool(n % 2 == 0))
        for n in range(people)
    ]
    travel = rng.uniform(1_000, 40_000, (people, squares))
    skills = np.where(rng.random((people, species)) < 0.8, 1.0, 0.2)
    return prospects, make_parties(volunteers, skills, travel, prospects)


def value_of(choices: tuple[Choice, ...], prospects: Prospects, parties: Parties, cost_a_km: float) -> float:
    """Straight from the definition: worth times the chance that at least one visit finds it, less travel."""
    total = 0.0
    for square in range(len(prospects.squares)):
        missed = np.ones(len(prospects.species_id))
        for choice in (c for c in choices if c.square == square):
            missed *= 1 - parties.skills[choice.party] * prospects.detect[choice.condition]
        total += float((prospects.worth[square] * (1 - missed)).sum())
    return total - sum(parties.travel[c.party, c.square] / 1000 * cost_a_km for c in choices)


def is_within_rules(choices: tuple[Choice, ...], prospects: Prospects, parties: Parties, most: int) -> bool:
    used = np.zeros_like(parties.capacity)
    at = np.zeros(len(prospects.squares), dtype=int)
    for c in choices:
        alone = len(parties.members[c.party]) == 1
        if not np.isfinite(parties.travel[c.party, c.square]) or not parties.may_go[c.party, c.condition]:
            return False
        if alone == bool(prospects.two_people[c.square, c.condition]):
            return False
        used[list(parties.members[c.party]), prospects.conditions[c.condition].month] += 1
        at[c.square] += 1
    return bool((used <= parties.capacity).all() and (at + prospects.agreed <= most).all())


def best_by_counting(prospects: Prospects, parties: Parties, most: int, cost_a_km: float) -> float:
    options = [
        Choice(*o)
        for o in product(range(len(prospects.squares)), range(len(parties.members)), range(len(prospects.conditions)))
    ]
    best = 0.0
    for size in range(1, int(parties.capacity.sum()) + 1):
        for choices in combinations_with_replacement(options, size):
            if is_within_rules(choices, prospects, parties, most):
                best = max(best, value_of(choices, prospects, parties, cost_a_km))
    return best


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("pairs", [False, True])
def test_the_integer_programme_finds_the_best_of_all_plans(seed: int, pairs: bool) -> None:
    prospects, parties = small_case(seed, pairs=pairs)
    at_hand = plan(prospects, parties, cost_a_km=0.01, most_per_square=2, improvements=0)
    bound = upper_bound(prospects, parties, at_hand, cost_a_km=0.01, most_per_square=2)
    best = best_by_counting(prospects, parties, 2, 0.01)
    found, proven = best_plan(prospects, parties, at_hand, bound, cost_a_km=0.01, most_per_square=2)
    assert proven
    assert found.value == pytest.approx(best, abs=1e-7)
    assert bound.value >= best - 1e-9
    assert at_hand.value <= best + 1e-9
    assert is_within_rules(found.choices, prospects, parties, 2)


@pytest.mark.parametrize("seed", range(12))
def test_whatever_the_days_are_priced_at_no_plan_passes_the_bound(seed: int) -> None:
    """Weak duality (Fisher 1981): the bound holds at all prices, so that it must at those drawn here by lot."""
    prospects, parties = small_case(seed, squares=1 + seed % 2, people=4 - seed % 2, days=1)
    best = best_by_counting(prospects, parties, 3, 0.0)
    rng = np.random.default_rng(seed)
    for _ in range(30):
        prices = rng.uniform(0, rng.choice([0.2, 0.6, 1.2]), parties.capacity.shape)
        bound, _ = _Relaxed(prospects, parties, 0.0, 3).solve(prices)
        assert bound >= best - 1e-9


def test_three_visits_may_be_worth_what_no_two_of_them_are() -> None:
    """Counted by hand: Ann, Ben and Cy find ten species each, three of them the same, 24 together; Dee, dearer, finds
    those three and four more of each, and seven elsewhere. The best is 24 + 7; no pair passes Dee alone in the first square.
    """
    finds = np.zeros((4, 31))
    finds[:, :3] = 1
    for person in range(3):
        own = 3 + 7 * person
        finds[person, own : own + 7] = finds[3, own : own + 4] = 1
    finds[3, 24:] = 1
    worth = np.zeros((2, 31))
    worth[0, :24] = worth[1, 24:] = 1
    by_day = Condition(5, "day")
    prospects = Prospects(
        squares=np.arange(2), species_id=np.arange(31), worth=worth, conditions=(by_day,), detect=np.ones((1, 31)),
        open_squares=np.ones((2, 1), dtype=bool), two_people=np.zeros((2, 1), dtype=bool), agreed=np.zeros(2, dtype="int64"),
    )  # fmt: skip
    people = [Volunteer(name, 0, 0, 10_000, {5: 1}) for name in ("Ann", "Ben", "Cy", "Dee")]
    parties = make_parties(people, finds, np.zeros((4, 2)), prospects)
    prices = np.zeros(parties.capacity.shape)
    prices[:, 5] = 5, 5, 5, 7
    bound, _ = _Relaxed(prospects, parties, 0.0, 3).solve(prices)
    assert bound >= 24 + 7
    assert plan(prospects, parties).value == pytest.approx(24 + 7)


@pytest.mark.parametrize("seed", range(20))
def test_plans_keep_the_rules_and_say_their_true_value(seed: int) -> None:
    prospects, parties = small_case(seed, squares=12, people=4, days=4)
    made = plan(prospects, parties, cost_a_km=0.02)
    assert is_within_rules(made.choices, prospects, parties, 3)
    assert made.value == pytest.approx(value_of(made.choices, prospects, parties, 0.02))
    bound = upper_bound(prospects, parties, made, cost_a_km=0.02)
    assert made.value <= bound.value + 1e-9
    assert made == plan(prospects, parties, cost_a_km=0.02), "the same input gives the same plan"


@pytest.mark.parametrize("seed", range(8))
def test_greedy_alone_keeps_the_published_guarantee(seed: int) -> None:
    prospects, parties = small_case(seed, squares=3, people=1, days=1)
    greedy = plan(prospects, parties, improvements=0)
    best = best_by_counting(prospects, parties, 3, 0.0)
    assert greedy.value >= (1 - 1 / np.e) * best - 1e-9


def test_a_pair_parts_where_two_others_would_stay_at_home() -> None:
    condition = Condition(5, "day")
    prospects = Prospects(
        squares=np.arange(3), species_id=np.arange(1), worth=np.array([[1.0], [0.9], [0.9]]), conditions=(condition,),
        detect=np.array([[1.0]]), open_squares=np.ones((3, 1), dtype=bool), two_people=np.ones((3, 1), dtype=bool),
        agreed=np.zeros(3, dtype="int64"),
    )  # fmt: skip
    people = [Volunteer(name, 0, 0, 10_000, {5: 1}) for name in ("Ann", "Ben", "Cy", "Dee")]
    near, far = 1_000.0, 99_000.0
    travel = np.array([[near, near, far], [near, far, near], [far, near, far], [far, far, near]])
    parties = make_parties(people, np.ones((4, 1)), travel, prospects)
    assert plan(prospects, parties, improvements=0).value == pytest.approx(1.0), "Ann and Ben go, two stay at home"
    made = plan(prospects, parties)
    assert made.value == pytest.approx(1.8)
    assert {parties.members[choice.party] for choice in made.choices} == {(0, 2), (1, 3)}


def test_agreed_visits_count_against_the_most_a_square_may_get() -> None:
    prospects, parties = small_case(3, squares=12, people=4, days=4)
    prospects = replace(prospects, agreed=np.full(12, 1))
    around = plan(prospects, parties, most_per_square=2)
    assert around.choices
    assert is_within_rules(around.choices, prospects, parties, 2)
    assert plan(replace(prospects, agreed=np.full(12, 2)), parties, most_per_square=2).choices == ()
    bound = upper_bound(prospects, parties, around, most_per_square=2)
    assert around.value <= bound.value + 1e-9


def test_a_second_visit_adds_less_than_the_first() -> None:
    prospects, parties = small_case(5)
    chances, _, _ = chances_by_mode(prospects, parties)
    first = prospects.worth[0] * chances[0]
    again = (prospects.worth[0] - first) * chances[0]
    assert again.sum() < first.sum()


def test_nobody_to_send_gives_an_empty_plan() -> None:
    prospects, _ = small_case(1)
    none = make_parties([], np.zeros((0, 4)), np.zeros((0, 3)), prospects)
    assert plan(prospects, none) == Plan((), (), 0.0)
    assert upper_bound(prospects, none, Plan((), (), 0.0)).value == 0.0
