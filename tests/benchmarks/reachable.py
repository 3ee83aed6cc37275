"""What any rule could reach on one backtest: python tests/benchmarks/reachable.py [FILE SIDE UNTIL [GROUP]].

Suppose that the model's chances, set right afterwards (slope 1, as many finds as there were), were the exact truth.
Answers are drawn from it again and again, and the truth itself is entered as the rule: how often does it reach the
goals? Whatever depends on whatever, no rule that does not see the answers puts more pairs of a find and a miss in the
right order on average: of two pairs, P(only the first is found) - P(only the second) is the difference of their
chances. Then the same when something is known beside it of which the model and the plain rules know nothing, so many
log odds of standard deviation; when rules are shaken at random and hope for luck; and when the weights of the clues are
fitted to the answers of all other squares.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt
from cases import EDINBURGH, Case, one_case

from gapmap.expected.backtest import Backtest, backtest
from gapmap.expected.clues import find_clues
from gapmap.expected.evidence import gather
from gapmap.expected.learning import design
from gapmap.expected.regression import UNEVEN, even_chance, fit
from gapmap.expected.scores import auc, calibration

Numbers = npt.NDArray[np.float64]
_DRAWS, _AUC, _LOG_LOSS, _SLOPE = 4_000, 0.01, -0.03, (0.9, 1.1)
_KNOWN, _SHAKEN = (0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0), (0.1, 0.3, 0.5, 1.0)
#: Standard deviations of the weights fitted to the answers; the best of them is taken, as known afterwards.
_FREEDOMS = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0)


def main(case: Case) -> None:
    """Print what came of it."""
    result = backtest(case.lists, case.finds, case.species, case.until)
    table, generator = result.table, np.random.default_rng(2026)
    found, plain = table["found"].to_numpy(np.float64), result.plain.to_numpy()
    _, square = np.unique(table["square"], return_inverse=True)
    print(f"{case.name}, until {case.until}: {len(found)} pairs, {int(found.sum())} finds")
    raw, truth = table["chance"].to_numpy(), set_right(found, table["chance"].to_numpy())
    for words, chance, uneven in (
        ("the model as it is", raw, 0.0),
        ("set right", truth, 0.0),
        ("set right, squares uneven", truth, UNEVEN),
    ):
        drawn = [draw(chance, square, uneven, generator) for _ in range(_DRAWS)]
        _say(words, np.array([outcome(label, chance, plain) for label in drawn]))
    for spread in _KNOWN:
        outcomes = []
        for _ in range(_DRAWS // 40):
            known = as_many(log_odds(truth) + generator.normal(0, spread, len(found)), found.sum())
            outcomes += [outcome(draw(known, square, 0.0, generator), known, plain) for _ in range(40)]
        _say(f"{spread:.1f} more log odds known", np.array(outcomes))
    for spread in _SHAKEN:
        rules = [log_odds(truth) + generator.normal(0, spread, len(found)) for _ in range(20)]
        drawn = [draw(truth, square, 0.0, generator) for _ in range(_DRAWS // 20)]
        lucky = [np.mean([gain(label, rule, plain) >= _AUC for label in drawn]) for rule in rules]
        print(f"shaken by {spread:.1f} log odds: reach {_AUC} {np.mean(lucky):.1%}, the luckiest {max(lucky):.1%}")
    fitted = {freedom: by_others(case, result, freedom) for freedom in _FREEDOMS}
    best = max(fitted, key=lambda freedom: auc(found, fitted[freedom]))
    print(f"weights by the answers of all other squares, freedom {best}: {gain(found, fitted[best], plain):+.4f}")


def set_right(found: Numbers, chance: Numbers) -> Numbers:
    """The chances with slope 1 and as many finds as there were."""
    slope, intercept = calibration(found, np.clip(chance, 1e-6, 1 - 1e-6))
    return 1 / (1 + np.exp(-(intercept + slope * log_odds(chance))))


def as_many(odds: Numbers, finds: float) -> Numbers:
    """Chances of these log odds, moved together so that so many finds are to be expected."""
    low, high = -20.0, 20.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if (1 / (1 + np.exp(-(odds + middle)))).sum() > finds else (middle, high)
    return 1 / (1 + np.exp(-(odds + low)))


def log_odds(chance: Numbers) -> Numbers:
    """Natural log of the odds."""
    sure = np.clip(chance, 1e-6, 1 - 1e-6)
    return np.log(sure / (1 - sure))


def draw(chance: Numbers, square: npt.NDArray[np.int64], uneven: float, generator: np.random.Generator) -> Numbers:
    """Answers drawn from chances; with ``uneven`` the finds of a square go together (a gamma factor of this variance)."""
    if uneven:
        hazard = ((1 - chance) ** -uneven - 1) / uneven
        factor = generator.gamma(1 / uneven, uneven, square.max() + 1)[square]
        chance = 1 - np.exp(-factor * hazard)
    return (generator.random(len(chance)) < chance).astype(np.float64)


def gain(label: Numbers, rule: Numbers, plain: Numbers) -> float:
    """AUC above the best of the plain rules, as known afterwards."""
    return auc(label, rule) - max(auc(label, column) for column in plain.T)


def outcome(label: Numbers, chance: Numbers, plain: Numbers) -> tuple[float, float, float]:
    """Gain in AUC, log loss against the best plain rule's, and calibration slope."""
    losses = [_log_loss(label, column) for column in (chance, *plain.T)]
    return gain(label, chance, plain), losses[0] / min(losses[1:]) - 1, calibration(label, _sure(chance))[0]


