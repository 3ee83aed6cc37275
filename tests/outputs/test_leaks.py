"""The search for leaks finds what was put in: a secret in each kind of file, written by our own writers."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).resolve().parent))
from leaks import leaks, pairs_on_page
from page_frames import make_page

from gapmap.grid.references import squares_to_references
from gapmap.outputs.page.build import write_page
from gapmap.outputs.page.contents import public_edition
from gapmap.outputs.plates.maps import coverage_plate
from gapmap.outputs.plates.sheet import save_plate
from gapmap.outputs.tables import label_squares, write_csv, write_geopackage, write_geoparquet, write_workbook

SECRET, REFERENCE = "Ida Wintergreen", "OR472735"


@pytest.mark.parametrize("kind", ["html", "csv", "xlsx", "gpkg", "parquet", "pdf"])
def test_a_secret_is_found_in_every_kind_of_file(tmp_path: Path, kind: str) -> None:
    page = make_page(12, 4, 2, remarks=(f"{SECRET} at OR 4727 35",), title=f"{SECRET} {REFERENCE}")
    assert page.standing is not None
    rows = page.standing.assign(reason=f"{SECRET} at {REFERENCE}")
    labelled, packed = label_squares(rows, {0: "a", 1: "b", 2: "c"}), rows["square"].to_numpy()
    path = tmp_path / f"out.{kind}"
    write = {
        "html": lambda: write_page(path, page),
        "csv": lambda: write_csv(labelled, path),
        "xlsx": lambda: write_workbook({"s": labelled}, path),
        "gpkg": lambda: write_geopackage(labelled, packed, page.system, path),
        "parquet": lambda: write_geoparquet(labelled, packed, page.system, path),
        "pdf": lambda: save_plate(coverage_plate(page), path),
    }
    write[kind]()
    assert leaks(tmp_path, [SECRET.upper()], [REFERENCE]) == [
        f"{SECRET.upper()!r} stands in out.{kind}", f"{REFERENCE} stands in out.{kind}"
    ]  # fmt: skip
    assert leaks(tmp_path, ["nobody at all"], ["OR47273", "R472735"]) == []


def test_a_secret_packed_into_a_page_is_found(tmp_path: Path) -> None:
    page = make_page(12, 4, 2)
    assert page.findings is not None
    write_page(tmp_path / "private.html", replace(page, findings=page.findings.assign(recorders=SECRET)))
    assert leaks(tmp_path, [SECRET]) == [f"{SECRET!r} stands in private.html"]
    write_page(tmp_path / "private.html", public_edition(page))
    assert leaks(tmp_path, [SECRET, "Tam O", "isle.csv", "Marwick T"]) == []


def test_pairs_on_a_page_are_those_of_the_tally(tmp_path: Path) -> None:
    page = make_page(12, 4, 2, views=False)
    write_page(tmp_path / "page.html", page)
    total = page.tally[page.tally["date_class"] == -1]
    names = page.species.set_index("species_id")["name"].loc[total["species_id"]]
    assert pairs_on_page(tmp_path / "page.html") == set(
        zip(names, squares_to_references(total["square"].to_numpy()), strict=True)
    )
