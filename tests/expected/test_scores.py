"""Scores against worked figures."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import mannwhitneyu

from gapmap.expected.scores import auc, average_precision, calibration, five_best, reliability, scores


def test_auc_is_the_mann_whitney_statistic() -> None:
    generator = np.random.default_rng(3)
    found = (generator.random(300) < 0.3).astype(float)
    chance = np.round(generator.random(300), 1)
    statistic = mannwhitneyu(chance[found == 1], chance[found == 0]).statistic
    assert auc(found, chance) == pytest.approx(statistic / (found.sum() * (300 - found.sum())))


def test_average_precision_of_a_textbook_ranking() -> None:
    """Found at ranks 1, 3 and 5: (1/1 + 2/3 + 3/5) / 3, as in Manning, Raghavan & Schütze (2008), chapter 8."""
    assert average_precision(np.array([1.0, 0, 1, 0, 1]), np.array([0.9, 0.8, 0.7, 0.6, 0.5])) == pytest.approx(
        (1 + 2 / 3 + 3 / 5) / 3
    )


def test_calibration_recovers_how_chances_were_stretched() -> None:
    generator = np.random.default_rng(4)
    odds = generator.normal(-1, 1.5, 60_000)
    found = (generator.random(60_000) < 1 / (1 + np.exp(-(0.7 * odds + 0.4)))).astype(float)
    slope, intercept = calibration(found, 1 / (1 + np.exp(-odds)))
    assert slope == pytest.approx(0.7, abs=0.03)
    assert intercept == pytest.approx(0.4, abs=0.04)


def test_five_best_counts_squares_with_fewer_pairs() -> None:
    square = np.array([1] * 6 + [2])
    assert five_best(np.array([1.0, 1, 0, 0, 0, 1, 1]), np.array([0.9, 0.8, 0.7, 0.6, 0.5, 0.1, 0.2]), square) == 0.5


def test_nothing_found_has_no_score() -> None:
    assert np.isnan(scores([0, 0], [0.1, 0.2], [1, 1])["auc"])


def test_reliability_bins_hold_every_pair() -> None:
    bins = reliability([0, 1, 1, 0], [0.05, 0.95, 1.0, 0.31])
    assert bins["pairs"].sum() == 4
    assert bins["found"].tolist() == [0.0, 0.0, 1.0]


@pytest.mark.parametrize("pairs", range(1, 30))
def test_a_share_of_all_or_none_lies_in_its_interval(pairs: int) -> None:
    """Wilson's interval then ends at the share itself, which figures of a computer miss by a hair."""
    every = reliability([1] * pairs, [0.65] * pairs)
    none = reliability([0] * pairs, [0.05] * pairs)
    assert every["found_high"].tolist() == [1.0]
    assert none["found_low"].tolist() == [0.0]
