"""What no plan could pass on the invented islands, beside what the plan, and somebody who knows the truth, expect.

Everything is the expected gain by the islands' own rules, luck averaged out: species × squares found that are not
known from the last date class. The bound holds for every choice of people, squares, months and hours within the days
given and at most six visits a square (a pair, which finds no more than its two members apart, counts as two of them).

Days are given prices, so that every square can be solved on its own, as in gapmap/visits/bound.py, which names the
sources; any prices give a valid bound, and better ones are sought by subgradients.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from island_truth import chances
from isles import ISLANDS, TIMES, Isle, by_habit, knowing, make_isle, with_days
from scipy import stats

from gapmap.visits.bound import most_together

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
SHARES = {"all": 1.0, "a half": 1 / 2, "a third": 1 / 3, "a quarter": 1 / 4, "a sixth": 1 / 6, "a twelfth": 1 / 12}
#: Ties among squares with as few records are drawn so often; steps of the prices; visits to a square.
_DRAWS, _ROUNDS, _MOST = 10, 200, 6


@dataclass(frozen=True)
class Options:
    """Visits that could be made to one square: whose, when, what each finds alone, and what two find twice."""

    person: Whole
    month: Whole
    gain: Numbers
    shared: Numbers


def ceilings() -> None:
    """Bound, best known plan and the plan itself over fewest records first, for several numbers of days."""
    rows = []
    for seed in ISLANDS:
        whole = make_isle(seed)
        chance = chances(whole.fauna, whole.people, whole.squares)
        squares = options_of(whole, chance)
        for words, share in SHARES.items():
            isle = with_days(whole, share)
            visits, best = isle.season.visits, knowing(isle, chance)
            habits = [by_habit("fewest records first", visits, isle, draw) for draw in range(_DRAWS)]
            plain = float(np.mean([expected_gain(isle, chance, habit) for habit in habits]))
            reached = expected_gain(isle, chance, best)
            bound = upper_bound(squares, isle.days, reached)
            gains = (expected_gain(isle, chance, visits), reached, bound)
            rows.append((words, seed, len(visits), plain, *(gain / plain for gain in gains)))
            print("{} of the days, island {}: {} days, fewest records first {:.0f}; plan {:.3f}, knowing {:.3f}, bound "
                  "{:.3f}".format(*rows[-1]), flush=True)  # fmt: skip
    names = ["share", "island", "days", "fewest", "plan", "knowing", "bound"]
    for words, part in pd.DataFrame(rows, columns=names).groupby("share", sort=False):
        told = "; ".join(f"{name} {_interval(part[name].tolist())}" for name in names[4:])
        print(f"{words}, {part['days'].mean():.0f} days: fewest {part['fewest'].mean():.0f}; {told}")


def expected_gain(isle: Isle, chance: npt.NDArray[np.float32], visits: pd.DataFrame) -> float:
    """Species × squares that lone visits find on average."""
    row = pd.Index(isle.squares).get_indexer(pd.Index(visits["square"]))
    number = {person.name: n for n, person in enumerate(isle.people)}
    missed = np.ones(isle.worth.shape)
    for at, name, month, hour in zip(row, visits["volunteer"], visits["month"], visits["time_of_day"], strict=True):
        missed[at] *= 1 - chance[number[name], at, month - 1, TIMES.index(hour)]
    return float(((1 - missed) * isle.worth).sum())


def options_of(isle: Isle, chance: npt.NDArray[np.float32]) -> list[Options]:
    """For every square the visits that could be made on the days offered."""
    goes = np.array([[hour == "day" or person.night for hour in TIMES] for person in isle.people])
    may = (isle.days > 0)[:, :, None] & goes[:, None, :]
    worth, squares = isle.worth, []
    for square in range(len(isle.squares)):
        person, month, hour = np.nonzero(may & isle.open_to[:, square][:, None, None])
        found = chance[person, square, month, hour].astype(np.float64)
        squares.append(Options(person, month, found @ worth[square], (found * worth[square]) @ found.T))
    return squares


def upper_bound(squares: Sequence[Options], days: Whole, reached: float) -> float:
    """A gain that no plan on these days (volunteers × months) can pass; ``reached`` is one that a plan has."""
    prices = np.full(days.shape, 0.7 * reached / max(days.sum(), 1))
    best, scale, since = np.inf, 1.0, 0
    for _ in range(_ROUNDS):
        bound, used = float((prices * days).sum()), np.zeros(days.shape)
        for options in squares:
            gain, chosen = _together(options, prices, days)
            bound += gain
            np.add.at(used, (options.person[chosen], options.month[chosen]), 1)
        since = 0 if bound < best - 1e-9 else since + 1
        best = min(best, bound)
        if since >= 5:
            scale, since = scale / 2, 0
        slack = np.where((prices <= 0) & (used < days), 0, used - days)
        length = float((slack**2).sum())
        if length == 0 or scale < 1e-3:
            break
        prices = np.maximum(0.0, prices + scale * max(bound - reached, 1e-9) / length * slack)
    return best


def _together(options: Options, prices: Numbers, days: Whole) -> tuple[float, Whole]:
    """The most that visits to one square can be worth at these prices, and the options that say so."""
    net = options.gain - prices[options.person, options.month]
    worthwhile = np.flatnonzero((net > 0) & (days[options.person, options.month] > 0))
    if not len(worthwhile):
        return 0.0, worthwhile
    worth, made = most_together(net[worthwhile], options.shared[np.ix_(worthwhile, worthwhile)], _MOST)
    return worth, worthwhile[made]


def _interval(values: Sequence[float]) -> str:
    """Mean over the islands with its 95 % interval (Student's t), the lowest and the highest."""
    half = float(stats.t.ppf(0.975, len(values) - 1) * np.std(values, ddof=1) / np.sqrt(len(values)))
    mean = float(np.mean(values))
    return f"{mean:.2f} ({mean - half:.2f}-{mean + half:.2f}; {min(values):.2f} to {max(values):.2f})"
