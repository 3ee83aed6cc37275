"""The estimators beside R's vegan in one run, on its own data sets and on random tables: the same to 1e-9."""

from __future__ import annotations

import io
import shutil
import subprocess

import numpy as np
import pandas as pd
import pytest

from gapmap.coverage.estimators import Frequencies, chao2, frequencies, jackknife1, jackknife2, rarefied

pytestmark = [
    pytest.mark.r,
    pytest.mark.skipif(shutil.which("Rscript") is None, reason="Rscript is not on this machine"),
]


def run_r(code: str) -> str:
    """Run R code with vegan; what it prints."""
    whole = f"suppressMessages(library(vegan)); options(digits = 17); {code}"
    command = ["Rscript", "--vanilla", "-"]
    done = subprocess.run(command, input=whole, capture_output=True, text=True, timeout=120)
    if "there is no package called" in done.stderr:
        pytest.skip("R is here, but not its package vegan")
    assert done.returncode == 0, done.stderr
    return done.stdout


def table_of(text: str) -> pd.DataFrame:
    return pd.read_csv(io.StringIO(text))


@pytest.fixture(scope="module", params=["BCI", "dune", "mite"])
def plots(request: pytest.FixtureRequest) -> tuple[str, np.ndarray]:
    data = request.param
    counts = table_of(run_r(f"data({data}); write.csv(as.data.frame(as.matrix({data})), row.names = FALSE)"))
    return data, counts.to_numpy()


def frequencies_of(counts: np.ndarray) -> tuple[np.ndarray, Frequencies]:
    found = (counts > 0).sum(axis=0)
    return found, frequencies(np.zeros(len(found), int), found, [len(counts)])


def test_specpool(plots: tuple[str, np.ndarray]) -> None:
    data, counts = plots
    pool = table_of(run_r(f"data({data}); write.csv(specpool({data}), row.names = FALSE)")).iloc[0]
    _, f = frequencies_of(counts)
    estimate = chao2(f, bias_corrected=False)
    assert f.species[0] == pool["Species"]
    assert estimate.species[0] == pytest.approx(pool["chao"], rel=1e-9)
    if f.once[0] > 0:  # without species found once vegan gives 0, this project the published variance
        assert np.sqrt(estimate.variance[0]) == pytest.approx(pool["chao.se"], rel=1e-9)
    assert jackknife1(f)[0] == pytest.approx(pool["jack1"], rel=1e-9)
    assert jackknife2(f)[0] == pytest.approx(pool["jack2"], rel=1e-9)


def test_specaccum(plots: tuple[str, np.ndarray]) -> None:
    data, counts = plots
    code = f"data({data}); write.csv(specaccum({data}, 'exact')$richness, row.names = FALSE)"
    curve = table_of(run_r(code))
    found, _ = frequencies_of(counts)
    one = np.zeros(len(found), int)
    ours = [rarefied(one, found, [len(counts)], at)[0] for at in range(1, len(counts) + 1)]
    assert ours == pytest.approx(curve.iloc[:, 0].tolist(), rel=1e-9)


def test_rarefy_treats_individuals_as_units(plots: tuple[str, np.ndarray]) -> None:
    """The same formula, with the individuals of each plot in the place of visits; whole tables at once."""
    data, counts = plots
    at = int(counts.sum(axis=1).min())
    theirs = table_of(run_r(f"data({data}); write.csv(as.numeric(rarefy({data}, {at})), row.names = FALSE)"))
    row, column = np.nonzero(counts)
    ours = rarefied(row, counts[row, column], counts.sum(axis=1), at)
    assert ours == pytest.approx(theirs.iloc[:, 0].tolist(), rel=1e-9)


def test_specpool_of_many_squares_at_once() -> None:
    """Sixty random squares with 2 to 12 visits each, in one table; duplicates missing in some of them."""
    rng = np.random.default_rng(5)
    square = np.repeat(np.arange(60), rng.integers(2, 13, 60))
    seen = rng.random((len(square), 25)) < rng.beta(0.4, 3, (60, 25))[square]
    code = (
        f"x <- matrix(c({','.join(map(str, seen.astype(int).ravel()))}), ncol = 25, byrow = TRUE);"
        f"pool <- factor(c({','.join(map(str, square))})); options(warn = -1);"
        "write.csv(specpool(x, pool), row.names = FALSE)"
    )
    theirs = table_of(run_r(code))
    times = np.stack([np.bincount(square, weights=seen[:, s], minlength=60) for s in range(25)], axis=1)
    row, column = np.nonzero(times)
    f = frequencies(row, times[row, column], np.bincount(square))
    some = f.species > 0
    assert some.sum() > 40
    assert (f.twice[some] == 0).sum() > 3
    estimate = chao2(f, bias_corrected=False)
    assert estimate.species[some] == pytest.approx(theirs["chao"].to_numpy()[some], rel=1e-9)
    once = some & (f.once > 0)
    assert np.sqrt(estimate.variance[once]) == pytest.approx(theirs["chao.se"].to_numpy()[once], rel=1e-9)
    assert jackknife1(f)[some] == pytest.approx(theirs["jack1"].to_numpy()[some], rel=1e-9)
    assert jackknife2(f)[some] == pytest.approx(theirs["jack2"].to_numpy()[some], rel=1e-9)
