"""Laws the estimators must obey on any data; the figures are checked in tests/reference."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gapmap.coverage.estimators import (
    chao2,
    extrapolated,
    frequencies,
    jackknife1,
    jackknife2,
    rarefied,
    sample_coverage,
    visits_to_share,
)

#: Visits, and on how many of them each species was found.
SQUARES = st.integers(2, 40).flatmap(
    lambda visits: st.tuples(st.just(visits), st.lists(st.integers(1, visits), min_size=1, max_size=30))
)


def of(visits: int, found: list[int]):
    return frequencies(np.zeros(len(found), int), found, [visits])


@given(SQUARES)
@settings(max_examples=200, deadline=None)
def test_estimate_lies_in_its_interval_and_above_what_was_found(square: tuple[int, list[int]]) -> None:
    f = of(*square)
    for bias_corrected in (True, False):
        estimate = chao2(f, bias_corrected=bias_corrected)
        assert estimate.species[0] >= f.species[0]
        assert estimate.variance[0] >= -1e-9
        assert f.species[0] - 1e-9 <= estimate.low[0]
        if f.once[0] > 1:
            assert estimate.low[0] <= estimate.species[0] <= estimate.high[0]
    assert chao2(f).species[0] <= chao2(f, bias_corrected=False).species[0] + 1e-9
    assert 0 <= sample_coverage(f)[0] <= 1


@given(SQUARES, st.floats(0.05, 0.99))
@settings(max_examples=200, deadline=None)
def test_visits_to_a_share_bring_the_species_to_that_share(square: tuple[int, list[int]], share: float) -> None:
    f = of(*square)
    further = visits_to_share(f, share)[0]
    reached = extrapolated(f, further)[0]
    wanted = share * chao2(f).species[0]
    assert reached == pytest.approx(max(wanted, f.species[0]), rel=1e-9)


@given(SQUARES)
@settings(max_examples=100, deadline=None)
def test_the_curve_rises_without_a_break_from_one_visit_to_the_estimate(square: tuple[int, list[int]]) -> None:
    visits, found = square
    f, one = of(*square), np.zeros(len(found), int)
    below = [rarefied(one, found, [visits], at)[0] for at in range(1, visits + 1)]
    above = [extrapolated(f, further)[0] for further in (0, 1, 3, 10, 1e6)]
    curve = np.array(below + above)
    assert np.all(np.diff(curve) >= -1e-9)
    assert below[0] == pytest.approx(sum(found) / visits)
    assert below[-1] == pytest.approx(len(found))
    assert above[-1] <= chao2(f).species[0] + 1e-9


@given(st.lists(SQUARES, min_size=1, max_size=8))
@settings(max_examples=50, deadline=None)
def test_many_squares_at_once_are_each_square_alone(squares: list[tuple[int, list[int]]]) -> None:
    row = np.concatenate([np.full(len(found), index) for index, (_, found) in enumerate(squares)])
    found = np.concatenate([np.array(found) for _, found in squares])
    visits = np.array([visits for visits, _ in squares])
    together = frequencies(row, found, visits)
    for work in (lambda f: chao2(f).high, jackknife1, jackknife2, sample_coverage, lambda f: visits_to_share(f, 0.75)):
        alone = [work(of(*square))[0] for square in squares]
        assert work(together) == pytest.approx(alone, nan_ok=True)
    at = rarefied(row, found, visits, 2)
    assert at == pytest.approx([rarefied(np.zeros(len(f), int), f, [v], 2)[0] for v, f in squares])


@pytest.mark.parametrize("visits", [0, 1])
def test_too_few_visits_give_no_number(visits: int) -> None:
    f = frequencies([0] * visits, [1] * visits, [visits])
    further = visits_to_share(f, 0.75), extrapolated(f, 3)
    for value in (chao2(f).species, chao2(f).low, sample_coverage(f), jackknife2(f), *further):
        assert np.isnan(value[0])


def test_visited_and_nothing_found() -> None:
    f = frequencies([], [], [8])
    assert chao2(f).species.tolist() == [0]
    assert chao2(f).high.tolist() == [0]
    assert np.isnan(sample_coverage(f)[0])
    assert rarefied([], [], [8], 3).tolist() == [0]


def test_no_squares() -> None:
    f = frequencies([], [], [])
    assert len(chao2(f).species) == len(rarefied([], [], [], 3)) == 0


def test_fewer_visits_than_asked_for_give_no_rarefied_number() -> None:
    assert np.isnan(rarefied([0, 0], [1, 2], [5], 6)[0])


@pytest.mark.parametrize("share", [0, -0.5])
def test_a_share_must_lie_above_none(share: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        visits_to_share(of(3, [1, 2]), share)


def test_no_number_of_visits_reaches_more_than_the_estimate() -> None:
    """Visits go on towards the estimate for ever (equation 11 of Chao and others, 2009, has it as its limit)."""
    four = of(3, [1, 1, 1, 2])
    assert np.isnan(visits_to_share(four, [1])).all()
    assert np.isnan(visits_to_share(four, [1.5])).all()
    assert np.isfinite(visits_to_share(four, [0.99])).all()
