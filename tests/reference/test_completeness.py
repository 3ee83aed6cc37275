"""The estimators against figures printed elsewhere; nothing here was worked out by the project itself.

Sources
-------
ANTS: five elevations of Longino & Colwell (2011) Ecosphere 2: art29, as printed by the R package iNEXT 3.0
(Hsieh, Ma & Chao 2016, Methods in Ecology and Evolution 7: 1451–1456) for ``iNEXT(ant, "incidence_freq")``:
T, U, S, Q1, Q2, sample coverage, extrapolated richness and the Chao2 estimate in its first form.
SMALL: three small surveys as printed by ``ChaoSpecies(..., "incidence_raw")`` of the R package SpadeR 0.1.1
(Chao, Ma, Hsieh & Chiu 2016): first and bias-corrected Chao2 with standard error and 95 % interval, both
jackknives, sample coverage.
BCI, DUNE: frequencies counted from the data sets of the R package vegan 2.6-4, and its ``specpool`` and
``specaccum(method = "exact")`` of them; the BCI line of specpool is printed in its manual too.
"""

from __future__ import annotations

import numpy as np
import pytest

from gapmap.coverage.estimators import (
    Frequencies,
    chao2,
    extrapolated,
    frequencies,
    jackknife1,
    jackknife2,
    rarefied,
    sample_coverage,
    visits_to_share,
)


def as_frequencies(*columns: list[int]) -> Frequencies:
    """T, S, Q1, Q2 and U of some squares."""
    return Frequencies(*(np.array(column, dtype=float) for column in columns))


ANTS = as_frequencies(
    [599, 230, 150, 200, 200], [227, 241, 122, 56, 14], [49, 71, 28, 13, 1], [23, 34, 16, 4, 2],
    [5976, 2943, 1730, 1170, 271],
)
SMALL = as_frequencies([40, 16, 16], [10, 15, 18], [6, 9, 13], [0, 4, 4], [35, 30, 29])
BCI = {
    1: 21, 2: 19, 3: 10, 4: 5, 5: 6, 6: 3, 7: 5, 8: 7, 9: 6, 10: 5, 11: 3, 12: 6, 13: 4, 14: 4, 15: 2,
    16: 5, 17: 4, 18: 8, 19: 5, 20: 2, 21: 3, 22: 3, 23: 4, 24: 1, 25: 2, 26: 3, 27: 4, 28: 4, 30: 3,
    31: 5, 32: 4, 33: 2, 34: 2, 35: 4, 36: 2, 37: 3, 38: 2, 39: 3, 40: 2, 41: 2, 42: 1, 43: 3, 44: 3,
    45: 4, 46: 4, 47: 3, 48: 7, 49: 5, 50: 7,
}
DUNE = {1: 3, 2: 2, 3: 5, 4: 1, 5: 4, 6: 4, 7: 3, 8: 1, 10: 1, 12: 1, 13: 1, 14: 1, 15: 1, 16: 1, 18: 1}


def found_on(counts: dict[int, int]) -> list[int]:
    """How many plots each species is in, from how many species are in so many plots."""
    return [plots for plots, species in counts.items() for _ in range(species)]


def test_sample_coverage_is_the_printed_one() -> None:
    printed = [0.9918134, 0.9759754, 0.9839382, 0.9889231, 0.9963827]
    assert sample_coverage(ANTS) == pytest.approx(printed, abs=5e-8)
    assert sample_coverage(SMALL) == pytest.approx([0.83, 0.717, 0.569], abs=5e-4)


def test_first_form_of_chao2_is_the_printed_one() -> None:
    printed = [279.108514, 314.810038, 146.336667, 77.019375, 14.248750]
    assert chao2(ANTS, bias_corrected=False).species == pytest.approx(printed, abs=5e-7)


