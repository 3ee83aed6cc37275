"""How far to the nearest record of the species by other people: none of them is among those of the record itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence, least_between

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: So many of the nearest records are asked first whose they are.
_FEW = 64


@dataclass(frozen=True)
class ByOthers:
    """For each chosen record: metres to the nearest by other people, the least that can be (infinite: none), and
    whether that is of a wide reference."""

    metres: Number
    is_wide: npt.NDArray[np.bool_]


def nearest_by_others(evidence: Evidence, rows: Whole) -> ByOthers:
    """Look for the nearest record of the species by other people; where nobody is named, other lists are taken for
    other people's.

    Parameters
    ----------
    evidence
        The records laid out.
    rows
        Shape (n,): the chosen records.
    """
    metres, is_wide = np.full(len(rows), np.inf), np.zeros(len(rows), bool)
    for species, of_it in _by_species(evidence, np.unique(evidence.species[rows])):
        x, y, blur, witness = (column[of_it] for column in (evidence.x, evidence.y, evidence.blur, evidence.witness))
        for index in np.flatnonzero((evidence.species[rows] == species) & np.isfinite(evidence.x[rows])):
            row = int(rows[index])
            least = least_between(x - evidence.x[row], y - evidence.y[row], blur, evidence.blur[row])
            for near in _nearest_few_then_all(least):
                others = near[~np.isin(witness[near], evidence.of_same_people(row))]
                if len(others):
                    nearest = others[least[others].argmin()]
                    metres[index], is_wide[index] = least[nearest], blur[nearest] + evidence.blur[row] > 0
                    break
    return ByOthers(metres, is_wide)


def _nearest_few_then_all(least: Number) -> Iterator[Whole]:
    """Which of the records are nearest; among few, one by other people is soon found if there is one."""
    if len(least) > _FEW:
        yield np.argpartition(least, _FEW)[:_FEW]
    yield np.arange(len(least))


def _by_species(evidence: Evidence, species: Whole) -> Iterator[tuple[int, Whole]]:
    """Each species with its records that bear witness, one of those by the same people at the same place."""
    rows = np.flatnonzero(evidence.bears_witness & np.isin(evidence.species, species))
    columns = {name: getattr(evidence, name)[rows] for name in ("species", "witness", "x", "y", "blur")}
    distinct = rows[~pd.DataFrame(columns).duplicated().to_numpy(bool)]
    distinct = distinct[np.argsort(evidence.species[distinct], kind="stable")]
    starts = np.searchsorted(evidence.species[distinct], species)
    yield from zip(species.tolist(), np.split(distinct, starts)[1:], strict=True)
