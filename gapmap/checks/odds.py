"""How strongly the place of a record speaks for a slip: its measures, and the odds learned from them (lessons.py).

What a measure is worth depends on the file: the rows above and below are a strong witness in a file kept in the order
of its lists, and none in a shuffled one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence, Trial, blur_of, least_between, plane_positions
from gapmap.checks.layers import Layers
from gapmap.checks.transforms import OF_DEGREES, OF_FIGURES, Places, repairs

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

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


def place_measures(evidence: Evidence, trial: Trial) -> pd.DataFrame:
    """Measures of place for records tried somewhere: one row a record, one column a measure.

    Returns
    -------
    pandas.DataFrame
        ``species_m`` (as felt), ``least_felt_m`` and ``nearest_m`` (the least that can be), ``middles_m`` and
        ``middles_felt_m`` (from middle to middle), ``anything_m``, ``ground_m`` (the recorder's usual ground),
        ``outing_m`` (rest of the outing), ``rows_m``, ``rows_second_m`` and ``lists_m`` (rows and lists beside it in
        the file): metres, infinite when there is none; three nodes; ``nearby``: log of the species' share among the
        nearest places against its share all over; ``company``: other records on the same list; ``twice``: whether that
        list holds the species already. The witnesses are told from the middle of what is nearest: the least that can
        be would flatter every fine place inside a wide one.
    """
    rows = trial.row
    dates, owner, year = evidence.dates[rows], evidence.outing[rows], evidence.year[rows]
    people = evidence.people[rows]
    beside = evidence.rows_beside(trial)
    own, wider, middles = evidence.of_species.nearest_three_ways(
        trial.species, trial.x, trial.y, owner, year, trial.blur
    )

    def metres(layers: Layers, layer: Whole, whose: Whole) -> Number:
        return layers.nearest(layer, trial.x, trial.y, whose, blur=trial.blur).metres

    return pd.DataFrame(
        {
            "species_m": own.felt,
            "least_felt_m": wider.felt,
            "least_felt_node": wider.felt_node,
            "nearest_m": _least_to(evidence.of_species, wider.node, trial),
            "nearest_node": wider.node,
            "middles_m": middles.metres,
            "middles_felt_m": middles.felt,
            "middles_felt_node": middles.felt_node,
            "anything_m": metres(evidence.of_anything, np.zeros_like(rows), owner),
            "ground_m": np.where(people > 0, metres(evidence.by_people, people, owner), np.nan),
            "outing_m": np.where(people > 0, metres(evidence.of_outing, dates, rows), np.nan),
            "rows_m": beside[:, 0],
            "rows_second_m": beside[:, 1],
            "lists_m": evidence.lists_beside(trial)[:, 0],
            "nearby": evidence.share_nearby(trial),
            "company": evidence.listed_with(trial),
            "twice": evidence.listed_already(trial),
        }
    )


def _least_to(layers: Layers, node: Whole, trial: Trial) -> Number:
    """Metres to nodes of a layer at least; infinite where there is none."""
    if not len(layers.x):
        return np.full(len(node), np.inf)
    least = least_between(layers.x[node] - trial.x, layers.y[node] - trial.y, trial.blur, layers.blur[node])
    return np.where(node >= 0, least, np.inf)


@dataclass(frozen=True)
class Odds:
    """Natural logarithm of the odds that a place is a slip, up to a constant: the higher, the likelier."""

    edges: dict[str, Number]
    evidence: dict[str, Number]
    weights: Number

    def of(self, measures: pd.DataFrame) -> Number:
        """Log odds for each row of measures."""
        columns = binned(measures, self.edges, self.evidence)
        answer: Number = columns @ self.weights[:-1] + self.weights[-1]
        return answer

    def plain(self, measures: pd.DataFrame) -> Number:
        """Log odds as if every measure were a witness of its own."""
        answer: Number = binned(measures, self.edges, self.evidence).sum(axis=1)
        return answer


def places_of(evidence: Evidence, rows: Whole) -> Places:
    """References of laid-out records as they were read."""
    system, easting, northing, precision_m = evidence.references[rows].T
    return Places(rows, system, easting, northing, precision_m, evidence.is_point[rows])


def ways_of(evidence: Evidence, places: Places, squares: npt.NDArray[np.int64]) -> Iterator[tuple[str, Places]]:
    """As transforms.repairs, without slips that make no sense in what was typed (figures of degrees, degrees of
    figures)."""
    for kind, there in repairs(places, squares):
        typed = evidence.in_metres[there.row]
        sound = (~there.is_point | typed) if kind in OF_FIGURES else ~typed if kind in OF_DEGREES else True
        yield kind, there.at(np.flatnonzero(np.broadcast_to(sound, len(there.row))))


def tried(evidence: Evidence, places: Places, species: Whole | None = None) -> Trial:
    """Places laid on the plane, as trials of the records they belong to."""
    half = np.where(places.is_point, 0.0, places.precision_m / 2)
    easting, northing = places.easting.astype(float) + half, places.northing.astype(float) + half
    x, y = plane_positions(places.system, easting, northing, evidence.system)
    blur = blur_of(places.precision_m.astype(float))
    return Trial(places.row, x, y, evidence.species[places.row] if species is None else species, blur)


def bins_of(values: Number, edges: Number) -> Whole:
    """Bin of each value: between edges, then infinite, then missing."""
    inside = np.searchsorted(edges, values, side="left")
    return np.where(np.isnan(values), len(edges) + 2, np.where(np.isinf(values), len(edges) + 1, inside)).astype(
        np.int64
    )


def binned(measures: pd.DataFrame, edges: dict[str, Number], tables: dict[str, Number]) -> Number:
    return np.column_stack([tables[name][bins_of(measures[name].to_numpy(float), edges[name])] for name in edges])
