"""What plans of a season really find on the invented island, which knows where everything lives."""

# ruff: noqa: E402  (the island is imported from the demo folder)
from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

PROJECT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(PROJECT), str(PROJECT / "demo")]

from island.fauna import HOURS, METHODS, Fauna
from island.recording import chance_found, find_rates
from island.season import _eyes, _grounds, _monads_inside, season_finds

from gapmap.columns import ALL_DATES
from gapmap.grid.squares import unpack
from gapmap.visits.volunteers import Volunteer
from gapmap.workflow.stages import Counted

Numbers = npt.NDArray[np.float64]
Pairs = set[tuple[int, str]]
YEAR, HOURS_OUT = 2027, 6.0


def known_pairs(counted: Counted) -> tuple[Pairs, Pairs]:
    """Square × species known at all, and known in the last date class."""
    tally = counted.tally.merge(counted.records.species[["species_id", "name"]], on="species_id")
    ever = tally[tally["date_class"] == ALL_DATES]
    now = tally[tally["date_class"] == len(counted.classes) - 1]
    return set(zip(ever["square"], ever["name"], strict=True)), set(zip(now["square"], now["name"], strict=True))


def gained(fauna: Fauna, visits: pd.DataFrame, known: tuple[Pairs, Pairs], seed: int) -> tuple[int, int]:
    """Species × squares new, and found again, on one season of these visits."""
    ever, now = known
    _, side, easting, northing = unpack(visits["square"].to_numpy(np.int64))
    walk = pd.DataFrame(
        {
            "easting": easting, "northing": northing, "side": side, "month": visits["month"].to_numpy(),
            "time_of_day": visits["time_of_day"].to_numpy(), "volunteer": visits["volunteer"].to_numpy(),
        }
    )  # fmt: skip
    finds = season_finds(fauna, walk, seed, YEAR, HOURS_OUT)
    pairs = set(zip(visits["square"].to_numpy()[finds["visit"]], finds["name"], strict=True))
    return len(pairs - ever), len((pairs & ever) - now)


def chances(
    fauna: Fauna, people: Sequence[Volunteer], squares: npt.NDArray[np.int64], draws: int = 12
) -> npt.NDArray[np.float32]:
    """V × S × 12 × 3 × K: chance that the visit finds and names the species, by the island's own rules.

    A visit takes six of the square's grounds by lot; so many draws are averaged.
    """
    eyes = _eyes(fauna, {person.name for person in people})
    _, sides, eastings, northings = unpack(squares)
    generator = np.random.default_rng(0)
    answer = np.zeros((len(people), len(squares), 12, 3, len(fauna.species)), dtype=np.float32)
    by_time = np.stack([_by_time(fauna, hour) for hour in HOURS])
    when = fauna.season.T[:, None, :] * by_time[None]
    best = np.argmax(fauna.season, axis=1)
    for row, (easting, northing, side) in enumerate(zip(eastings, northings, sides, strict=True)):
        grounds = [(m, h) for m in _monads_inside(fauna, easting, northing, side) for h in _grounds(fauna, m)]
        each = HOURS_OUT / 1.5 / max(min(len(grounds), 6), 1)
        missed = np.zeros((len(grounds), *answer[:, row].shape), dtype=np.float32)
        for number, (monad, habitat) in enumerate(grounds):
            plain = _rates_on(fauna, monad, habitat, each, best)
            for v, person in enumerate(people):
                missed[number, v] = np.log1p(-np.minimum(chance_found(plain * eyes[person.name] * when), 1 - 1e-6))
        times = draws if len(grounds) > 6 else 1
        for _ in range(times):
            picked = generator.permutation(len(grounds))[:6]
            answer[:, row] -= np.expm1(missed[picked].sum(axis=0)) / times
    return answer


def best_of_all(
    chance: npt.NDArray[np.float32],
    worth: Numbers,
    open_to: npt.NDArray[np.bool_],
    days: Numbers,
    dark: Sequence[bool],
    most: int,
) -> list[tuple[int, int, int, int]]:
    """Greedy plan of somebody who knows the whole truth: volunteer, square, month, time of day of each visit.

    Source of the guarantee: Nemhauser, Wolsey & Fisher (1978), as for the plan itself.
    """  # fmt: skip
    people, squares, months, times, _ = chance.shape
    may = np.ones((people, squares, months, times), dtype=bool) & open_to[:, :, None, None]
    may &= np.array([[time == 0 or bool(d) for time in range(times)] for d in dark])[:, None, None, :]
    left, days, visits = worth.copy(), days.copy(), np.zeros(squares)
    gain = np.einsum("vsmtk,sk->vsmt", chance, left)
    chosen = []
    while True:
        now = np.where(may & (days > 0)[:, None, :, None] & (visits < most)[None, :, None, None], gain, 0.0)
        best = np.unravel_index(int(now.argmax()), now.shape)
        if now[best] <= 0:
            return chosen
        person, square, month, time = (int(part) for part in best)
        left[square] *= 1 - chance[best]
        gain[:, square] = np.einsum("vmtk,k->vmt", chance[:, square], left[square])
        visits[square] += 1
        days[person, month] -= 1
        chosen.append((person, square, month, time))


def _by_time(fauna: Fauna, hour: str) -> Numbers:
    """K: as find_rates weighs the hour and the usual method then, seen from one rate by day with the hand."""
    by_hour = fauna.hour[:, HOURS.index(hour)]
    if hour == "day":
        return np.asarray(by_hour * fauna.by_method[:, METHODS.index("hand search")])
    return np.asarray(np.maximum(by_hour, 0.55 * (1 - by_hour)) * fauna.by_method[:, METHODS.index("torch")])


def _rates_on(fauna: Fauna, monad: int, habitat: int, effort: float, best: npt.NDArray[np.int64]) -> Numbers:
    """K: rates of one pair of average eyes with season, hour and method taken out."""
    ones = np.ones(len(fauna.species))
    rates = np.zeros(len(ones))
    for month in np.unique(best):
        mine = best == month
        plain = find_rates(fauna, monad, habitat, YEAR, int(month) + 1, "day", "hand search", effort, ones)
        rates[mine] = plain[mine]
    return np.asarray(rates / np.maximum(fauna.season.max(axis=1) * _by_time(fauna, "day"), 1e-12))