def test_standard_error_and_interval_of_both_forms_are_the_printed_ones() -> None:
    first = chao2(SMALL, bias_corrected=False)
    assert first.species == pytest.approx([24.625, 24.492, 37.805], abs=5e-4)
    assert np.sqrt(first.variance) == pytest.approx([13.216, 8.489, 15.445], abs=5e-4)
    assert first.low == pytest.approx([13.217, 17.113, 23.129], abs=5e-4)
    assert first.high == pytest.approx([76.490, 57.648, 94.469], abs=5e-4)
    corrected = chao2(SMALL)
    assert corrected.species == pytest.approx([24.625, 21.750, 32.625], abs=5e-4)
    assert np.sqrt(corrected.variance)[1:] == pytest.approx([6.075, 10.966], abs=5e-4)
    assert corrected.low[1:] == pytest.approx([16.492, 21.950], abs=5e-4)
    assert corrected.high[1:] == pytest.approx([45.544, 72.154], abs=5e-4)


def test_jackknives_are_the_printed_ones() -> None:
    assert jackknife1(SMALL) == pytest.approx([15.850, 23.438, 30.188], abs=1e-3)
    assert jackknife2(SMALL) == pytest.approx([21.550, 28.046, 38.296], abs=1e-3)


@pytest.mark.parametrize(
    ("site", "further", "printed"),
    [
        (0, 284, 245.732481), (0, 599, 258.745498), (1, 109, 267.977661), (1, 230, 286.546519),
        (2, 71, 132.189999), (2, 150, 138.600961), (3, 95, 61.343524), (3, 200, 65.684073),
        (4, 95, 14.211194), (4, 200, 14.244103),
    ],
)
def test_extrapolated_richness_is_the_printed_one(site: int, further: int, printed: float) -> None:
    assert extrapolated(ANTS, further, bias_corrected=False)[site] == pytest.approx(printed, abs=5e-7)


@pytest.mark.parametrize(
    ("site", "further", "printed"), [(0, 599, 258.745498), (1, 230, 286.546519), (2, 71, 132.189999)]
)
def test_sufficient_sampling_leads_back_to_printed_richness(site: int, further: int, printed: float) -> None:
    """The share printed for so many further plots must ask for so many further plots."""
    share = printed / chao2(ANTS, bias_corrected=False).species[site]
    assert visits_to_share(ANTS, share, bias_corrected=False)[site] == pytest.approx(further, abs=1e-3)


def test_pooled_species_of_the_plots_of_barro_colorado() -> None:
    found = found_on(BCI)
    f = frequencies(np.zeros(len(found), int), found, [50])
    estimate = chao2(f, bias_corrected=False)
    assert f.species[0] == 225
    assert estimate.species[0] == pytest.approx(236.37315789473683, rel=1e-12)
    assert np.sqrt(estimate.variance[0]) == pytest.approx(6.5436103805885706, rel=1e-12)
    assert jackknife1(f)[0] == pytest.approx(245.58, rel=1e-12)
    assert jackknife2(f)[0] == pytest.approx(247.87224489795921, rel=1e-12)


@pytest.mark.parametrize(
    ("counts", "plots", "printed"),
    [
        (BCI, 50, {1: 90.78, 2: 121.60979591836762, 5: 159.23634437123619, 10: 182.56044412200731, 50: 225}),
        (DUNE, 20, {1: 9.85, 2: 15.110526315789492, 5: 22.754321465428294, 10: 27.364962436943866, 20: 30.0}),
    ],
)
def test_rarefied_richness_is_that_of_the_exact_accumulation_curve(
    counts: dict[int, int], plots: int, printed: dict[int, float]
) -> None:
    found = found_on(counts)
    for at, richness in printed.items():
        assert rarefied(np.zeros(len(found), int), found, [plots], at)[0] == pytest.approx(richness, rel=1e-9)


def test_bias_corrected_form_is_that_of_abundance_data_with_many_units() -> None:
    """``estimateR`` of plot 1 of BCI: 93 species, 31 once, 18 twice, Chao1 117.47368 ± 11.58378.

    Chao1 lacks the factor (T - 1) / T of Chao2, which is one for very many units. The standard error comes
    from another expansion there and agrees to 0.02 %.
    """
    f = as_frequencies([10**12], [93], [31], [18], [448])
    assert chao2(f).species[0] == pytest.approx(117.4736842105263, rel=1e-9)
    assert np.sqrt(chao2(f).variance[0]) == pytest.approx(11.5837848486587, rel=2e-4)
