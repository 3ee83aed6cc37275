"""The nearest of one's kind: by looking at all of them, and by a tree, which must agree to the node."""

from __future__ import annotations

import numpy as np
import pytest

from gapmap.checks.layers import Layers

#: Places on a lattice of a kilometre, as records of whole squares lie: most have several others equally far.
RANDOM = np.random.default_rng(12)
PLACES = 3_000
LAYER = RANDOM.integers(0, 4, PLACES)
X, Y = (RANDOM.integers(0, 40, (2, PLACES)) * 1_000 + 500).astype(float)


def planted() -> Layers:
    return Layers(LAYER, X, Y, np.arange(PLACES), np.full(PLACES, 2_000.0))


@pytest.mark.parametrize("count", [1, 6, 12, 40, 1_000])
def test_few_and_many_questions_have_the_same_answer(count: int) -> None:
    tree = planted()
    layer, x, y = RANDOM.integers(0, 6, 200), *RANDOM.integers(0, 40_000, (2, 200)).astype(float)
    layer[:100], x[:100], y[:100] = LAYER[:100], X[:100], Y[:100]
    x[0] = np.nan
    metres, node = tree.neighbours(layer, x, y, count)
    for start in range(0, 200, 10):
        few = slice(start, start + 10)
        few_metres, few_node = tree.neighbours(layer[few], x[few], y[few], count)
        assert (few_metres == metres[few]).all()
        assert (few_node == node[few]).all()


def test_the_nearest_are_those_that_pythagoras_says() -> None:
    metres, _ = planted().neighbours(np.array([2]), np.array([7_250.0]), np.array([30_100.0]), 12)
    places = {(x, y) for x, y, layer in zip(X, Y, LAYER, strict=True) if layer == 2}
    expected = sorted(((x - 7_250) ** 2 + (y - 30_100) ** 2) ** 0.5 for x, y in places)[:12]
    assert metres[0] == pytest.approx(expected)


def test_which_of_equals_comes_first_does_not_hang_on_the_order_of_records() -> None:
    turned = Layers(LAYER[::-1], X[::-1], Y[::-1], np.arange(PLACES), np.full(PLACES, 2_000.0))
    asked = np.full(500, 1), np.repeat(20_500.0, 500), np.repeat(20_500.0, 500), 6
    ours, theirs = planted(), turned
    _, node = ours.neighbours(*asked)
    _, other = theirs.neighbours(*asked)
    assert (ours.x[node] == theirs.x[other]).all()
    assert (ours.y[node] == theirs.y[other]).all()
