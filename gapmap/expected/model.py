"""Where each species is still to be found: the chance that it lives in a square, and that the next visits find it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import ALL_DATES, EXPECTED
from gapmap.expected.again import score_again
from gapmap.expected.clues import Clues, find_clues
from gapmap.expected.evidence import Evidence, Ground, gather, ground_of
from gapmap.expected.learning import Weights, candidates, design, learn, level
from gapmap.expected.regression import chance_of
from gapmap.expected.seasons import TIMES
from gapmap.expected.surroundings import sum_around
from gapmap.expected.ways import Ways, find_ways
from gapmap.expected.words import GRADES, best_reasons, texts_at
from gapmap.settings import Settings

Numbers = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]

#: A thorough search is so many lists as would find the species 19 times in 20 where it is known, but no more and no
#: fewer than these; what it misses may be said not to live there. The most was set on the demo's island, where the
#: truth is known (tests/benchmarks/presence_truth.py).
FEWEST_THOROUGH, MOST_THOROUGH = 5.0, 400.0
_THOROUGH_STEPS = np.array([5.0, 15.0, 45.0, 135.0, 400.0])
#: Chance to be found on a list where it is known, before the records say better, and the lists that counts for.
_REFOUND, _REFOUND_LISTS = 0.1, 3.0
#: Chances below this are left out of the table, not out of the sums.
LEAST = 0.01
#: Uncertainty of every score on the natural log scale, beyond what can be reckoned.
_UNKNOWN = 0.35
#: Share of that which the species of a square have in common: a square is richer or poorer than the clues tell. Set
#: on the demo's island, so that 95 % of its squares have as many species still to find as their interval says.
_TOGETHER = 0.65
#: Lists, and squares with the species, from which a chance can be said.
FEWEST_LISTS, FEWEST_SQUARES = 20, 2
#: Stands for no date class; ALL_DATES, -1, is what crosses them.
_NO_CLASS = -2


@dataclass(frozen=True)
class Model:
    """A fitted model; asks for chances of S squares × K species."""

    evidence: Evidence
    clues: Clues
    learned: Weights

    def score(self, lists: float) -> Numbers:
        """S × K: natural log of the finds to expect on so many average lists in each square."""
        weights, clues = self.learned.weights, self.clues
        curve = clues.curve(np.array([lists]), lists)[0]
        answer: Numbers = weights[0] * curve + np.tensordot(weights[2:], clues.context, axes=1)
        return np.asarray(answer + self._level(lists), dtype=np.float64)

    def chance_found(self, visits: float, month: int = 0, time_of_day: str = "") -> Numbers:
        """S × K: chance that so many visits find the species, not knowing whether it lives there.

        Parameters
        ----------
        visits
            Number of visits (lists).
        month
            1 to 12; 0 for any.
        time_of_day
            "day", "dusk", "night", or "" for any.
        """
        when = self.evidence.outings[month * len(TIMES) + TIMES.index(time_of_day)]
        return chance_of(self.score(visits) + np.log(when))

    def chance_lives(self) -> Numbers:
        """S × K: chance that the species lives there: that a thorough search at the best time would find it."""
        return chance_of(self.thorough_score())

    def thorough(self) -> Numbers:
        """K: lists of any kind that amount to a thorough search for each species.

        Told by how often it is found again where it is known, on lists that could hold it, and by how many lists
        of any kind it takes to get one that could.
        """
        effort = self.evidence.effort
        known = self.evidence.finds > 0
        again = np.maximum(self.evidence.finds - 1, 0).sum(axis=0)
        could = np.where(known, np.maximum(effort - 1, 0), 0).sum(axis=0)
        rate = (again + _REFOUND * _REFOUND_LISTS) / (could + _REFOUND_LISTS)
        share = np.clip(effort.sum(axis=0) / max(self.evidence.lists.sum(), 1.0), 1e-3, 1.0)
        lists = np.clip(3.0 / np.maximum(rate * share, 1e-9), FEWEST_THOROUGH, MOST_THOROUGH)
        return np.asarray(lists, dtype=np.float64)

    def thorough_score(self) -> Numbers:
        """S × K: natural log of the finds to expect of a thorough search at the best time."""
        return self._at_any_time(self.thorough()) + self.at_its_best()

    def score_again(self, lists: float | Numbers) -> Numbers:
        """S × K: as ``score``, also by the square's own lists where the species was found before.

        Parameters
        ----------
        lists
            Lists to come, the same for all species or K.
        """
        evidence = self.evidence
        score = self.score(lists) if isinstance(lists, float) else self._at_any_time(lists)
        rows, columns = np.nonzero(evidence.finds > 0)
        more = np.broadcast_to(lists, evidence.finds.shape[1:])[columns]
        own = evidence.finds[rows, columns], evidence.lists[rows]
        history = self.clues.tail.log_hazard_after(*own, more, columns)
        score[rows, columns] = score_again(self.learned.again, score[rows, columns], history)
        return score

    def at_its_best(self) -> Numbers:
        """K: what the best month and hour add to a score."""
        best = np.maximum(self.evidence.months_hours.max(axis=0), 1.0)
        return np.asarray(self.power * np.log(best), dtype=np.float64)

    def _at_any_time(self, lists: Numbers) -> Numbers:
        """S × K: scores at another number of lists for each species, between those at a few numbers."""
        steps = np.log(_THOROUGH_STEPS)
        at = np.interp(np.log(lists), steps, np.arange(len(steps)))
        total = np.zeros(self.evidence.finds.shape)
        for number, step in enumerate(_THOROUGH_STEPS):
            total += self.score(float(step)) * np.maximum(0.0, 1 - np.abs(at - number))
        return total

    def detection(self, month: int = 0, time_of_day: str = "", visits: float = 1.0) -> Numbers:
        """K: chance that so many visits then find the species where it lives."""
        found = self.chance_found(visits, month, time_of_day).sum(axis=0)
        lives = np.maximum(self.chance_lives().sum(axis=0), 1e-12)
        return np.asarray(np.clip(found / lives, 0.0, 1.0), dtype=np.float64)

    @property
    def power(self) -> float:
        """The power of effort that finds grow with."""
        return float(self.learned.weights[0] * self.clues.power + self.learned.weights[1])

    def doubt(self) -> Numbers:
        """S × K: standard deviation of the scores."""
        covariance = self.learned.covariance[2:, 2:]
        context = self.clues.context
        by_weights = (np.tensordot(np.linalg.cholesky(covariance).T, context, axes=1) ** 2).sum(axis=0)
        by_species = 1.0 / (self.evidence.found.sum(axis=0) + 1.0)
        by_place = self.learned.weights[2] ** 2 / (self.clues.around_likely + 2.0)
        answer: Numbers = np.sqrt(by_weights + by_species + by_place + _UNKNOWN**2)
        return answer

    def _level(self, lists: float) -> float:
        rows, columns = candidates(self.evidence, self.evidence.lists)
        step = max(1, len(rows) // 20_000)
        rows, columns = rows[::step], columns[::step]
        same = np.full(len(self.evidence.lists), lists)
        return level(design(self.clues, same, rows, columns), self.learned.weights)


@dataclass(frozen=True)
class Expectation:
    """What is expected and not yet found.

    Parameters
    ----------
    table
        As in columns.EXPECTED, the likeliest first within each square; chances under 1 % are left out.
    squares
        One row a square: ``square, still_to_find, still_low, still_high`` (sum of chances of species never found
        there), ``to_refind``, and ``lists``; the numbers empty where the data cannot carry them.
    model
        The fitted model, for the planner's questions.
    """

    table: pd.DataFrame
    squares: pd.DataFrame
    model: Model


def expected(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    squares: npt.ArrayLike,
    settings: Settings,
    rasters: pd.DataFrame | None = None,
    *,
    progress: Progress | None = None,
) -> pd.DataFrame:
    """For each square the species still to find or to find again, as in columns.EXPECTED; see :func:`expect`."""
    return expect(lists, finds, species, squares, settings, rasters, progress=progress).table


def expect(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    squares: npt.ArrayLike,
    settings: Settings,
    rasters: pd.DataFrame | None = None,
    *,
    tally: pd.DataFrame | None = None,
    progress: Progress | None = None,
) -> Expectation:
    """For each square the species still to find or to find again: how likely, when and how to look, and why.

    Parameters
    ----------
    lists, finds, species
        As in columns.LISTS, columns.FINDS and columns.SPECIES. Names that do not count as species are left out.
    squares
        Packed squares to answer for beside those with lists, such as all squares inside the boundary.
    settings
        Its date classes say what is "now": found in an earlier class but not in the last one is to find again.
    rasters
        Shares of habitats and height bands by packed square (the index), see expected.ground; a column ``inside``
        tells how much of each square belongs to the area.
    tally
        As in columns.TALLY: what was recorded on no list, such as "1950 to 1975", is not still to find either, nor
        to find again when its dates lie in the last class.
    progress
        Called with a fraction and a sentence.
    """
    say = progress or (lambda fraction, sentence: None)
    counted = species[species["counts"]] if "counts" in species else species
    placed = lists[lists["square"] >= 0]
    at = np.union1d(np.asarray(squares, dtype=np.int64).ravel(), placed["square"].to_numpy(np.int64))
    at = at[at >= 0]
    seen = finds.loc[finds["list_id"].isin(placed["list_id"]), "species_id"]
    kinds = counted[counted["species_id"].isin(seen)].reset_index(drop=True)
    say(0.1, "Counting what the lists say")
    model = fit_model(placed, finds, kinds, at, ground_of(rasters, at))
    say(0.6, "Weighing what is expected where")
    first, class_now = first_year_now(placed, settings), _class_now(placed, settings)
    recent = gather(placed[(placed["year"] >= first) | (placed["date_class"] == class_now)], finds, kinds, at)
    last, told = _last_years(placed, finds, kinds, at), _told(tally, ALL_DATES, kinds, at)
    found_now = (recent.finds > 0) | ((told != 0) & (told >= (first or -1)))
    found_now |= _told(tally, class_now, kinds, at) != 0
    last = np.where(last == 0, told, np.where(told > 0, np.maximum(last, told), last))
    ways = find_ways(placed, finds, kinds, model.evidence.months_hours)
    table, summary = _tabulate(model, found_now, last, ways, kinds)
    say(1.0, "Done")
    return Expectation(EXPECTED.check(table), summary, model)


def fit_model(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    squares: npt.NDArray[np.int64],
    ground: Ground | None = None,
) -> Model:
    """Fit the model to all that is known; arguments as for :func:`gapmap.expected.evidence.gather`."""
    evidence = gather(lists, finds, species, squares, ground)
    return Model(evidence, find_clues(evidence), learn(lists, finds, species, squares, ground))


def first_year_now(lists: pd.DataFrame, settings: Settings) -> int:
    """First year of the last date class; 0 when there are no classes, so that nothing is to find again."""
    classes = settings.area.date_classes
    if classes:
        return classes[-1].first or 0
    in_class = lists[(lists["date_class"] >= 0) & (lists["year"] > 0)]
    if in_class.empty or in_class["date_class"].nunique() < 2:
        return 0
    return int(in_class.loc[in_class["date_class"] == in_class["date_class"].max(), "year"].min())


def _class_now(lists: pd.DataFrame, settings: Settings) -> int:
    """Index of the last date class; one that is none's where there are no classes."""
    if settings.area.date_classes:
        return len(settings.area.date_classes) - 1
    in_class = lists.loc[lists["date_class"] >= 0, "date_class"]
    return _NO_CLASS if in_class.empty else int(in_class.max())


