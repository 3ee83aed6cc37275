"""One record against everything known: what is kept changes nothing but the time, and nothing in it can run."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gapmap.checks.keep import find_known
from gapmap.workflow import odd, one_record
from gapmap.workflow.source import Source

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
    (entry,) = (area / ".gapmap" / "cache").glob("known-*.npz")
    whole = entry.read_bytes()
    for damaged in (b"", whole[: len(whole) // 2], b"not an archive"):
        entry.write_bytes(damaged)
        assert one_record.judge_kept(opened(area), USUAL) is None


def test_an_entry_can_run_nothing(tmp_path: Path) -> None:
    # An array of pickled objects is how such a file would carry a program; NumPy refuses it when told to.
    held = io.BytesIO()
    np.save(held, np.array([{"a": 1}], dtype=object), allow_pickle=True)
    entry = tmp_path / "known-x.npz"
    with zipfile.ZipFile(entry, "w") as archive:
        archive.writestr("tree.npy", held.getvalue())
    assert find_known(entry) is None
