"""Beals smoothing against figures of the R package vegan 2.6-4 on its own dune meadow data.

Data: Jongman, ter Braak & van Tongeren (1987) *Data Analysis in Community and Landscape Ecology*, table 0.1, as the
package carries it; figures printed by ``beals(dune, type, include)``.
"""

from __future__ import annotations

import io
import shutil
import subprocess

import numpy as np
import pandas as pd
import pytest

from gapmap.errors import GapmapError
from gapmap.expected.company import beals

#: kind, include: entries [1, 1], [5, 10], [20, 30] (counted from 1) and the sum of all.
FIGURES = {
    (0, True): (0.5923076923, 0.0216269841, 0.4222222222, 206.3735621610),
    (0, False): (0.4903846154, 0.0216269841, 0.3396825397, 198.7955869374),
    (1, True): (0.5832080754, 0.0217602070, 0.4531919535, 205.5600066343),
    (1, False): (0.4790100943, 0.0217602070, 0.3750765183, 197.9693609580),
    (2, True): (0.5235042735, 0.0166666667, 0.4168458781, 206.6828905060),
    (2, False): (0.4954751131, 0.0166666667, 0.3543650794, 199.4163509857),
    (3, True): (0.5239136130, 0.0158920900, 0.4561894566, 205.7951593942),
    (3, False): (0.4959085314, 0.0158920900, 0.3979240412, 198.6470371919),
}

needs_r = pytest.mark.skipif(shutil.which("Rscript") is None, reason="Rscript is not on this machine")


def run_r(code: str) -> np.ndarray:
    """Run R code with vegan that prints a table as CSV."""
    whole = f"suppressMessages(library(vegan)); options(digits = 17); {code}"
    done = subprocess.run(["Rscript", "--vanilla", "-"], input=whole, capture_output=True, text=True, timeout=120)
    if "there is no package called" in done.stderr:
        pytest.skip("R is here, but not its package vegan")
    assert done.returncode == 0, done.stderr
    return pd.read_csv(io.StringIO(done.stdout)).to_numpy(np.float64)


@pytest.fixture(scope="module", params=["dune", "BCI"])
def named_sites(request: pytest.FixtureRequest) -> tuple[str, np.ndarray]:
    return request.param, run_r(f"data({request.param}); write.csv(as.matrix({request.param}), row.names = FALSE)")


@pytest.mark.r
@needs_r
@pytest.mark.parametrize("include", [True, False])
@pytest.mark.parametrize("kind", [0, 1, 2, 3])
def test_beals_is_vegans_beals(named_sites: tuple[str, np.ndarray], kind: int, include: bool) -> None:
    name, sites = named_sites
    flag = "TRUE" if include else "FALSE"
    theirs = run_r(
        f"data({name}); write.csv(beals({name}, type = {kind}, include = {flag}), row.names = FALSE)"
    )
    ours = beals(sites, kind=kind, include=include)
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-9)
    if name == "dune":
        fixed = FIGURES[kind, include]
        np.testing.assert_allclose([ours[0, 0], ours[4, 9], ours[19, 29], ours.sum()], fixed, rtol=0, atol=1e-9)


@pytest.mark.r
@needs_r
@pytest.mark.parametrize("kind", [0, 1, 2, 3])
def test_one_species_and_another_reference(kind: int) -> None:
    sites = run_r("data(dune); write.csv(dune, row.names = FALSE)")
    call = f"beals(dune[1:8, ], species = 3, reference = dune[9:20, ], type = {kind}, include = FALSE)"
    theirs = run_r(f"data(dune); write.csv({call}, row.names = FALSE)")[:, 0]
    ours = beals(sites[:8], species=2, reference=sites[8:], kind=kind, include=False)
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=1e-9)


def test_beals_by_hand() -> None:
    """Two sites, three species: A with B at one, A with C at the other. N(A)=2, N(B)=N(C)=1."""
    sites = [[1, 1, 0], [1, 0, 1]]
    # site 1, species C: (N_CA/N_A + N_CB/N_B) / 2 = (1/2 + 0/1) / 2
    assert beals(sites)[0, 2] == pytest.approx(0.25)
    # site 1, species A without itself: N_AB/N_B over one companion
    assert beals(sites, include=False)[0, 0] == pytest.approx(1.0)


def test_wrong_tables_are_refused_in_words() -> None:
    with pytest.raises(GapmapError, match="same species"):
        beals(np.ones((2, 3)), reference=np.ones((2, 4)))
    with pytest.raises(GapmapError, match="0, 1, 2 or 3"):
        beals(np.ones((2, 3)), kind=4)
