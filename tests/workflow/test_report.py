"""The two editions: everything for the desk, and nothing for everybody that should have stayed there.

That sensitive species are published in larger squares and people stay unnamed is common practice, no source.
"""

from __future__ import annotations

import csv
import sqlite3
import zipfile
from pathlib import Path

import openpyxl
import pytest

from gapmap.cli.app import run
from gapmap.outputs.page.read import page_to_columns

SENSITIVE, COMMON = "Glomeris marginata", "Oniscus asellus"
SECRET_PLACES = ("Hidden Hollow", "OR472735")
PEOPLE = ("Marsh", "Holt", "Wintergreen")


@pytest.fixture(scope="module")
def reported(tmp_path_factory: pytest.TempPathFactory, small_rows: list[list[str]]) -> Path:
    """The small area with a sensitive species in a place of its own, reported once for all tests here."""
    folder = tmp_path_factory.mktemp("report") / "small area"
    assert run(["new", str(folder)]) == 0
    late = [
        ["Species", "Grid ref", "Date", "Recorder", "Place", "Determiner"],
        [SENSITIVE, "OR472735", "03/05/2019", "Ida Wintergreen", "Hidden Hollow", "Ida Wintergreen"],
        [COMMON, "OR4773", "04/05/2019", "Ida Wintergreen", "Open Field", "Ida Wintergreen"],
    ]
    for name, rows in (("small records.csv", small_rows), ("late.csv", late)):
        with (folder / "records" / name).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)
    area = folder / "area.toml"
    settings = area.read_text(encoding="utf-8")
    area.write_text(
        settings.replace("[publish]", f'[publish]\nsensitive = {{ "{SENSITIVE}" = "10km" }}', 1), encoding="utf-8"
    )
    assert run(["report", str(folder), "--classes", "-1999, 2000-2014, 2015-"]) == 0
    return folder / "maps"


def text_of(path: Path) -> str:
    """Everything a curious person could read out of a file."""
    if path.suffix == ".html":
        text = path.read_text(encoding="utf-8")
        if "application/json" not in text:
            return text
        facts, columns = page_to_columns(text)
        return "\n".join([text, repr(facts), *(f"{name} {list(values)!r}" for name, values in columns.items())])
    if path.suffix == ".xlsx":
        book = openpyxl.load_workbook(path, read_only=True)
        return "\n".join(
            str(cell) for sheet in book for row in sheet.iter_rows(values_only=True) for cell in row if cell is not None
        )
    if path.suffix == ".gpkg":
        with sqlite3.connect(path) as base:
            return "\n".join(base.iterdump())
    if path.suffix == ".zip":
        with zipfile.ZipFile(path) as archive:
            return "\n".join(archive.read(name).decode() for name in archive.namelist())
    return path.read_bytes().decode("utf-8", "replace")


def test_nothing_private_is_public(reported: Path) -> None:
    files = [path for path in (reported / "public").iterdir() if path.is_file()]
    assert len(files) >= 7
    for path in files:
        text = text_of(path)
        for word in (*SECRET_PLACES, *PEOPLE, "late.csv", "small records.csv"):
            assert word not in text, f"{word} stands in {path.name}"


def test_the_search_would_find_it(reported: Path) -> None:
    everything = "\n".join(text_of(path) for path in (reported / "private").iterdir())
    for word in ("Marsh", "late.csv"):
        assert word in everything, f"the private edition should hold {word}, or the search above proves nothing"


def test_a_sensitive_species_is_on_no_fine_square_of_the_public_map(reported: Path) -> None:
    archive = zipfile.ZipFile(reported / "public" / "records.zip").read("occurrence.txt").decode().splitlines()
    rows = [dict(zip(archive[0].split("\t"), line.split("\t"), strict=True)) for line in archive[1:]]
    sensitive = [row for row in rows if row["scientificName"] == SENSITIVE]
    assert sensitive
    assert {row["verbatimCoordinates"] for row in sensitive} == {"OR47"}
    assert any(row["verbatimCoordinates"] == "OR4773" for row in rows if row["scientificName"] == COMMON)
    with (reported / "public" / "squares.csv").open(encoding="utf-8-sig", newline="") as file:
        public = {(r["square"], r["date_class"]): int(r["species"]) for r in csv.DictReader(file)}
    with (reported / "private" / "squares.csv").open(encoding="utf-8-sig", newline="") as file:
        private = {(r["square"], r["date_class"]): int(r["species"]) for r in csv.DictReader(file)}
    assert any(public[key] < private[key] for key in public), "a count of species would give the sensitive one away"


def test_the_index_links_what_is_there(reported: Path) -> None:
    for edition in ("private", "public"):
        text = (reported / edition / "index.html").read_text(encoding="utf-8")
        for path in (reported / edition).iterdir():
            if path.name != "index.html":
                assert f'href="{path.name}"' in text
