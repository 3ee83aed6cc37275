"""All measurements, each beside a named alternative in the same run, with peak memory beside time.

    python tests/benchmarks/run.py               the quick ones, a few minutes
    python tests/benchmarks/run.py NAME ...      these
    python tests/benchmarks/run.py all           everything, up to an hour and 15 GB of temporary disk
    python tests/benchmarks/run.py NAME --rows N the lines on look-alike records with so many rows, for a quick try

Figures go into RESULTS.md by hand, with the machine and the date; nothing here is part of what the tests judge.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from measured import HEADING, PROJECT, Case, show

HERE = Path(__file__).resolve().parent

#: Name → rows of look-alike data, the file's ending, and the line to measure on it.
ON_RECORDS = {
    "million": (1_000_000, "csv", Case(
        "{rows:,} rows of CSV to tally", "whole_path:gapmap_tally", "whole_path:usual_tally", (),
        "parse, points, sjoin, groupby", "15x", 2)),
    "least": (1_000_000, "csv", Case(
        "{rows:,} rows of CSV to tally", "whole_path:gapmap_tally", "least:by_sorting", (),
        "one number a row, nothing kept", "how far it is", 3)),
    "statement": (1_000_000, "csv", Case(
        "{rows:,} rows of CSV to tally", "whole_path:gapmap_tally", "least:by_statement", (),
        "one statement, nothing kept", "how far it is", 3)),
    "ten-million": (10_000_000, "csv", Case(
        "{rows:,} rows of CSV to tally and effort", "whole_path:gapmap_all", "whole_path:sql_all", (),
        "hand-written SQL", "no slower", 1)),
    "hundred-million": (100_000_000, "parquet", Case(
        "{rows:,} rows of Parquet to tally and effort", "whole_path:gapmap_all", "whole_path:sql_all", (),
        "hand-written SQL", "no slower, under 4 GB", 1)),
    "spark": (1_000_000, "parquet", Case(
        "{rows:,} rows: the tally's statement", "cluster:here", "cluster:spark", (),
        "the same statement on Spark", "the same answer", 1)),
}  # fmt: skip

#: Name → lines that need no data.
ALONE = {
    "references": [Case(
        "1,000,000 references to squares", "grid_speed:gapmap_references", "grid_speed:osbng_references", (),
        "osbng in a loop", "50x", 1)],
    "lonlat": [
        Case("1,000,000 latitudes and longitudes to the grid", "grid_speed:gapmap_lonlat",
             "grid_speed:convertbng_lonlat", (), "convertbng alone", "0.77x"),
        Case("1,000,000 latitudes and longitudes to the grid", "grid_speed:gapmap_lonlat",
             "grid_speed:pyproj_lonlat", (), "pyproj alone, 5 m off", "-")],
    "start": [
        Case("gapmap --help", "commands:run", "", ("--help",), "", "0.4 s", 5),
        Case("gapmap range --record, the demo's records", "commands:demo", "", ("range", "--record", "RECORD"), "", "1 s", 2)],
    "report": [Case("gapmap report of the demo", "commands:demo", "", ("report",), "", "30 s, 1 GB", 1)],
}  # fmt: skip

#: Name → a measurement that prints a table of its own.
SCRIPTS = {
    "reading": ["read_records.py"],
    "counting": ["counting.py"],
    "estimators": ["estimators.py"],
    "company": ["company.py"],
    "page": ["page.py", "10000", "40000", "--folium"],
    "views": ["page.py", "10000", "40000", "--views"],
    "plates": ["plates.py", "10000"],
    "slips": ["slips.py"],
    "expected": ["expected_speed.py"],
    "backtest": ["backtest.py"],
    "reachable": ["reachable.py"],
    "again": ["again.py"],
    "presence": ["presence_truth.py"],
    "detection": ["detection_truth.py"],
    "visits": ["visits.py"],
    "truth": ["standing_truth.py"],
}
QUICK = ["start", "lonlat", "references", "million", "estimators", "company"]


def main() -> int:
    """Run what was asked for."""
    known = {**ON_RECORDS, **ALONE, **SCRIPTS}
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(known))
    parser.add_argument("--rows", type=int, default=0, help="rows of look-alike records instead of the usual number")
    given = parser.parse_args()
    asked = list(known) if given.names == ["all"] else given.names or QUICK
    unknown = [name for name in asked if name not in known]
    if unknown:
        print(f"There is no measurement called {unknown[0]}; there are: {', '.join(known)}")
        return 2
    print(HEADING, flush=True)
    return max(run_one(name, given.rows) for name in asked)


def run_one(name: str, rows: int = 0) -> int:
    """One measurement, with its data made before and removed after; 0 when it ran."""
    if name in SCRIPTS:
        words = [str(HERE / SCRIPTS[name][0]), *SCRIPTS[name][1:]]
        return 0 if subprocess.run([sys.executable, *words], cwd=PROJECT, check=False).returncode in (0, 1) else 2
    if name in ALONE:
        for case in ALONE[name]:
            show(case)
        return 0
    usual, ending, case = ON_RECORDS[name]
    rows = rows or usual
    with tempfile.TemporaryDirectory(prefix="gapmap-benchmark-") as folder:
        path = Path(folder) / f"records.{ending}"
        subprocess.run([sys.executable, str(HERE / "lookalike.py"), str(rows), str(path)], check=True)
        show(replace(case, what=case.what.format(rows=rows), words=(str(path),)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
