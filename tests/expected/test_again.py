"""Finding species again: the curve given a square's own lists, and what came of it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import betabinom

from gapmap.expected.again import DEFAULTS, learn_again, score_again
from gapmap.expected.backtest import backtest
from gapmap.expected.curves import HeavyTail, bin_effort, heavy_tail
from gapmap.expected.regression import chance_of


def test_the_curve_after_a_squares_own_lists_is_the_beta_binomial() -> None:
    """With one mean and spread, f of n lists leave beta-binomial odds with f and n − f added (scipy.stats.betabinom)."""
    tail = heavy_tail(bin_effort(np.ones((4, 1))), np.ones((4, 1)))
    weight = np.zeros_like(tail.weight)
    weight[0, 3 * 40 + 20] = 1.0
    spread, mean = 2.5, np.exp(np.linspace(np.log(2e-5), np.log(0.8), 40))[20]
    found, made, coming = np.array([1.0, 3, 7]), np.array([1.0, 10, 8]), np.array([1.0, 5, 40])
    got = HeavyTail(weight).log_hazard_after(found, made, coming, np.zeros(3, dtype="int64"))
    none = betabinom.pmf(0, coming, mean * spread + found, (1 - mean) * spread + made - found)
    assert np.exp(-np.exp(got)) == pytest.approx(none, rel=1e-6)


def test_often_found_here_is_likelier_found_again_than_once() -> None:
    """Common practice, no source: what half the lists of a square held will be met again, a single old record may not."""
    tail = heavy_tail(bin_effort(np.full((50, 1), 20.0)), np.repeat([[10.0], [1.0]], 25, axis=0))
    often, once = tail.log_hazard_after(np.array([10.0, 1.0]), np.full(2, 20.0), 1.0, np.zeros(2, dtype="int64"))
    chance = chance_of(score_again(DEFAULTS, np.full(2, -1.5), np.array([often, once])))
    assert chance[0] > 2 * chance[1]


def test_without_a_past_the_defaults_stand() -> None:
    assert learn_again([], 1.0).tolist() == DEFAULTS.tolist()


def test_what_was_known_is_found_again_about_as_often_as_said(invented) -> None:
    lists, finds, species, _, _ = invented(width=20, kinds=40)
    again = backtest(lists, finds, species, 2008).again
    assert (again.table["lists_with"] >= 1).all()
    assert 0.8 < again.table["chance"].sum() / again.table["found"].sum() < 1.25
    assert again.scores.loc["model", "log_loss"] < again.scores.loc["own lists", "log_loss"]
