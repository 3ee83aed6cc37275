"""Fit and predict at several sizes, beside the three plain rules alone: python tests/benchmarks/expected_speed.py.

Invented recording: ten lists a square on average, very unevenly spread, three groups, months and hours told. Time
should grow no faster than squares × species.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from gapmap.expected.baselines import baselines
from gapmap.expected.evidence import gather
from gapmap.expected.model import expect
from gapmap.grid.squares import pack, unpack
from gapmap.settings import Settings

SIZES = ((1_500, 300), (3_000, 300), (1_500, 600), (3_000, 600), (6_000, 600))


def recording(squares: int, kinds: int, seed: int = 1) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, np.ndarray]:
    """Lists, finds, species and packed squares of an invented area."""
    generator = np.random.default_rng(seed)
    width = int(np.ceil(squares**0.5))
    y, x = np.divmod(np.arange(squares), width)
    packed = pack(1, 2_000, 100_000 + x * 2_000, 100_000 + y * 2_000)
    count = squares * 10
    weight = generator.gamma(0.7, 1, squares)
    at = generator.choice(squares, count, p=weight / weight.sum())
    often = generator.beta(0.3, 3, kinds)
    middle, reach = generator.uniform(0, width, (kinds, 2)), generator.uniform(width / 8, width, kinds)
    row = np.repeat(np.arange(count), generator.geometric(1 / 6, count))
    kind = generator.choice(kinds, len(row), p=often / often.sum())
    away = (x[at[row]] - middle[kind, 0]) ** 2 + (y[at[row]] - middle[kind, 1]) ** 2
    kept = generator.random(len(row)) < 0.1 + 0.9 * np.exp(-away / (2 * reach[kind] ** 2))
    finds = pd.DataFrame({"list_id": row[kept] + 1, "species_id": kind[kept], "records": 1})
    system, _, easting, northing = unpack(packed[at])
    lists = pd.DataFrame(
        {
            "list_id": np.arange(count) + 1,
            "square": packed[at],
            "year": generator.integers(1990, 2025, count),
            "month": generator.integers(1, 13, count),
            "time_of_day": generator.choice(["day", "", "night"], count),
            "hour": -1,
            "method": "",
            "date_class": -1,
            "is_visit": True,
            "people_id": 0,
            "system": system,
            "easting": easting + generator.integers(0, 20, count) * 100,
            "northing": northing + generator.integers(0, 20, count) * 100,
            "precision_m": 100,
        }
    )
    species = pd.DataFrame({"species_id": np.arange(kinds), "name": [f"Inventa {n}" for n in range(kinds)]})
    species["group"] = np.array(["a", "b", "c"], dtype=object)[np.arange(kinds) % 3]
    for column in ("months", "time_of_day", "difficulty"):
        species[column] = ""
    return lists, finds.drop_duplicates(["list_id", "species_id"]), species.assign(counts=True), packed


def timed(work: Callable[[], object]) -> tuple[float, float]:
    """Wall and processor seconds."""
    start, before = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - start, time.process_time() - before


def main() -> None:
    """Print one line a size."""
    for squares, kinds in SIZES:
        lists, finds, species, packed = recording(squares, kinds)
        model = timed(lambda data=(lists, finds, species, packed): expect(*data, Settings()))
        plain = timed(lambda data=(lists, finds, species, packed): baselines(gather(*data), np.ones(len(data[3]))))
        per = model[1] / (squares * kinds / 1e6)
        print(
            f"{squares:6,d} squares x {kinds:4d} species: fit and predict {model[0]:6.2f} s ({model[1]:5.2f} s of "
            f"processor, {per:.2f} a million cells); the three plain rules {plain[0]:6.2f} s ({plain[1]:5.2f} s)",
            flush=True,
        )


if __name__ == "__main__":
    main()
