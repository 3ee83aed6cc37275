"""What was found close by, counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from gapmap.expected.evidence import gather
from gapmap.expected.spots import found_close_by
from gapmap.grid.squares import pack
from tests.expected.conftest import make_finds, make_lists, make_species


def test_a_find_just_over_the_border_counts_more_than_one_at_the_far_end() -> None:
    """A list 250 m from the border; in the next square one list 400 m from it, another 1,900 m; a square far off.

    The reach is a third of 2 km. Each species is on one list of three, each at a place of its own, so that a third of
    a find is likely at each place; the species of the square's own list is found nowhere close by.
    """
    squares = pack(1, 2_000, 500_000 + 2_000 * np.array([0, 1, 9]), np.full(3, 1_210_000))
    east = 500_000 + np.array([1_700, 2_100, 3_600])
    lists = make_lists(squares[[0, 1, 1]], easting=east, northing=1_210_900, precision_m=100)
    evidence = gather(lists, make_finds(np.array([1, 2, 3]), np.array([2, 0, 1])), make_species(3), squares)
    close = found_close_by(evidence.spots, evidence.places, 0.75)
    near, far = np.exp(-(np.array([400, 1_900]) ** 2) / (2 * (2_000 / 3) ** 2))
    likely = (near + far) / 3
    assert close[0] == pytest.approx(np.log((np.array([near, far, 0.0]) + 0.5) / (likely + 0.5)), abs=1e-6)
    assert close[0, 0] > 0 > close[0, 1]
    assert close[2].tolist() == [0.0, 0.0, 0.0]


def test_a_place_wider_than_a_quarter_of_its_square_is_its_middle() -> None:
    """Lists of whole squares lie in their middles, those of one quarter of a square's side at their mean."""
    squares = pack(1, 2_000, [500_000], [1_210_000])
    whole = make_lists(squares)
    east = 500_000 + np.array([0, 100, 1_900])
    fine = make_lists(squares[[0, 0, 0]], easting=east, northing=1_210_000, precision_m=100)
    places = [
        gather(lists, make_finds(np.array([1]), np.array([0])), make_species(1), squares).spots.places % 1
        for lists in (whole, fine)
    ]
    assert places[0].tolist() == [[0.5, 0.5]]
    assert places[1] == pytest.approx(np.array([[0.05, 0.025], [0.975, 0.025]]))


def test_no_lists_say_nothing() -> None:
    squares = pack(1, 2_000, [500_000], [1_210_000])
    evidence = gather(make_lists(squares[:0]), make_finds(np.array([]), np.array([])), make_species(2), squares)
    assert found_close_by(evidence.spots, evidence.places, 0.75).tolist() == [[0.0, 0.0]]
