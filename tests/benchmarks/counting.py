"""How counting grows with the number of records: the tally, the effort, the standing, and the memory they take.

Run ``python tests/benchmarks/counting.py [RECORDS ...]``. Seconds are of processor time, of both cores together.
Each size runs in a process of its own, so that the peak memory printed is that size's alone. Records are drawn by
lot: 20,000 squares, 600 species, 400 sets of people, sixty years.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time

import duckdb
import pandas as pd

from gapmap.columns import FILES, PEOPLE, RECORDS
from gapmap.coverage.completeness import standing
from gapmap.coverage.effort import effort
from gapmap.coverage.tally import lists_and_finds, tally
from gapmap.grid.systems import system_named
from gapmap.records.table import Records
from gapmap.settings import ThresholdsSection
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-2010, 2011-")
SIDE = 2000


def records_by_lot(count: int) -> Records:
    """A table of so many records, drawn by the hash of their number: outings of a square, a day and some people."""
    connection = duckdb.connect(config={"threads": 2})
    connection.execute(f"""
        create table records as
        with outings as (
            select i, i // 12 as outing, hash(i // 12) % 20000 as square, hash(i // 12 + 7000000) % 21900 as day,
                1 + hash(i // 12 + 9000000) % 400 as people
            from range({count}) t(i)
        )
        select (i + 1)::bigint as record_id, 1 as file_id, i + 2 as source_row,
            (hash(i + 11) % 600)::bigint as species_id, 1 as system,
            (500000 + (square % 140) * 2000)::bigint as easting, (600000 + (square // 140) * 2000)::bigint as northing,
            1000 as precision_m, false as is_point, (date '1965-01-01' + day::integer) as date_from,
            (date '1965-01-01' + day::integer) as date_to, 'day' as date_kind, people::bigint as people_id,
            outing::bigint as list_id, true as is_visit, '' as stage, '' as sex, '' as quantity, '' as method,
            '' as habitat, '' as time_of_day, '' as place, '' as identified_by, '' as evidence, '' as status
        from outings
    """)
    missing = set(RECORDS.names) - {row[0] for row in connection.execute("describe records").fetchall()}
    assert not missing, missing
    species = pd.DataFrame({"species_id": range(600), "counts": True})
    return Records(connection, system_named("british"), FILES.empty(), species, PEOPLE.empty())


def measure(count: int) -> None:
    """Count once and print a line."""
    records = records_by_lot(count)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    times = []
    start = time.process_time()
    counts = tally(records, SIDE, CLASSES)
    times.append(time.process_time())
    work = effort(records, SIDE, CLASSES)
    times.append(time.process_time())
    standing(counts, work, ThresholdsSection())
    times.append(time.process_time())
    lists, _ = lists_and_finds(records, SIDE, CLASSES)
    times.append(time.process_time())
    each = [after - earlier for earlier, after in zip([start, *times], times, strict=False)]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{count:>11,}{len(counts):>12,}{len(work):>9,}{len(lists):>11,}"
        + "".join(f"{one:>10.2f}" for one in each) + f"{before:>10.0f}{peak:>9.0f}"
    )


def main() -> None:
    """Measure each size in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("records", nargs="*", type=int, default=[250_000, 500_000, 1_000_000, 2_000_000])
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        measure(given.records[0])
        return
    print("    records       tally   effort      lists   tally s  effort s  stand. s   lists s  before MB  peak MB")
    for count in given.records:
        subprocess.run([sys.executable, __file__, "--one", str(count)], check=True)


if __name__ == "__main__":
    main()
