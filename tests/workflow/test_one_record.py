"""One record against everything known: what is kept changes nothing but the time, and nothing in it can run."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gapmap.checks.keep import FORM, find_known
from gapmap.workflow import odd, one_record
from gapmap.workflow.source import Source

PROJECT = Path(__file__).resolve().parents[2]
USUAL, FAR = "Oniscus asellus, OR4272, 15 June 2015, A. Marsh", "Oniscus asellus, NJ4272, 15 June 2015"


def make_area(folder: Path) -> Path:
    random = np.random.default_rng(8)
    rows = "".join(
        f"{name},OR{random.integers(400, 440)}{random.integers(700, 740)},{day}/6/2015,{who},{evidence}\n"
        for name in ("Oniscus asellus", "Philoscia muscorum") for day in range(1, 29)
        for who, evidence in (("A. Marsh", "seen"), ("B. Holt", "photograph"), ("C. Fenn", "")))
    (folder / "records").mkdir(parents=True)
    (folder / "area.toml").write_text('[area]\nname = "Coast (invented)"\n', encoding="utf-8")
    (folder / "records" / "coast.csv").write_text("species,grid reference,date,recorder,evidence\n" + rows, encoding="utf-8")
    return folder


@pytest.fixture
def area(tmp_path: Path) -> Path:
    return make_area(tmp_path / "area")


def opened(area: Path) -> Source:
    return one_record.open_source([str(area)])


def test_what_was_kept_gives_the_same_answer_and_deleting_it_loses_nothing(area: Path) -> None:
    source = opened(area)
    assert one_record.judge_kept(source, USUAL) is None
    first = {text: odd.judge_one(source, text) for text in (USUAL, FAR)}
    for text, finding in first.items():
        kept = one_record.judge_kept(source, text)
        assert kept is not None
        pd.testing.assert_series_equal(kept, finding)
    assert first[FAR]["nearest_m"] > 50_000
    for entry in (area / ".gapmap" / "cache").glob("known-*"):
        entry.unlink()
    assert one_record.judge_kept(source, FAR) is None
    pd.testing.assert_series_equal(odd.judge_one(source, FAR), first[FAR])


@pytest.mark.parametrize("change", ["records/coast.csv", "records/more.csv", "decisions.csv", "area.toml"])
def test_any_change_in_the_area_is_noticed(area: Path, change: str) -> None:
    odd.judge_one(opened(area), USUAL)
    with (area / change).open("a", encoding="utf-8") as handle:
        handle.write("# a note\n")
    assert one_record.judge_kept(opened(area), USUAL) is None


def test_a_damaged_entry_is_passed_over(area: Path) -> None:
    odd.judge_one(opened(area), USUAL)
    (entry,) = (area / ".gapmap" / "cache").glob("known-*")
    whole = entry.read_bytes()
    for damaged in (b"", whole[:5], whole[: len(whole) // 2], whole[:-1000], b"something else altogether", b"\xff" * 100):
        entry.write_bytes(damaged)
        assert one_record.judge_kept(opened(area), USUAL) is None


def test_an_entry_can_run_nothing(tmp_path: Path) -> None:
    # An array of objects is how such a file would carry a program: NumPy would take the numbers for addresses.
    tree = {"is": "dict", "of": [["known", {"is": "array", "of": 0}], ["people", None]]}
    entry = tmp_path / "known-x"
    for kind, is_found in (("<i8", True), ("|O", False)):
        text = json.dumps([FORM, tree, [[kind, [1]]]]).encode()
        text = text.ljust(-(-len(text) // 8) * 8)
        entry.write_bytes(len(text).to_bytes(8, "little") + text + bytes(8))
        assert (find_known(entry) is not None) == is_found


def test_one_record_starts_neither_a_database_nor_a_tree(area: Path) -> None:
    odd.judge_one(opened(area), USUAL)
    script = (
        "import sys\nfrom gapmap.cli.app import run\n"
        f"status = run(['range', {str(area)!r}, '--record', {FAR!r}])\n"
        "heavy = {'duckdb', 'geopandas', 'scipy.sparse', 'scipy.linalg', 'matplotlib', 'folium'}\n"
        "sys.exit(', '.join(sorted(heavy & set(sys.modules))) or status)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=PROJECT)
    assert done.returncode == 0, f"gapmap range --record loads {done.stderr}"
    assert "km away" in done.stdout
