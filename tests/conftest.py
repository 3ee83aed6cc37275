"""A small invented area for tests of whole commands: fast, and every number in it can be counted by hand."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from gapmap.cli.app import run

SPECIES = ("Oniscus asellus", "Porcellio scaber", "Philoscia muscorum", "Lithobius forficatus", "Glomeris marginata")
RECORDERS = ("A. Marsh", "B. Holt", "A. Marsh & B. Holt")


def small_records() -> list[list[str]]:
    """Header and rows: five species, six tetrads of OR47, visits from 1995 to 2024, and one of each kind of trouble."""
    rows = [["Species", "Grid ref", "Date", "Recorder", "Place"]]
    for year in range(1995, 2025):
        for number, tetrad in enumerate("ABFGKL"):
            if (year + number) % 3 == 0:
                continue
            day = f"{1 + (year + number) % 27:02d}/{4 + (year * 7 + number) % 6:02d}/{year}"
            for place, name in enumerate(SPECIES):
                if (year + 2 * number + place) % (place + 2) == 0:
                    rows.append([name, f"OR47{tetrad}", day, RECORDERS[(year + number) % 3], f"Farm {tetrad}"])
    rows += [
        ["Oniscus asellus", "OR47", "1998", "A. Marsh", "somewhere"],
        ["Oniscus asellus", "OR4", "12/05/1998", "A. Marsh", "odd digits"],
        ["Oniscus asellus", "OR47A", "31/02/1998", "B. Holt", "no such day"],
        ["Porcellio scaber", "OR47B", "1990/2005", "B. Holt", "crosses classes"],
    ]
    return rows


@pytest.fixture(scope="session")
def small_rows() -> list[list[str]]:
    """Header and rows of the small records."""
    return small_records()


@pytest.fixture
def records_file(tmp_path: Path, small_rows: list[list[str]]) -> Path:
    """The small records as a CSV file."""
    path = tmp_path / "small records.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(small_rows)
    return path


@pytest.fixture
def area_folder(tmp_path: Path, records_file: Path) -> Path:
    """An area folder that holds the small records."""
    folder = tmp_path / "small area"
    assert run(["new", str(folder), "--name", "Small area (invented)"]) == 0
    records_file.rename(folder / "records" / records_file.name)
    return folder


@pytest.fixture
def gapmap(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Run a command in this process: its exit code, what it printed, and what it complained about."""

    def call(*words: object) -> tuple[int, str, str]:
        capsys.readouterr()
        code = run([str(word) for word in words])
        printed = capsys.readouterr()
        return code, printed.out, printed.err

    return call
