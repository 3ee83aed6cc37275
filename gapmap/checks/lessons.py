"""Learning from the records themselves what a slip looks like, and what an explanation by a slip is worth.

A sample of accepted records is moved by one slip each, and their measures are held against those of a sample left
alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize

from gapmap.checks.evidence import Evidence
from gapmap.checks.odds import WITNESSES, Odds, binned, bins_of, place_measures, places_of, tried, ways_of
from gapmap.checks.slips import Explained, Search, with_slip
from gapmap.checks.transforms import KINDS, Places

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Records moved to learn from, at most.
SAMPLE = 6_000
#: Accepted records without which nothing is learned.
LEAST_RECORDS = 50
#: Moved records of a kind from which on it is weighed by itself.
EXAMPLES = 60
#: Rounds of learning what an explanation is worth; the share of slips that the first of them supposes, and how many
#: records that guess is worth.
ROUNDS, FIRST_GUESS, CAUTION = 15, 0.01, 500.0

_BINS = 14


@dataclass(frozen=True)
class Lesson:
    """Accepted records left where they are, and others moved by one slip each, to learn from.

    Parameters
    ----------
    left, moved
        Positions of the ones and the others; a record is in each at most once.
    kind
        Kind of each slip (a key of transforms.KINDS), shape (number moved,).
    """

    left: Places
    moved: Places
    kind: npt.NDArray[np.object_]


def draw_lesson(evidence: Evidence, squares: npt.NDArray[np.int64], seed: int = 1) -> Lesson | None:
    """Draw the records to learn from; the same records and seed give the same lesson.

    Parameters
    ----------
    evidence
        The records laid out.
    squares
        Hundred-kilometre squares in use, as in transforms.repairs.

    Returns
    -------
    Lesson or None
        None when there are too few records to learn from.
    """
    random = np.random.default_rng(seed)
    sound = np.flatnonzero(evidence.bears_witness)
    if len(sound) < LEAST_RECORDS:
        return None
    left = random.choice(sound, min(SAMPLE, len(sound)), replace=False)
    moved, kind = _moved_by_slips(
        evidence, random.choice(sound, min(SAMPLE, len(sound)), replace=False), squares, random
    )
    return Lesson(places_of(evidence, left), moved, kind)


def learn_odds(evidence: Evidence, lesson: Lesson, genuine: Number | None = None) -> Odds:
    """Learn what tells the records that were moved by a slip from those left alone.

    ``genuine`` says of each of the latter how far it counts; without it, all count alike.
    """
    left = place_measures(evidence, tried(evidence, lesson.left))
    slipped = place_measures(evidence, tried(evidence, lesson.moved))
    both = pd.concat([left, slipped], ignore_index=True)[list(WITNESSES)]
    weight = None if genuine is None else np.append(genuine, np.ones(len(slipped)))
    return fit_odds(both, np.repeat([0.0, 1.0], [len(left), len(slipped)]), weight)


def fit_odds(measures: pd.DataFrame, truth: Number, weight: Number | None = None) -> Odds:
    """Odds from measures of records of which it is known whether they slipped (truth 1) or not (0).

    The weight says how much each record counts; without it, all count alike.
    """
    weight = np.ones(len(truth)) if weight is None else weight
    edges = {str(name): _edges(measures[name].to_numpy(float)) for name in measures}
    tables = {name: _log_ratio(measures[name].to_numpy(float), truth, weight, edges[name]) for name in edges}
    return Odds(edges, tables, _fitted(binned(measures, edges, tables), truth, weight))


def learn_explained(search: Search, lesson: Lesson) -> tuple[Explained, Number]:
    """Learn what a slip of each kind that would explain a record is worth.

    Some of the records left alone are slips too. From round to round each of them counts as genuine only as far as
    what was learned so far says it is, and how common each kind of slip is among them is estimated on the way. It
    begins with how good their best repairs are.

    Returns
    -------
    tuple of Explained and array
        What explanations are worth, and how far each record left alone counts as genuine (0 to 1).
    """
    evidence = search.evidence
    left, moved = (
        (each.row, search.odds.of(place_measures(evidence, tried(evidence, each))), search.repairs(each))
        for each in (lesson.left, lesson.moved)
    )
    groups = _groups(lesson)
    share = tuple(sum(KINDS[kind][0] for kind in kinds) for kinds in groups)
    examples = [
        (with_slip(*left, kinds), with_slip(*moved, kinds)[np.isin(lesson.kind.astype("str"), kinds)])
        for kinds in groups
    ]
    usual = np.array(share)
    rate = FIRST_GUESS * usual
    best = left[2].groupby("row")["gain"].max().reindex(left[0]).fillna(-np.inf).to_numpy(float)
    genuine = 1 / (1 + FIRST_GUESS * np.exp(np.minimum(best / 2, 300)))
    for _ in range(ROUNDS):
        odds = tuple(_learn_kind(*each, genuine) for each in examples)
        as_slip = np.exp(np.minimum([one.of(each[0]) for one, each in zip(odds, examples, strict=True)], 300))
        by_kind = rate[:, None] * as_slip / (1 - rate.sum() + rate @ as_slip)
        genuine = 1 - by_kind.sum(axis=0)
        rate = (by_kind.sum(axis=1) + FIRST_GUESS * CAUTION * usual) / (len(genuine) + CAUTION)
    return Explained(groups, odds, tuple(rate / rate.sum()), float(rate.sum())), genuine


def _groups(lesson: Lesson) -> tuple[tuple[str, ...], ...]:
    count = pd.Series(lesson.kind).value_counts().reindex(list(KINDS), fill_value=0)
    often = [(str(kind),) for kind in count.index[count >= EXAMPLES]]
    seldom = tuple(str(kind) for kind in count.index[(count < EXAMPLES) & (count > 0)])
    return (*often, seldom) if seldom else tuple(often)


def _learn_kind(left: pd.DataFrame, moved: pd.DataFrame, genuine: Number) -> Odds:
    truth = np.repeat([0.0, 1.0], [len(left), len(moved)])
    odds = fit_odds(pd.concat([left, moved], ignore_index=True), truth, np.append(genuine, np.ones(len(moved))))
    constant = odds.weights[-1] - np.log(len(moved) / genuine.sum())
    return replace(odds, weights=np.append(odds.weights[:-1], constant))


def squares_in_use(evidence: Evidence, most: int = 40) -> npt.NDArray[np.int64]:
    """Hundred-kilometre squares that hold records, fullest first; shape (m, 3): system, easting, northing."""
    frame = evidence.records.loc[evidence.bears_witness, ["system", "easting", "northing"]]
    corners = frame.assign(
        easting=frame["easting"] // 100_000 * 100_000, northing=frame["northing"] // 100_000 * 100_000
    )
    counts = corners.value_counts(sort=True).index.to_frame(index=False)
    return counts.head(most).to_numpy(np.int64)


def _moved_by_slips(
    evidence: Evidence, rows: Whole, squares: npt.NDArray[np.int64], random: np.random.Generator
) -> tuple[Places, npt.NDArray[np.object_]]:
    """One random slip a record, and its kind; letters may also slip to the squares around those in use."""
    around = [
        squares + np.array([0, east, north]) for east in (-100_000, 0, 100_000) for north in (-100_000, 0, 100_000)
    ]
    wider = random.permutation(np.unique(np.concatenate(around), axis=0))[:25]
    all_ways = list(ways_of(evidence, places_of(evidence, rows), wider))
    names = np.array(list(KINDS))
    kinds = np.repeat([list(KINDS).index(name) for name, _ in all_ways], [len(p.row) for _, p in all_ways])
    joined = Places(
        *(
            np.concatenate([getattr(p, name) for _, p in all_ways])
            for name in ("row", "system", "easting", "northing", "precision_m", "is_point")
        )
    )
    by_row = np.argsort(rows)
    record = by_row[np.searchsorted(rows, joined.row, sorter=by_row)]
    of_its_kind = record * len(names) + kinds
    ways = np.bincount(of_its_kind)[of_its_kind]
    share = np.array([KINDS[str(name)][0] for name in names])[kinds] / ways
    keys = random.random(len(kinds)) ** (1 / share)  # weighted draw of one way a record
    in_order = np.lexsort((-keys, record))
    chosen = in_order[np.append(True, record[in_order][1:] != record[in_order][:-1])]
    return joined.at(chosen), names[kinds[chosen]].astype(object)


def _edges(values: Number) -> Number:
    finite = values[np.isfinite(values)]
    return np.unique(np.quantile(finite, np.linspace(0, 1, _BINS + 1)[:-1])) if len(finite) else np.array([0.0])


def _log_ratio(values: Number, truth: Number, weight: Number, edges: Number) -> Number:
    bins = bins_of(values, edges)
    slipped = np.bincount(bins, truth * weight, len(edges) + 3) + 1
    genuine = np.bincount(bins, (1 - truth) * weight, len(edges) + 3) + 1
    ratio: Number = np.log(slipped / slipped.sum()) - np.log(genuine / genuine.sum())
    return ratio


def _fitted(columns: Number, truth: Number, weight: Number, ridge: float = 1.0) -> Number:
    """Logistic regression with a small ridge; the last weight is the constant. Weights are not negative."""
    full = np.column_stack([columns, np.ones(len(columns))])

    def loss(weights: Number) -> tuple[float, Number]:
        score = full @ weights
        value = weight @ (np.logaddexp(0, score) - truth * score) + ridge * (weights[:-1] ** 2).sum()
        slope = full.T @ (weight * (1 / (1 + np.exp(-np.clip(score, -500, 500))) - truth))
        slope[:-1] += 2 * ridge * weights[:-1]
        return float(value), slope

    bounds = [(0.0, None)] * columns.shape[1] + [(None, None)]
    answer = minimize(loss, np.full(full.shape[1], 0.1), jac=True, method="L-BFGS-B", bounds=bounds)
    return np.asarray(answer.x, dtype=float)
