"""The three plain ways to guess that any model must beat."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from gapmap.expected.evidence import Evidence
from gapmap.expected.learning import usual_lists
from gapmap.expected.surroundings import sum_around

Numbers = npt.NDArray[np.float64]

_REACH, _ENOUGH, _FALL_BACK = 6.0, 4.0, 0.3


def baselines(evidence: Evidence, lists_after: Numbers) -> dict[str, Numbers]:
    """Chances by the frequency of the species, its neighbours, and its company, given the lists made after.

    Parameters
    ----------
    evidence
        What was known before.
    lists_after
        S.

    Returns
    -------
    dict of S × K

    Source
    ------
    Company: Beals, E.W. (1984) Advances in Ecological Research 14, 1–55, the species itself left out.
    """
    found, visited = evidence.found, evidence.lists > 0
    frequency = found[visited].mean(axis=0) if visited.any() else np.zeros(found.shape[1])
    looked = (evidence.lists / (evidence.lists + _ENOUGH))[:, None]
    near = (sum_around(evidence.places, looked * found, _REACH) + _FALL_BACK * frequency) / (
        sum_around(evidence.places, looked, _REACH) + _FALL_BACK
    )
    together = found.T @ found
    share = together / np.maximum(np.diag(together), 1.0)[None, :]
    np.fill_diagonal(share, 0.0)
    company = (found @ share.T + frequency) / (found.sum(axis=1, keepdims=True) - found + 1)
    plain = {"frequency": np.broadcast_to(frequency, found.shape), "neighbours": near, "company": company}
    return {name: with_effort(chance, lists_after) for name, chance in plain.items()}


def with_effort(chance: Numbers, lists_after: Numbers) -> Numbers:
    """1−(1−p)^√(lists/median lists)."""
    power = np.sqrt(lists_after / usual_lists(lists_after))[:, None]
    answer: Numbers = 1 - (1 - np.clip(chance, 0, 1 - 1e-12)) ** power
    return answer
