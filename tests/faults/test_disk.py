"""The disk fills up, the folder is read-only, a file vanishes while it is read: one sentence, old results whole."""

from __future__ import annotations

import os
import resource
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from fault_runs import Runs, digests, make_area, write_records

from gapmap.errors import FileError, GapmapError
from gapmap.records import clean
from gapmap.records.files import delimited, read
from gapmap.workflow.coverage import coverage, open_source

IS_ROOT = hasattr(os, "geteuid") and os.geteuid() == 0


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    """A disk in memory of so many kilobytes; skips where none can be had."""
    folder.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder)], capture_output=True, check=False
    ) if IS_ROOT else None  # fmt: skip
    if made is None or made.returncode:
        pytest.skip("a small disk can only be made by root, where mounting is allowed")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=False)


def fill(disk: Path, leave: int) -> None:
    """Take all the space but some kilobytes."""
    free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_frsize
    (disk / "filler").write_bytes(b"\0" * max(free - leave * 1024, 0))


@pytest.mark.parametrize("left", [0, 100])
def test_a_full_disk_leaves_the_old_results(tmp_path: Path, runs: Runs, left: int) -> None:
    with small_disk(tmp_path / "disk", 4096) as disk:
        area = make_area(disk / "area")
        assert runs("coverage", area).code == 0
        before = digests(area / "maps")
        write_records(area / "records" / "second.csv", seed=9, rows=200)
        fill(disk, left)
        said = runs("coverage", area).complaint()
        assert "space" in said
        after = digests(area / "maps")
        assert set(after) == set(before)
        unchanged = [name for name in before if after[name] == before[name]]
        assert unchanged, "nothing is left of the old results"
        (disk / "filler").unlink()
        assert runs("coverage", area).code == 0


def test_a_full_place_for_temporary_files_is_told(area: Path, tmp_path: Path, runs: Runs) -> None:
    with small_disk(tmp_path / "disk", 512) as disk:
        fill(disk, 0)
        run = runs("coverage", area, TMPDIR=str(disk))
        assert run.code in (0, 2), run.text
        assert "Traceback" not in run.text


def test_results_too_large_for_the_disk(area: Path, tmp_path: Path) -> None:
    """Without root: no file may grow beyond a few kilobytes, which to the program is a disk that fills up."""
    source = open_source([str(area)])
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, before[1]))
    try:
        with pytest.raises(GapmapError) as refused:
            coverage(source, tmp_path / "maps")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert "space" in str(refused.value)
    assert not [path for path in digests(tmp_path / "maps") if path.startswith(".")]


@contextmanager
def read_only(folder: Path) -> Iterator[Path]:
    """The folder where nothing can be written: by its mount for root, whom modes do not stop; else by its mode."""
    if IS_ROOT:
        for words in (["--bind", str(folder), str(folder)], ["-o", "remount,ro,bind", str(folder)]):
            if subprocess.run(["mount", *words], capture_output=True, check=False).returncode:
                pytest.skip("root may not mount here")
    else:
        for path in (folder, *folder.rglob("*")):
            path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        yield folder
    finally:
        if IS_ROOT:
            subprocess.run(["umount", "-l", str(folder)], check=False)
        else:
            for path in (folder, *folder.rglob("*")):
                path.chmod(0o755 if path.is_dir() else 0o644)


def test_a_read_only_folder_is_told(area: Path, runs: Runs) -> None:
    with read_only(area):
        said = runs("coverage", area).complaint()
        assert "could not be written" in said
        assert "--out" in said


def test_a_read_only_folder_can_be_mapped_elsewhere(area: Path, tmp_path: Path, runs: Runs) -> None:
    """An archive on a disk nobody may write to: the cache is for speed and not worth a refusal."""
    with read_only(area):
        run = runs("coverage", area, "--out", tmp_path / "maps")
    assert run.code == 0, run.text
    assert (tmp_path / "maps" / "squares.csv").is_file()


@pytest.mark.parametrize(
    ("module", "name"),
    [(clean, "cache_key"), (read, "_first_bytes"), (delimited, "_read_head"), (delimited, "_find_layout")],
    ids=["after the digest", "after the first bytes", "after the head", "after the layout"],
)
def test_a_file_that_vanishes_while_it_is_read(
    area: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, module: Any, name: str
) -> None:
    """The other file is still mapped, and the one that went is named; nothing is dropped in silence."""
    source = open_source([str(area)])
    path = area / "records" / "second.csv"
    function = getattr(module, name)

    def gone(*words: Any, **named: Any) -> Any:
        answer = function(*words, **named)
        if path in words:
            path.unlink(missing_ok=True)
        return answer

    monkeypatch.setattr(module, name, gone)
    coverage(source, tmp_path / "maps")
    problems = (tmp_path / "maps" / "problems.csv").read_text(encoding="utf-8")
    assert not path.exists()
    assert any(line.startswith("second.csv,0,") for line in problems.splitlines()), problems[-300:]


def test_every_file_vanished(area: Path, tmp_path: Path) -> None:
    source = open_source([str(area)])
    for path in source.files:
        path.unlink()
    with pytest.raises(FileError, match="cannot be found"):
        coverage(source, tmp_path / "maps")


def test_the_area_file_vanished(area: Path, runs: Runs) -> None:
    (area / "area.toml").unlink()
    assert "area.toml cannot be read" in runs("coverage", area).complaint()
