"""The two editions: everything for the desk, and nothing for everybody that should have stayed there.

That sensitive species are published in larger squares and people stay unnamed is common practice, no source.
"""

from __future__ import annotations

import csv
import hashlib
import re
import sys
import zipfile
from pathlib import Path

import pytest

from gapmap.cli.app import run

sys.path.append(str(Path(__file__).resolve().parents[1] / "outputs"))
from leaks import leaks, pairs_on_page, words_inside

SENSITIVE, COMMON = "Glomeris marginata", "Oniscus asellus"
SECRET_PLACES = ("Hidden Hollow", "OR472735")
PEOPLE = ("Marsh", "Holt", "Wintergreen")


def report_of(folder: Path, rows: list[list[str]], secret: str) -> Path:
    """The small area with a sensitive species in a place of its own, reported."""
    assert run(["new", str(folder)]) == 0
    late = [
        ["Species", "Grid ref", "Date", "Recorder", "Place", "Determiner"],
        [SENSITIVE, secret, "03/05/2019", "Ida Wintergreen", "Hidden Hollow", "Ida Wintergreen"],
        [COMMON, "OR4773", "04/05/2019", "Ida Wintergreen", "Open Field", "Ida Wintergreen"],
    ]
    for name, table in (("small records.csv", rows), ("late.csv", late)):
        with (folder / "records" / name).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(table)
    area = folder / "area.toml"
    settings = area.read_text(encoding="utf-8")
    area.write_text(
        settings.replace("[publish]", f'[publish]\nsensitive = {{ "{SENSITIVE}" = "10km" }}', 1), encoding="utf-8"
    )
    assert run(["report", str(folder), "--classes", "-1999, 2000-2014, 2015-"]) == 0
    return folder / "maps"


@pytest.fixture(scope="module")
def reported(tmp_path_factory: pytest.TempPathFactory, small_rows: list[list[str]]) -> Path:
    """Reported once for all tests here."""
    return report_of(tmp_path_factory.mktemp("report") / "small area", small_rows, SECRET_PLACES[1])


def test_nothing_private_is_public(reported: Path) -> None:
    public = reported / "public"
    assert len(list(public.iterdir())) >= 9
    words = (SECRET_PLACES[0], *PEOPLE, "late.csv", "small records.csv")
    assert leaks(public, words, [SECRET_PLACES[1], "OR4773A"]) == []
    assert SENSITIVE not in {name for name, _ in pairs_on_page(public / "area.html")}


def test_the_search_would_find_it(reported: Path) -> None:
    found = leaks(reported / "private", ["Marsh", "late.csv", SECRET_PLACES[0]])
    for word in ("Marsh", "late.csv"):
        assert any(word in line for line in found), f"the private edition should hold {word}"
    assert SENSITIVE in {name for name, _ in pairs_on_page(reported / "private" / "area.html")}


def test_the_public_edition_is_the_same_wherever_in_its_large_square_the_secret_lies(
    reported: Path, tmp_path: Path, small_rows: list[list[str]]
) -> None:
    """Nothing shows through, not even as a count, a chance or a colour."""
    moved = report_of(tmp_path / "small area", small_rows, "OR417789")
    names = sorted(path.name for path in (reported / "public").iterdir())
    assert names == sorted(path.name for path in (moved / "public").iterdir())
    for name in names:
        assert content(moved / "public" / name) == content(reported / "public" / name), name
    private = "squares.csv"
    assert content(moved / "private" / private) != content(reported / "private" / private), "or nothing was moved"


def content(path: Path) -> str:
    """What a file says, without the time it was packed at."""
    if path.suffix in (".xlsx", ".gpkg", ".zip", ".parquet"):
        return re.sub(r"\d{4}-\d{2}-\d{2}T[\d:.]+Z", "", words_inside(path))
    return hashlib.sha256(path.read_bytes()).hexdigest()


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
