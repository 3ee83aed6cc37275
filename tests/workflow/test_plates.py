"""Plates and atlases are made for newsletters and slides: they show what may leave the desk.

That sensitive species are published in larger squares and people stay unnamed is common practice, no source.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).resolve().parents[1] / "outputs"))
from leaks import leaks, words_inside

SENSITIVE = "Glomeris marginata"
Gapmap = Callable[..., tuple[int, str, str]]

needs_pdftotext = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not on this machine")


@pytest.fixture
def sensitive_area(area_folder: Path) -> Path:
    """The small area, where one of its five species is sensitive and a file is called after its recorder."""
    records = area_folder / "records" / "small records.csv"
    records.rename(records.with_name("Ida Wintergreen.csv"))
    area = area_folder / "area.toml"
    settings = area.read_text(encoding="utf-8")
    sizes = f'[publish]\nsensitive = {{ "{SENSITIVE}" = "10km" }}'
    area.write_text(settings.replace("[publish]", sizes, 1), encoding="utf-8")
    return area_folder


@needs_pdftotext
def test_an_atlas_holds_neither_sensitive_species_nor_names_of_files(sensitive_area: Path, gapmap: Gapmap) -> None:
    code, said, _ = gapmap("atlas", sensitive_area)
    assert code == 0
    assert "4 species" in said
    assert leaks(sensitive_area / "maps", [SENSITIVE, "Wintergreen"]) == []
    assert "from 1 file." in words_inside(sensitive_area / "maps" / "atlas.pdf")


@needs_pdftotext
def test_a_sensitive_species_is_drawn_in_squares_of_its_size_only(sensitive_area: Path, gapmap: Gapmap) -> None:
    code, _, complained = gapmap("plate", sensitive_area, "--species", SENSITIVE)
    assert code == 2
    assert "is sensitive and is not drawn in 2 km squares" in complained
    assert "--square 10km" in complained
    assert not list((sensitive_area / "maps").glob("plate*"))
    code, _, _ = gapmap("plate", sensitive_area, "--species", SENSITIVE, "--square", "10km", "--format", "pdf")
    assert code == 0
    drawn = words_inside(sensitive_area / "maps" / "plate-glomeris-marginata.pdf")
    assert "found in 1 square of 10 km" in " ".join(drawn.split())


def test_when_a_sensitive_species_is_about_may_be_told(sensitive_area: Path, gapmap: Gapmap) -> None:
    """Its months and hours name no place."""
    code, _, complained = gapmap("plate", sensitive_area, "--of", "calendar", "--species", SENSITIVE, "--dots", "50")
    assert code == 0, complained


@pytest.mark.parametrize("command", [["report"], ["plate", "--dots", "50"], ["visits"]])
def test_a_sensitive_species_may_be_on_the_checklist_only_but_not_misspelt(
    sensitive_area: Path, gapmap: Gapmap, command: list[str]
) -> None:
    """A name that is nowhere is more likely a slip, and would let through what it was to keep back."""
    area, checklist = sensitive_area / "area.toml", sensitive_area / "lookups" / "checklist.csv"
    settings = area.read_text(encoding="utf-8")
    checklist.write_text(checklist.read_text(encoding="utf-8") + "Lutra lutra\n", encoding="utf-8")
    (sensitive_area / "volunteers.csv").write_text(
        "name,home,days,travel\nAnn Ashdown,OR5263,2 a month,30 km\n", encoding="utf-8"
    )
    area.write_text(settings.replace('= "10km"', '= "10km", "lutra  Lutra" = "10km"', 1), encoding="utf-8")
    code, _, complained = gapmap(command[0], sensitive_area, *command[1:])
    assert code == 0, complained
    area.write_text(settings.replace('= "10km"', '= "10km", "Lutra lutrra" = "10km"', 1), encoding="utf-8")
    code, _, complained = gapmap(command[0], sensitive_area, *command[1:])
    assert code == 2
    assert "is in no record and on no checklist" in complained


@pytest.mark.parametrize(("subject", "words"), [("visits", "no visits to draw"), ("calendar", "no calendar to draw")])
def test_what_no_record_tells_is_no_plate(
    area_folder: Path, gapmap: Gapmap, subject: str, words: str
) -> None:
    """Years alone make neither visits nor months, and an empty sheet helps nobody."""
    for file in (area_folder / "records").iterdir():
        file.unlink()
    rows = "".join(f"Oniscus asellus,OR47{n:02d},{2000 + n}\n" for n in range(10, 16))
    (area_folder / "records" / "years.csv").write_text("Species,Grid ref,Year\n" + rows, encoding="utf-8")
    code, _, complained = gapmap("plate", area_folder, "--of", subject)
    assert code == 2
    assert words in " ".join(complained.split())
    assert not list((area_folder / "maps").glob("plate*"))


def test_a_species_is_drawn_by_none_of_the_squares_numbers(area_folder: Path, gapmap: Gapmap) -> None:
    code, _, complained = gapmap("plate", area_folder, "--of", "lists", "--species", "Oniscus asellus")
    assert code == 2
    assert "leave out --of or --species" in complained
