"""Killed at any moment: originals untouched, every output the old one or the new one whole, the next run succeeds."""

from __future__ import annotations

import csv
import shutil
import sqlite3
import time
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest
from fault_runs import IS_LONG, Run, Runs, digests, write_records
from kills import Kills

pytestmark = pytest.mark.timeout(3_600 if IS_LONG else 300)

#: Files that carry the moment they were written in themselves, so that a run never repeats their bytes.
DATED = {".xlsx", ".gpkg", ".pdf"}


def originals(area: Path) -> dict[str, str]:
    """Everything a person put into the folder."""
    return {name: digest for name, digest in digests(area).items() if not name.startswith(("maps", ".gapmap"))}


def outputs(area: Path) -> dict[str, str]:
    """Finished results; drafts, which begin with a dot, are none."""
    return {name: digest for name, digest in digests(area / "maps").items() if not Path(name).name.startswith(".")}


def csv_and_pages(files: dict[str, str]) -> dict[str, str]:
    return {name: digest for name, digest in files.items() if Path(name).suffix not in DATED}


def is_sound(path: Path) -> bool:
    """Whether a file of a kind that never repeats its bytes is whole: its own checksums say so."""
    if path.suffix == ".gpkg":
        connection = sqlite3.connect(path)
        answer = connection.execute("pragma integrity_check").fetchone()[0]
        connection.close()
        return bool(answer == "ok")
    return zipfile.ZipFile(path).testzip() is None


def check_whole(area: Path, known: Sequence[dict[str, str]]) -> None:
    """Every result that is there is one of the known versions, or at least whole where the bytes never repeat."""
    for name, digest in outputs(area).items():
        path = area / "maps" / name
        if path.suffix in DATED:
            assert is_sound(path), f"{name} is torn"
        else:
            assert digest in {version[name] for version in known}, f"{name} is neither the old one nor the new one"


@contextmanager
def told(kills: Kills, capsys: pytest.CaptureFixture[str]) -> Iterator[Kills]:
    """Print where the kills fell, however the test ends."""
    try:
        yield kills
    finally:
        with capsys.disabled():
            print(f"\n{kills}")


@pytest.mark.parametrize("command", ["coverage", "report"])
def test_a_result_is_the_old_one_or_the_new_one(
    area: Path, runs: Runs, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The records change to and fro between two versions; a run on the other version is killed."""
    add_volunteers(area)
    versions: dict[int, dict[str, str]] = {}
    lasted = []
    for seed in (5, 6, 5, 6, 5):
        write_records(area / "records" / "second.csv", seed=seed)
        start = time.monotonic()
        assert runs(command, area).code == 0
        lasted.append(time.monotonic() - start)
        versions[seed] = outputs(area)
    known = list(versions.values())
    changed = {name for name, digest in known[0].items() if Path(name).suffix == ".csv" and known[1][name] != digest}
    assert any(name.endswith("squares.csv") for name in changed), "the two versions give the same squares"
    with told(Kills(f"gapmap {command}", lasted[2:], seed=1), capsys) as kills:
        for moment in kills.moments():
            seed = 5 + kills.attempts % 2
            write_records(area / "records" / "second.csv", seed=seed)
            before = originals(area)
            kills.kill(lambda after: runs(command, area, kill_after=after), moment)
            assert originals(area) == before
            check_whole(area, known)
            if kills.attempts % 5 == 0:
                kills.leave_alone(lambda: runs(command, area))
                assert csv_and_pages(outputs(area)) == csv_and_pages(versions[seed])
                assert not list((area / "maps").rglob(".*"))


def add_volunteers(area: Path) -> None:
    """Two people with days to give, so that a report plans visits too."""
    with (area / "area.toml").open("a", encoding="utf-8") as settings:
        settings.write('\n[visits]\nvolunteers = "volunteers.csv"\n')
    lines = [
        "name,home,days,travel,night,methods,groups",
        "B. Fenn,OQ2020,May 3; Jun 2,40 km,no,hand search,",
        "C. Marsh,OQ1515,Jul 2,40 km,no,hand search,",
    ]
    (area / "volunteers.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_no_decision_is_lost(area: Path, runs: Runs, capsys: pytest.CaptureFixture[str]) -> None:
    """A decision said to be written is there for good; one that was killed is there whole or not at all."""
    path = area / "decisions.csv"
    words = ["accepted", "--reason", "voucher seen, with \"quotes\"", "--who", "B. Holt"]
    rows = iter(rows_with_records(area))

    def decide(row: int, kill_after: float | None = None) -> Run:
        """A decision about one row."""
        return runs("decide", area, f"first.csv:{row}", *words, kill_after=kill_after)

    lasted = []
    for _ in range(5):
        start = time.monotonic()
        assert decide(next(rows)).code == 0
        lasted.append(time.monotonic() - start)
    before, keep, written = originals(area), path.read_bytes(), len(lasted)
    with told(Kills("gapmap decide", lasted[1:], seed=2, late=True), capsys) as kills:
        for moment in kills.moments():
            row = next(rows)
            run = kills.kill(lambda after, row=row: decide(row, after), moment)
            now = path.read_bytes()
            added = now.removeprefix(keep)
            assert now.startswith(keep), "an earlier decision changed"
            assert added or run.code != 0, "a decision said to be written is lost"
            assert added.count(b"\n") == (1 if added else 0), "half a decision"
            assert not added or f"first.csv:{row}".encode() in added
            written += bool(added)
            keep = now
            assert {**originals(area), "decisions.csv": ""} == {**before, "decisions.csv": ""}
    assert decide(next(rows)).code == 0
    with path.open(encoding="utf-8", newline="") as handle:
        decisions = list(csv.DictReader(handle))
    assert len(decisions) == written + 1
    assert {line["reason"] for line in decisions} == {'voucher seen, with "quotes"'}
    again = runs("coverage", area)
    assert again.code == 0, again.text


def rows_with_records(area: Path) -> list[int]:
    """Numbers of the lines of the first file that hold a readable reference and day, the heading being line 1."""
    with (area / "records" / "first.csv").open(encoding="utf-8", newline="") as handle:
        lines = list(csv.DictReader(handle))
    return [
        number for number, line in enumerate(lines, 2) if line["Grid reference"] != "here" and "/" in line["Date"]
    ]


def test_the_first_map_appears_whole_or_not_at_all(
    area: Path, runs: Runs, capsys: pytest.CaptureFixture[str]
) -> None:
    """In an empty folder, the cache empty too: nothing half made is taken for a result or for a cleaned file."""
    lasted = []
    for _ in range(3):
        clear(area)
        start = time.monotonic()
        assert runs("coverage", area).code == 0
        lasted.append(time.monotonic() - start)
    wanted = outputs(area)
    with told(Kills("gapmap coverage, nothing made before", lasted, seed=3), capsys) as kills:
        for moment in kills.moments():
            clear(area)
            kills.kill(lambda after: runs("coverage", area, kill_after=after), moment)
            if (area / "maps").exists():
                check_whole(area, [wanted])
    assert runs("coverage", area).code == 0
    assert csv_and_pages(outputs(area)) == csv_and_pages(wanted)


def clear(area: Path) -> None:
    """Take away everything that runs have made."""
    shutil.rmtree(area / "maps", ignore_errors=True)
    shutil.rmtree(area / ".gapmap", ignore_errors=True)
