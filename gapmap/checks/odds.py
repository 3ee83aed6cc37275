"""How strongly the place of a record speaks for a slip: learned from the records themselves.

A sample of accepted records is moved by one slip each, and the measures of place before and after are compared.
What a measure is worth therefore depends on the file: the rows above and below are a strong witness in a file kept
in the order of its lists, and none in a shuffled one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.optimize import minimize

from gapmap.checks.evidence import Evidence, Trial, plane_positions
from gapmap.checks.transforms import KINDS, Places, repairs

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: Records moved to learn from, at most.
SAMPLE = 6_000
#: Accepted records without which nothing is learned.
LEAST_RECORDS = 50
#: The measures that the odds are learned from.
WITNESSES = (
    "species_m",
    "anything_m",
    "ground_m",
    "outing_m",
    "rows_m",
    "rows_second_m",
    "lists_m",
    "nearby",
    "company",
    "twice",
)

_BINS = 14


def place_measures(evidence: Evidence, trial: Trial) -> pd.DataFrame:
    """Measures of place for records tried somewhere: one row a record, one column a measure.

    Returns
    -------
    pandas.DataFrame
        ``species_m``, ``anything_m``, ``ground_m`` (the recorder's usual ground), ``outing_m`` (rest of the outing),
        ``rows_m``, ``rows_second_m`` and
        ``lists_m`` (rows and lists beside it in the file): metres, infinite when there is none; ``nearby``: log of the
        species' share among the nearest places against its share all over; ``company``: other records on the same list;
        ``twice``: whether that list holds the species already.
    """
    rows = trial.row
    own, owner, year = evidence.dates[rows], evidence.outing[rows], evidence.year[rows]
    people = evidence.people[rows]
    beside = evidence.rows_beside(trial)
    species = evidence.of_species.nearest(trial.species, trial.x, trial.y, owner, year)
    return pd.DataFrame(
        {
            "species_m": species.felt,
            "species_node": species.node,
            "nearest_m": species.metres,
            "anything_m": evidence.of_anything.nearest(np.zeros_like(rows), trial.x, trial.y, owner).metres,
            "ground_m": np.where(
                people > 0, evidence.by_people.nearest(people, trial.x, trial.y, owner).metres, np.nan
            ),
            "outing_m": np.where(people > 0, evidence.of_outing.nearest(own, trial.x, trial.y, rows).metres, np.nan),
            "rows_m": beside[:, 0],
            "rows_second_m": beside[:, 1],
            "lists_m": evidence.lists_beside(trial)[:, 0],
            "nearby": evidence.share_nearby(trial),
            "company": evidence.listed_with(trial),
            "twice": evidence.listed_already(trial),
        }
    )


@dataclass(frozen=True)
class Odds:
    """Natural logarithm of the odds that a place is a slip, up to a constant: the higher, the likelier."""

    edges: dict[str, Number]
    evidence: dict[str, Number]
    weights: Number

    def of(self, measures: pd.DataFrame) -> Number:
        """Log odds for each row of measures."""
        columns = _binned(measures, self.edges, self.evidence)
        answer: Number = columns @ self.weights[:-1] + self.weights[-1]
        return answer

    def plain(self, measures: pd.DataFrame) -> Number:
        """Log odds as if every measure were a witness of its own."""
        answer: Number = _binned(measures, self.edges, self.evidence).sum(axis=1)
        return answer


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


def learn_odds(evidence: Evidence, lesson: Lesson) -> Odds:
    """Learn what tells the records that were moved by a slip from those left alone."""
    genuine = place_measures(evidence, tried(evidence, lesson.left))
    slipped = place_measures(evidence, tried(evidence, lesson.moved))
    both = pd.concat([genuine, slipped], ignore_index=True)[list(WITNESSES)]
    return fit_odds(both, np.repeat([0.0, 1.0], [len(genuine), len(slipped)]))


def fit_odds(measures: pd.DataFrame, truth: Number, weight: Number | None = None) -> Odds:
    """Odds from measures of records of which it is known whether they slipped (truth 1) or not (0).

    The weight says how much each record counts; without it, all count alike.
    """
    weight = np.ones(len(truth)) if weight is None else weight
    edges = {str(name): _edges(measures[name].to_numpy(float)) for name in measures}
    tables = {name: _log_ratio(measures[name].to_numpy(float), truth, weight, edges[name]) for name in edges}
    return Odds(edges, tables, _fitted(_binned(measures, edges, tables), truth, weight))


def places_of(evidence: Evidence, rows: Whole) -> Places:
    """References of laid-out records as they were read."""
    system, easting, northing, precision_m = evidence.references[rows].T
    return Places(rows, system, easting, northing, precision_m, evidence.is_point[rows])


def tried(evidence: Evidence, places: Places, species: Whole | None = None) -> Trial:
    """Places laid on the plane, as trials of the records they belong to."""
    half = np.where(places.is_point, 0.0, places.precision_m / 2)
    easting, northing = places.easting.astype(float) + half, places.northing.astype(float) + half
    x, y = plane_positions(places.system, easting, northing, evidence.system)
    return Trial(places.row, x, y, evidence.species[places.row] if species is None else species)


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
    all_ways = list(repairs(places_of(evidence, rows), wider))
    position = {int(row): index for index, row in enumerate(rows)}
    kinds = np.concatenate([np.full(len(p.row), name) for name, p in all_ways])
    joined = Places(
        *(
            np.concatenate([getattr(p, name) for _, p in all_ways])
            for name in ("row", "system", "easting", "northing", "precision_m", "is_point")
        )
    )
    frame = pd.DataFrame({"record": [position[int(row)] for row in joined.row], "kind": kinds})
    ways = frame.groupby(["record", "kind"])["kind"].transform("size").to_numpy(float)
    share = np.array([KINDS[kind][0] for kind in kinds]) / ways
    keys = random.random(len(frame)) ** (1 / share)  # weighted draw of one way a record
    chosen = frame.assign(key=keys).groupby("record")["key"].idxmax().to_numpy()
    return joined.at(chosen), kinds[chosen].astype(object)


def _edges(values: Number) -> Number:
    finite = values[np.isfinite(values)]
    return np.unique(np.quantile(finite, np.linspace(0, 1, _BINS + 1)[:-1])) if len(finite) else np.array([0.0])


def _bins(values: Number, edges: Number) -> Whole:
    """Bin of each value: between edges, then infinite, then missing."""
    inside = np.searchsorted(edges, values, side="left")
    return np.where(np.isnan(values), len(edges) + 2, np.where(np.isinf(values), len(edges) + 1, inside)).astype(
        np.int64
    )


def _log_ratio(values: Number, truth: Number, weight: Number, edges: Number) -> Number:
    bins = _bins(values, edges)
    slipped = np.bincount(bins, truth * weight, len(edges) + 3) + 1
    genuine = np.bincount(bins, (1 - truth) * weight, len(edges) + 3) + 1
    ratio: Number = np.log(slipped / slipped.sum()) - np.log(genuine / genuine.sum())
    return ratio


def _binned(measures: pd.DataFrame, edges: dict[str, Number], tables: dict[str, Number]) -> Number:
    return np.column_stack([tables[name][_bins(measures[name].to_numpy(float), edges[name])] for name in edges])


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
