"""The company-of-species step beside vegan in one run: python tests/benchmarks/company.py [SQUARES SPECIES]."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from gapmap.expected.company import beals


def main(squares: int = 3_000, species: int = 600) -> None:
    """Time both on the same invented presences and print the largest difference."""
    generator = np.random.default_rng(1)
    chance = np.outer(generator.beta(1, 3, squares), generator.beta(1, 3, species)) * 3
    sites = (generator.random((squares, species)) < chance).astype(np.int8)
    start = time.perf_counter()
    ours = beals(sites)
    seconds = time.perf_counter() - start
    with tempfile.TemporaryDirectory() as folder:
        np.savetxt(Path(folder) / "sites.csv", sites, fmt="%d", delimiter=",")
        script = (
            "suppressMessages(library(vegan)); x <- as.matrix(read.csv('sites.csv', header=FALSE));"
            "s <- system.time(b <- beals(x))[['elapsed']]; cat(s, '\\n');"
            "writeBin(as.vector(b), 'beals.bin')"
        )
        said = subprocess.run(["Rscript", "-e", script], cwd=folder, capture_output=True, text=True, check=True)
        theirs = np.fromfile(Path(folder) / "beals.bin").reshape(species, squares).T
    print(f"{squares} squares x {species} species")
    print(f"gapmap   {seconds:8.2f} s")
    print(f"vegan    {float(said.stdout):8.2f} s")
    print(f"largest difference {np.abs(ours - theirs).max():.1e}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