def _last_years(
    lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame, squares: npt.NDArray[np.int64]
) -> npt.NDArray[np.int64]:
    """S × K: last year found, −1 when found at an unknown year, 0 when never."""
    joined = finds.merge(lists[["list_id", "square", "year"]], on="list_id")
    joined = joined[joined["species_id"].isin(species["species_id"])]
    last = np.zeros((len(squares), len(species)), dtype=np.int64)
    rows = pd.Index(squares).get_indexer(pd.Index(joined["square"]))
    columns = pd.Index(species["species_id"]).get_indexer(pd.Index(joined["species_id"]))
    years = joined["year"].to_numpy(np.int64)
    np.minimum.at(last, (rows, columns), -1)
    np.maximum.at(last, (rows, columns), np.where(years > 0, years, -1))
    return last


def _told(
    tally: pd.DataFrame | None, date_class: int, species: pd.DataFrame, squares: npt.NDArray[np.int64]
) -> npt.NDArray[np.int64]:
    """S × K: last year of a class that records tell, on a list or on none; −1 when unknown, 0 where there are none."""
    last = np.zeros((len(squares), len(species)), dtype=np.int64)
    if tally is not None:
        told = tally[tally["date_class"] == date_class]
        rows = pd.Index(squares).get_indexer(pd.Index(told["square"]))
        columns = pd.Index(species["species_id"]).get_indexer(pd.Index(told["species_id"]))
        known = (rows >= 0) & (columns >= 0)
        years = told["last"].to_numpy(np.int64)[known]
        last[rows[known], columns[known]] = np.where(years > 0, years, -1)
    return last


