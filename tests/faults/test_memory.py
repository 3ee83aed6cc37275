"""Little memory: the database takes its share of what may be had and spills, and full memory is said in a sentence."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from fault_runs import PROJECT, make_area

resource = pytest.importorskip("resource", reason="this system has no bounds to set")

BOUNDED = """
import resource, sys
import duckdb, pandas
bytes_left = int(sys.argv[1])
taken = int(open("/proc/self/statm").read().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (taken + bytes_left, taken + bytes_left))
"""


def bounded(script: str, left: int, *words: object) -> subprocess.CompletedProcess[str]:
    """A program that may take so many bytes more once its libraries are loaded."""
    if not Path("/proc/self/statm").exists():
        pytest.skip("this system does not say what a process has taken")
    return subprocess.run(
        [sys.executable, "-c", BOUNDED + script, str(left), *map(str, words)], cwd=PROJECT, text=True, check=False,
        capture_output=True,
    )  # fmt: skip


def test_the_database_takes_a_share_of_what_may_be_had() -> None:
    script = "from gapmap.records.database import memory_limit\nprint(memory_limit().removesuffix('MB'))"
    given = [int(bounded(script, left).stdout) for left in (1_000_000_000, 3_000_000_000)]
    assert 200 <= given[0] < 1_000 * 0.5
    assert given[0] * 2 < given[1] < 3_000 * 0.5


def test_more_than_fits_into_the_share_spills() -> None:
    """Thirty-six million numbers twice, 576 MB, and more while they are sorted: not to be had in memory, but in a folder."""
    script = (
        "from gapmap.records.database import open_database\n"
        "connection = open_database([])\n"
        "connection.execute('set threads = 1')\n"
        "connection.execute('create table n as select (i * 7919) % 12000017 as n from range(36000000) t(i)')\n"
        "connection.execute('create table ordered as select n from n order by n')\n"
        "print(connection.execute('select count(*), min(n), max(n) from ordered').fetchall(),\n"
        "    connection.execute('select sum(size) > 0 from duckdb_temporary_files()').fetchone())"
    )
    done = bounded(script, 1_200_000_000)
    assert done.returncode == 0, done.stderr[-2_000:]
    assert done.stdout.startswith("[(36000000, 0, 12000016)] (True,)")


@pytest.mark.parametrize("error", ["MemoryError()", "duckdb.OutOfMemoryException('no room')"])
def test_full_memory_is_a_sentence(tmp_path: Path, error: str) -> None:
    area = make_area(tmp_path / "area")
    script = (
        "from gapmap.cli.app import run\nimport gapmap.workflow.check as workflow\n"
        f"def full(*words, **more): raise {error}\n"
        "workflow.read_records = full\nsys.exit(run(['check', sys.argv[2]]))"
    )
    done = bounded(script, 8_000_000_000, area)
    assert done.returncode == 1
    assert done.stderr.startswith("gapmap: the computer's memory is full."), done.stderr
    assert "Traceback" not in done.stderr
