"""How long 250,000 rows of 20 columns take from file to clean table, beside DuckDB reading and writing the same file.

Run by itself: ``python tests/benchmarks/read_records.py``. The goal: cold (nothing kept from before, the cleaned table
kept for the next time) no more than 1.5 times as long as DuckDB takes to read the file with every column as text and
write it as Parquet; warm under a second. Each side runs in turn, and the fastest of its runs counts.
"""

from __future__ import annotations

import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from gapmap.records.clean import read_records
from gapmap.settings import Settings

ROWS = 250_000
RUNS = 5
MOST_TIMES = 1.5
MOST_SECONDS_WARM = 1.0


def write_file(path: Path, rows: int = ROWS) -> None:
    """Invented records: 400 species, days of forty years, references of several sizes, 60 people."""
    random = np.random.default_rng(20_260)
    genera = ["Oniscus", "Philoscia", "Carabus", "Nebria", "Lithobius", "Geophilus", "Opilio", "Nemastoma"]
    species = np.array([f"{genera[i % 8]} {''.join(random.choice(list('abdeilmnorstuv'), 9))}" for i in range(400)])
    people = np.array([f"{chr(65 + i % 26)}. Person{i}" for i in range(60)])
    east, north = random.integers(0, 1000, rows), random.integers(0, 1000, rows)
    fine = np.char.add(np.char.add("OR", np.char.zfill(east.astype(str), 3)), np.char.zfill(north.astype(str), 3))
    coarse = np.char.add(
        np.char.add("OR", np.char.zfill((east // 10).astype(str), 2)), np.char.zfill((north // 10).astype(str), 2)
    )
    days = np.datetime64("1985-01-01") + random.integers(0, 15_000, rows)
    frame = pd.DataFrame(
        {
            "Record ID": np.arange(rows) + 1,
            "Species": random.choice(species, rows),
            "Grid ref": np.where(random.random(rows) < 0.5, fine, coarse),
            "Date": pd.Series(days).dt.strftime("%d/%m/%Y"),
            "Recorder": random.choice(people, rows),
            "Determiner": random.choice(people, rows),
            "Site": np.char.add("Place ", random.integers(0, 3000, rows).astype(str)),
            "Count": random.integers(1, 20, rows),
            "Sex": random.choice(["male", "female", ""], rows),
            "Stage": random.choice(["adult", "juvenile", ""], rows),
            "Method": random.choice(["sieving", "pitfall trap", "by hand"], rows),
            "Habitat": random.choice(["wood", "heath", "garden"], rows),
            **{f"Other {i}": np.char.add("text ", random.integers(0, 50_000, rows).astype(str)) for i in range(8)},
        }
    )
    assert frame.shape[1] == 20
    frame.to_csv(path, index=False)


#: Seconds by the clock and of processor time.
Seconds = tuple[float, float]


def _now() -> Seconds:
    return time.perf_counter(), time.process_time()


def _since(start: Seconds) -> Seconds:
    clock, processor = _now()
    return clock - start[0], processor - start[1]


def time_duckdb(source: Path, folder: Path) -> Seconds:
    """Seconds DuckDB takes to read the file as text and write it as Parquet."""
    start = _now()
    connection = duckdb.connect()
    connection.execute(
        f"copy (select * from read_csv('{source}', all_varchar = true)) to '{folder / 'copy.parquet'}' (format parquet)"
    )
    connection.close()
    return _since(start)


def time_gapmap(source: Path, folder: Path) -> Seconds:
    """Seconds gapmap takes from the file to the clean table, with what the folder keeps from before."""
    start = _now()
    records = read_records([source], Settings(), folder=folder)
    seconds = _since(start)
    counted = records.files.iloc[0]
    assert counted["rows"] == ROWS == counted["records"] + counted["problem_rows"] + counted["duplicates"]
    return seconds


def main() -> int:
    """Time both sides in turn and say whether the goal is met."""
    folder = Path(tempfile.mkdtemp(prefix="gapmap-benchmark-"))
    try:
        source = folder / "records.csv"
        write_file(source)
        theirs, cold, warm = [], [], []
        for run in range(RUNS):
            theirs.append(time_duckdb(source, folder))
            area = folder / f"area{run}"
            area.mkdir()
            cold.append(time_gapmap(source, area))
            warm.append(time_gapmap(source, area))
    finally:
        shutil.rmtree(folder)
    best = {name: [min(part) for part in zip(*runs, strict=True)] for name, runs in
            (("DuckDB, text to Parquet", theirs), ("gapmap, cold", cold), ("gapmap, warm", warm))}  # fmt: skip
    duckdb_clock, duckdb_processor = best["DuckDB, text to Parquet"]
    for name, (clock, processor) in best.items():
        print(f"{name:25}{clock:6.2f} s, {processor:5.2f} s of processor; {clock / duckdb_clock:.2f} times as long, "
              f"{processor / duckdb_processor:.2f} of processor")  # fmt: skip
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"goals: cold within {MOST_TIMES} times by the clock, warm {MOST_SECONDS_WARM} s; peak of it all {peak:,.0f} MB")
    met = best["gapmap, cold"][0] <= MOST_TIMES * duckdb_clock and best["gapmap, warm"][0] <= MOST_SECONDS_WARM
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
