"""Hide the last years, predict them, and score: how far the list of expected species can be trusted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.coverage.reasons import percent
from gapmap.errors import GapmapError
from gapmap.expected.again import score_again
from gapmap.expected.baselines import baselines
from gapmap.expected.clues import Clues, find_clues
from gapmap.expected.evidence import Evidence, gather, ground_of
from gapmap.expected.learning import Weights, candidates, design, learn, level
from gapmap.expected.regression import chance_of
from gapmap.expected.scores import reliability, scores

Progress = Callable[[float, str], None]

#: Pairs with a chance above one half, or to be found again, before anything is said of them.
_ENOUGH_LIKELY = 30


@dataclass(frozen=True)
class FoundAgain:
    """What came of the species that were known in their square already.

    Parameters
    ----------
    table
        One row a pair: ``square, species_id, lists_before, lists_with`` (of those, how many had it), ``lists_after,
        chance, found``.
    scores
        Rows "model" and "own lists" (each list to come finds it as often as those before did), the columns those of
        scores.SCORES; empty where there is no such pair.
    reliability
        Bins of the model's chances.
    """

    table: pd.DataFrame
    scores: pd.DataFrame
    reliability: pd.DataFrame


@dataclass(frozen=True)
class Backtest:
    """What came of a backtest.

    Parameters
    ----------
    until
        Last year that was known.
    table
        One row a pair: ``square, species_id, lists_before, lists_after, chance, found``.
    scores
        One row a method ("model" and the three baselines), the columns those of scores.SCORES.
    reliability
        Bins of the model's chances, see scores.reliability.
    verdict
        How far to trust the list, in words.
    plain
        Chances of the same pairs by the plain rules, one column a rule.
    again
        The same of species found in their square before the cut: whether they were found again.
    """

    until: int
    table: pd.DataFrame
    scores: pd.DataFrame
    reliability: pd.DataFrame
    verdict: str
    plain: pd.DataFrame
    again: FoundAgain

    def to_dict(self) -> dict[str, Any]:
        """Everything but the table of pairs, as plain values for a JSON file."""
        return {
            "until": self.until,
            "pairs": len(self.table),
            "found": int(self.table["found"].sum()),
            "squares": int(self.table["square"].nunique()),
            "species": int(self.table["species_id"].nunique()),
            "scores": {str(name): _plain(row) for name, row in self.scores.iterrows()},
            "reliability": [_plain(row) for _, row in self.reliability.iterrows()],
            "verdict": self.verdict,
            "again": {
                "pairs": len(self.again.table),
                "found": int(self.again.table["found"].sum()),
                "scores": {str(name): _plain(row) for name, row in self.again.scores.iterrows()},
                "reliability": [_plain(row) for _, row in self.again.reliability.iterrows()],
            },
        }


def backtest(
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    species: pd.DataFrame,
    until: int,
    *,
    ground: pd.DataFrame | None = None,
    progress: Progress | None = None,
) -> Backtest:
    """Hide every list after a year, predict what they found, and score.

    Pairs are a square and a species known in the area but not in the square by then, in squares with a list made
    after. The number of lists made after is given to every method; nothing else from after the cut is used.

    Parameters
    ----------
    lists, finds, species
        As in columns.LISTS, columns.FINDS and columns.SPECIES. Lists without a square or a year are left out.
    until
        Last year that is known.
    ground
        Shares of habitats by packed square (the index), where there are rasters.
    progress
        Called with a fraction and a sentence.

    Raises
    ------
    GapmapError
        No list lies before the cut, or none after it.
    """
    say = progress or (lambda fraction, sentence: None)
    year = lists["year"].to_numpy(np.int64)
    usable = (lists["square"].to_numpy(np.int64) >= 0) & (year > 0)
    before, after = lists[usable & (year <= until)], lists[usable & (year > until)]
    if before.empty or after.empty:
        span = (
            f"lists from {year[usable].min()} to {year[usable].max()}"
            if usable.any()
            else "no list with a year and a square"
        )
        raise GapmapError(
            f"There is nothing to test on with a cut after {until}",
            found=span,
            do="choose a year with lists both up to it and after it",
        )
    squares = np.unique(lists.loc[usable, "square"].to_numpy(np.int64))
    known = finds.loc[finds["list_id"].isin(before["list_id"]), "species_id"]
    kinds = species[species["species_id"].isin(known)]
    made_of = ground_of(ground, squares)
    say(0.1, "Counting what was known")
    then, later = gather(before, finds, kinds, squares, made_of), gather(after, finds, kinds, squares)
    rows, columns = candidates(then, later.lists)
    say(0.3, "Looking back at earlier cuts")
    learned = learn(before, finds, kinds, squares, made_of)
    say(0.7, "Predicting")
    clues = find_clues(then)
    matrix = design(clues, later.lists, rows, columns)
    constant = level(matrix, learned.weights)
    chance = chance_of(matrix @ learned.weights + constant)
    found = (later.finds[rows, columns] > 0).astype(np.int64)
    plain = pd.DataFrame({name: part[rows, columns] for name, part in baselines(then, later.lists).items()})
    say(0.9, "Scoring")
    table = pd.DataFrame(
        {
            "square": squares[rows],
            "species_id": then.species[columns],
            "lists_before": then.lists[rows].astype(np.int64),
            "lists_after": later.lists[rows].astype(np.int64),
            "chance": chance,
            "found": found,
        }
    )
    methods = {"model": chance} | {str(name): part.to_numpy() for name, part in plain.items()}
    scored = pd.DataFrame({name: scores(found, part, squares[rows]) for name, part in methods.items()}).T
    again = _found_again(then, later, clues, learned, constant)
    words = verdict(table, scored) + again_in_words(again.table)
    return Backtest(until, table, scored, reliability(found, chance), words, plain, again)


def _found_again(then: Evidence, later: Evidence, clues: Clues, learned: Weights, constant: float) -> FoundAgain:
    rows, columns = np.nonzero((then.finds > 0) & (later.lists > 0)[:, None])
    with_it, before, after = then.finds[rows, columns], then.lists[rows], later.lists[rows]
    score = design(clues, later.lists, rows, columns) @ learned.weights + constant
    history = clues.tail.log_hazard_after(with_it, before, after, columns)
    chance = chance_of(score_again(learned.again, score, history))
    found = (later.finds[rows, columns] > 0).astype(np.int64)
    table = pd.DataFrame(
        {
            "square": then.squares[rows],
            "species_id": then.species[columns],
            "lists_before": before.astype(np.int64),
            "lists_with": with_it.astype(np.int64),
            "lists_after": after.astype(np.int64),
            "chance": chance,
            "found": found,
        }
    )
    methods = {"model": chance, "own lists": 1 - (1 - with_it / (np.maximum(before, with_it) + 1)) ** after}
    scored = {name: scores(found, part, then.squares[rows]) for name, part in methods.items() if len(rows)}
    return FoundAgain(table, pd.DataFrame(scored).T, reliability(found, chance))


def verdict(table: pd.DataFrame, scored: pd.DataFrame) -> str:
    """How far to trust the list, in words."""
    finds = int(table["found"].sum())
    if finds < 20 or len(table) - finds < 20:
        scarce = "found" if finds < 20 else "missed"
        few = f"{finds} of {len(table):,} pairs of a square and a species were found"
        return f"Too little was {scarce} after the cut to say how far the list can be trusted: {few}."
    model, others = scored.loc["model"], scored.drop(index="model")
    rank = "well" if model["auc"] >= 0.8 else "fairly" if model["auc"] >= 0.7 else "poorly"
    total = table["chance"].sum() / finds
    amount = (
        "about as much was found as it said"
        if 0.87 <= total <= 1.15
        else f"it promised {total:.1f} times what was found"
        if total > 1
        else f"{1 / total:.1f} times what it promised was found"
    )
    first, best, loss = (float(scored.at["model", name]) for name in ("auc", "five_best", "log_loss"))  # type: ignore[arg-type]
    gain = 1 - loss / float(others["log_loss"].min())
    beside = (
        f"its errors are {percent(gain)} smaller than those of the best plain rule"
        if gain >= 0.005
        else "it is no better than the best plain rule here"
        if gain > -0.005
        else f"a plain rule does {percent(-gain)} better here"
    )
    return (
        f"It tells likely from unlikely species {rank}: of a species that was found and one that was not, it "
        f"ranked the first higher {percent(first)} of the time; {amount}{_likely(table)}; of its five best "
        f"guesses a square {percent(best)} were found; {beside}."
    )


def again_in_words(table: pd.DataFrame) -> str:
    """What became of species known in their square before, where there are enough of them to tell.

    Examples
    --------
    >>> again_in_words(pd.DataFrame({"chance": [0.6] * 40, "found": [1] * 20 + [0] * 20}))
    ' Of 40 pairs of a square and a species known there before, it expected 60 % to be found again; 50 % were.'
    >>> again_in_words(pd.DataFrame({"chance": [0.6], "found": [1]}))
    ''
    """
    if len(table) < _ENOUGH_LIKELY:
        return ""
    return (
        f" Of {len(table):,} pairs of a square and a species known there before, it expected "
        f"{percent(table['chance'].mean())} to be found again; {percent(table['found'].mean())} were."
    )


def _likely(table: pd.DataFrame) -> str:
    """What became of the chances above one half, where there are enough of them to tell."""
    likely = table[table["chance"] > 0.5]
    if len(likely) < _ENOUGH_LIKELY:
        return ""
    said, found = percent(likely["chance"].mean()), percent(likely["found"].mean())
    return f"; of the {len(likely):,} pairs it thought likelier than not, at {said} on average, {found} were found"


def _plain(row: pd.Series) -> dict[str, float | None]:
    values: npt.NDArray[np.float64] = row.to_numpy(np.float64)
    pairs = zip(row.index, values, strict=True)
    return {str(name): (float(value) if np.isfinite(value) else None) for name, value in pairs}