def by_others(case: Case, result: Backtest, freedom: float) -> Numbers:
    """Chances of each square's pairs by the clues, weighed by the answers of all other squares."""
    year, table = case.lists["year"], result.table
    before, after = case.lists[(year > 0) & (year <= case.until)], case.lists[year > case.until]
    squares = np.unique(case.lists.loc[year > 0, "square"])
    known = case.finds.loc[case.finds["list_id"].isin(before["list_id"]), "species_id"]
    kinds = case.species[case.species["species_id"].isin(known)]
    lists_after = after["square"].value_counts().reindex(squares).fillna(0).to_numpy(np.float64)
    then = gather(before, case.finds, kinds, squares)
    rows = np.searchsorted(squares, table["square"])
    columns = kinds["species_id"].reset_index(drop=True).reset_index().set_index("species_id")["index"]
    matrix = design(find_clues(then), lists_after, rows, columns.loc[table["species_id"]].to_numpy(np.int64))
    clues = (matrix - matrix.mean(axis=0)) / np.maximum(matrix.std(axis=0), 1e-9)
    score = np.log(-np.log1p(-_sure(table["chance"].to_numpy())))
    whole = np.column_stack([np.ones(len(score)), score, clues])
    start = np.concatenate([[0.0, 1.0], np.zeros(clues.shape[1])])
    freedoms = np.concatenate([[2.0, 1.0], np.full(clues.shape[1], freedom)])
    answer, found = np.empty(len(score)), table["found"].to_numpy(np.float64)
    for row in np.unique(rows):
        other = rows != row
        weights, _ = fit(whole[other], found[other], np.ones(other.sum()), start, freedoms)
        answer[~other] = even_chance(whole[~other] @ weights)
    return answer


def _sure(chance: Numbers) -> Numbers:
    return np.clip(chance, 1e-6, 1 - 1e-6)


def _log_loss(label: Numbers, chance: Numbers) -> float:
    sure = _sure(chance)
    return float(-(label * np.log(sure) + (1 - label) * np.log1p(-sure)).mean())


def _say(words: str, outcomes: Numbers) -> None:
    more, loss, slope = outcomes.T
    reached = more >= _AUC, loss <= _LOG_LOSS, (slope >= _SLOPE[0]) & (slope <= _SLOPE[1])
    low, high = np.quantile(more, [0.025, 0.975])
    each = ", ".join(f"{part.mean():.1%}" for part in reached)
    print(
        f"{words:26s} AUC {more.mean():+.4f} ({low:+.3f} to {high:+.3f}), log loss {loss.mean():+.1%}; reach AUC, log "
        f"loss, slope {each}; the first two {(reached[0] & reached[1]).mean():.1%}, all {np.all(reached, axis=0).mean():.1%}",
        flush=True,
    )


if __name__ == "__main__":
    words = sys.argv[1:]
    main(
        one_case(Path(words[0]), int(words[1]), int(words[2]), *words[3:4])
        if words
        else one_case(EDINBURGH, 2_000, 2008, "Butterfly")
    )