def _tabulate(
    model: Model,
    found_now: npt.NDArray[np.bool_],
    last: npt.NDArray[np.int64],
    ways: Ways,
    species: pd.DataFrame,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    evidence = model.evidence
    before = last != 0
    still, again = ~before, before & ~found_now
    lives = model.score_again(model.thorough()) + model.at_its_best()
    visit = model.score_again(1.0) + model.at_its_best()
    doubt = model.doubt()
    chance, low, high = (chance_of(lives + move * doubt) for move in (0.0, -1.96, 1.96))
    around = sum_around(evidence.places, (evidence.lists > 0).astype(np.float64)[:, None], 2.0)[:, 0]
    known = ((evidence.lists > 0) | (around > 0.5)) & (evidence.lists.sum() >= FEWEST_LISTS)
    can_say = known[:, None] & (evidence.found.sum(axis=0) >= FEWEST_SQUARES)[None, :]
    open_pairs = (still | again) & ((chance >= LEAST) | ~can_say)
    rows, columns = np.nonzero(open_pairs)
    best_first = np.lexsort((np.where(can_say, -chance, np.inf)[rows, columns], rows))
    rows, columns = rows[best_first], columns[best_first]
    sure = can_say[rows, columns]
    width = (high - low)[rows, columns]
    grade = np.where(sure, np.select([width <= 0.35, width <= 0.6], [0, 1], 2), 3)
    table = pd.DataFrame(
        {
            "square": evidence.squares[rows],
            "species_id": evidence.species[columns],
            **{
                name: np.where(sure, part[rows, columns], np.nan)
                for name, part in (
                    ("chance", chance),
                    ("chance_low", low),
                    ("chance_high", high),
                    ("chance_if_visited", np.minimum(chance_of(visit), chance)),
                )
            },
            "grade": texts_at(GRADES, grade),
            "found_before": np.where(last[rows, columns] < 0, 1, last[rows, columns]),
            **{
                name: texts_at(words, columns)
                for name, words in (
                    ("best_months", ways.months),
                    ("time_of_day", ways.time_of_day),
                    ("method", ways.method),
                    ("certainty", ways.certainty),
                )
            },
            "why": best_reasons(model.clues, evidence, ways, species, rows, columns),
        }
    )
    open_chance = np.where(still & known[:, None], chance, 0.0)
    spread = np.sqrt(
        (open_chance * (1 - open_chance)).sum(axis=1)
        + (((high - low) / 3.92 * (open_chance > 0)).sum(axis=1) * _TOGETHER) ** 2
    )
    total = open_chance.sum(axis=1)
    summary = pd.DataFrame(
        {
            "square": evidence.squares,
            "lists": evidence.lists.astype(np.int64),
            "still_to_find": np.where(known, total, np.nan),
            "still_low": np.where(known, np.maximum(total - 1.96 * spread, 0), np.nan),
            "still_high": np.where(known, np.minimum(total + 1.96 * spread, still.sum(axis=1)), np.nan),
            "to_refind": np.where(known, np.where(again, chance, 0.0).sum(axis=1), np.nan),
        }
    )
    return table, summary
