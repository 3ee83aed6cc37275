"""Sums over neighbours beside the plain double loop, and the words about neighbours and companions by hand."""

from __future__ import annotations

import numpy as np
import pytest

from gapmap.expected.clues import find_clues
from gapmap.expected.evidence import gather
from gapmap.expected.surroundings import sum_around
from gapmap.expected.words import friends_here, neighbours_with
from gapmap.grid.squares import pack
from tests.expected.conftest import make_finds, make_lists, make_species


@pytest.mark.parametrize("reach", [0.7, 2.0, 6.0])
def test_sums_are_those_of_every_pair(reach: float) -> None:
    """Squares near, as far apart as an area is wide, and two on one place (as where two zones meet)."""
    generator = np.random.default_rng(7)
    places = np.vstack([generator.integers(0, 90, (60, 2)), [[5, 5], [5, 5]]]).astype(float)
    values = generator.random((62, 4)) ** 8
    apart = ((places[:, None, :] - places[None, :, :]) ** 2).sum(axis=2)
    weight = np.exp(-apart / (2 * reach**2))
    np.fill_diagonal(weight, 0.0)
    assert sum_around(places, values, reach) == pytest.approx(weight @ values, abs=1e-12)


def test_neighbours_and_companions_by_hand() -> None:
    """Three squares in a row and one apart: the middle one has lists on both sides, one of them with species 1."""
    east = 500_000 + 2_000 * np.array([0, 1, 2, 9])
    squares = pack(1, 2_000, east, np.full(4, 1_210_000))
    lists = make_lists(squares)
    finds = make_finds(np.array([1, 2, 3, 3, 4]), np.array([0, 0, 0, 1, 1]))
    evidence = gather(lists, finds, make_species(2), squares)
    looked, with_it = neighbours_with(evidence, np.array([1, 1, 0, 3]), np.array([0, 1, 1, 1]))
    assert looked.tolist() == [2, 2, 1, 0]
    assert with_it.tolist() == [2, 1, 0, 0]
    clues = find_clues(evidence)
    everyone = np.array([[1, -1], [0, -1]])
    bound = type(clues)(**{**vars(clues), "friends": everyone})
    assert friends_here(bound, np.array([0, 1, 2, 3]), np.array([1, 1, 0, 0])).tolist() == [1, 1, 1, 1]
    assert friends_here(bound, np.array([3, 0]), np.array([1, 0])).tolist() == [0, 0]
