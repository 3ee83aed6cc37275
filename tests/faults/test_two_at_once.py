"""Two runs in one area folder: the second is told so in a sentence; a dead run's lock holds nobody up."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from fault_runs import PROJECT, Runs

from gapmap.errors import GapmapError
from gapmap.workflow.lock import LOCK_FILE, lock_folder

HOLDER = "import sys; from pathlib import Path; from gapmap.workflow.lock import lock_folder\n"
HOLDER += "lock = lock_folder(Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()"


@contextmanager
def held_elsewhere(area: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds the folder's lock."""
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(area)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        cwd=PROJECT,
    )  # fmt: skip
    assert holder.stdout
    assert holder.stdout.readline() == "held\n"
    yield holder
    holder.kill()
    holder.wait()
    assert holder.stdin
    holder.stdin.close()
    holder.stdout.close()


def test_the_second_run_is_told_and_changes_nothing(area: Path, runs: Runs) -> None:
    with held_elsewhere(area) as holder:
        said = runs("coverage", area).complaint()
        assert "Another run of gapmap is at work in the folder area" in said
        assert f"process {holder.pid}" in said
        assert "wait until it has finished" in said
        assert not (area / "maps").exists()


def test_a_killed_run_leaves_no_lock_behind(area: Path) -> None:
    with held_elsewhere(area) as holder:
        with pytest.raises(GapmapError):
            lock_folder(area, patience_s=0)
        holder.kill()
        holder.wait()
        lock = lock_folder(area, patience_s=0)
        assert lock is not None
        assert (area / LOCK_FILE).read_text(encoding="utf-8").startswith(f"process {os.getpid()}, since ")
        lock.release()


def test_a_run_that_soon_ends_is_waited_for(area: Path) -> None:
    with held_elsewhere(area) as holder:
        timer = threading.Timer(0.3, holder.kill)
        timer.start()
        lock = lock_folder(area, patience_s=30)
        timer.join()
    assert lock is not None
    lock.release()


def test_the_lock_goes_with_what_holds_it(area: Path) -> None:
    lock = lock_folder(area)
    assert lock is not None
    assert lock_folder(area) is lock
    del lock
    with held_elsewhere(area):  # another process could take it at once
        pass


def test_nothing_to_lock_where_nothing_can_be_written(tmp_path: Path) -> None:
    (tmp_path / ".gapmap").write_text("a file where the folder should be", encoding="utf-8")
    assert lock_folder(tmp_path) is None
