"""How long all estimators take on 40,000 squares × 600 species × 3 date classes, beside vegan's ``specpool``.

Run ``python tests/benchmarks/estimators.py``. It prints the time of every estimator over the whole table and the
memory it took. Where Rscript with vegan is present, ``specpool`` with a pool factor is timed in the same run on
the first squares of the same table (its input is one row a visit, which for the whole table would not fit into
memory), and the time a square is compared; ``specpool`` also works out a bootstrap, which this project does not.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import psutil

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

SQUARES, SPECIES, CLASSES = 40_000, 600, 3
BESIDE_VEGAN = 200

R_CODE = """
suppressMessages(library(vegan))
size <- scan(file.path(folder, "size.txt"), quiet = TRUE)
x <- matrix(readBin(file.path(folder, "seen.bin"), "integer", size[1] * size[2], size = 1), ncol = size[2])
pool <- factor(scan(file.path(folder, "pool.txt"), quiet = TRUE))
options(warn = -1, digits = 15)
taken <- system.time(found <- specpool(x, pool))[["elapsed"]]
cat(taken, "\\n"); cat(found$chao, "\\n")
"""


def visits_and_finds(seed: int = 7) -> tuple[np.ndarray, np.ndarray]:
    """Visits of every square × class, and each visit's finds for the squares set beside vegan."""
    rng = np.random.default_rng(seed)
    visits = np.minimum(2 + rng.geometric(0.1, SQUARES * CLASSES), 60)
    pool = np.repeat(np.arange(BESIDE_VEGAN), visits[:BESIDE_VEGAN])
    lives = rng.random((BESIDE_VEGAN, SPECIES)) < 0.15
    chance = rng.beta(0.6, 3, SPECIES)
    return visits, (rng.random((len(pool), SPECIES)) < lives[pool] * chance).astype(np.int8)


def whole_table(visits: np.ndarray, seen: np.ndarray, seed: int = 8) -> tuple[np.ndarray, np.ndarray]:
    """Square × class of each find, and on how many visits: the counted squares first, the others by lot."""
    rng = np.random.default_rng(seed)
    pool = np.repeat(np.arange(BESIDE_VEGAN), visits[:BESIDE_VEGAN])
    times = np.zeros((BESIDE_VEGAN, SPECIES), np.int64)
    np.add.at(times, pool, seen)
    row, column = np.nonzero(times)
    found = times[row, column]
    others = np.repeat(np.arange(BESIDE_VEGAN, len(visits)), rng.binomial(SPECIES, 0.1, len(visits) - BESIDE_VEGAN))
    by_lot = 1 + rng.binomial(visits[others] - 1, rng.beta(0.6, 3, len(others)))
    return np.concatenate([row, others]), np.concatenate([found, by_lot])


def timed(name: str, work: Callable[[], object]) -> float:
    """Run it once and print how long it took, in seconds."""
    start = time.perf_counter()
    work()
    taken = time.perf_counter() - start
    print(f"  {name:<38}{taken:8.3f} s")
    return taken


def all_estimators(row: np.ndarray, found: np.ndarray, visits: np.ndarray) -> float:
    """Time each estimator over the table; seconds altogether."""
    f = frequencies(row, found, visits)
    return sum((
        timed("frequencies", lambda: frequencies(row, found, visits)),
        timed("Chao2, variance and interval", lambda: chao2(f)),
        timed("jackknife, first and second order", lambda: (jackknife1(f), jackknife2(f))),
        timed("sample coverage", lambda: sample_coverage(f)),
        timed("visits to three quarters", lambda: visits_to_share(f, 0.75)),
        timed("new species on 1, 3, 10 visits", lambda: [extrapolated(f, n) for n in (1, 3, 10)]),
        timed("rarefied to six visits", lambda: rarefied(row, found, visits, 6)),
    ))


def beside_vegan(visits: np.ndarray, seen: np.ndarray) -> tuple[float, np.ndarray] | None:
    """Seconds that ``specpool`` takes on the first squares and its estimates; None without R and vegan."""
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "seen.bin").write_bytes(seen.tobytes(order="F"))
        (place / "size.txt").write_text(f"{seen.shape[0]} {seen.shape[1]}")
        (place / "pool.txt").write_text(" ".join(map(str, np.repeat(np.arange(BESIDE_VEGAN), visits[:BESIDE_VEGAN]))))
        done = subprocess.run(
            ["Rscript", "--vanilla", "-"], input=f'folder <- "{place}"\n{R_CODE}', capture_output=True, text=True,
            check=False,
        )
    if done.returncode:
        print(f"  vegan was not measured: {done.stderr.strip().splitlines()[-1]}")
        return None
    taken, estimates = done.stdout.splitlines()[:2]
    return float(taken), np.array(estimates.split(), dtype=float)


def main() -> None:
    """Measure and print."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    visits, seen = visits_and_finds()
    row, found = whole_table(visits, seen)
    before = psutil.Process().memory_info().rss
    print(f"{SQUARES:,} squares × {SPECIES} species × {CLASSES} classes; {len(row):,} finds")
    taken = all_estimators(row, found, visits)
    grown = (psutil.Process().memory_info().rss - before) / 2**20
    print(f"all estimators: {taken:.2f} s; memory kept beyond the table: {grown:.0f} MB")
    theirs = beside_vegan(visits, seen)
    if theirs is None:
        return
    seconds, estimates = theirs
    first = row < BESIDE_VEGAN
    start = time.perf_counter()
    ours = chao2(frequencies(row[first], found[first], visits[:BESIDE_VEGAN]), bias_corrected=False).species
    alone = time.perf_counter() - start
    a_square = taken / len(visits)
    print(
        f"vegan::specpool on the first {BESIDE_VEGAN} of them: {seconds:.2f} s; the same estimates to "
        f"{np.max(np.abs(ours - estimates) / estimates):.1e}; Chao2 of the same squares here {1000 * alone:.2f} ms"
    )
    print(
        f"a square × class: {1e6 * a_square:.1f} µs here for all estimators, "
        f"{1e6 * seconds / BESIDE_VEGAN:.0f} µs for specpool: {seconds / BESIDE_VEGAN / a_square:.0f} times"
    )


if __name__ == "__main__":
    main()
