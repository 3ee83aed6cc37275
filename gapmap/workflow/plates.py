"""``gapmap plate`` and ``gapmap atlas``: pictures for print and slides, of what may leave the desk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pandas as pd
from matplotlib.figure import Figure

from gapmap.errors import GapmapError
from gapmap.expected.hours import hour_calendar
from gapmap.expected.seasons import calendar
from gapmap.outputs.page.contents import Page, public_edition
from gapmap.outputs.plates.atlas import write_atlas
from gapmap.outputs.plates.curves import calendar_plates, growth_plate
from gapmap.outputs.plates.hours import hours_plate
from gapmap.outputs.plates.maps import coverage_plate, species_plate, still_to_find_plate
from gapmap.outputs.plates.sheet import PRINT_DOTS, save_plate
from gapmap.outputs.whole import file_word
from gapmap.records.clean import read_records
from gapmap.records.publishing import records_to_publish
from gapmap.typed import SQUARE_SIDES
from gapmap.workflow.expected import expectation
from gapmap.workflow.names import find_species
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, count, part_of, say_nothing, squares_words
from gapmap.workflow.wider import listed_names

__all__ = ["FORMATS", "SUBJECTS", "atlas", "open_source", "output_folder", "plate"]

FORMATS = ("png", "svg", "pdf")
SUBJECTS = ("standing", "species", "visits", "lists", "last", "growth", "still-to-find", "calendar")


def plate(
    source: Source,
    out: Path,
    *,
    subject: str = "standing",
    species: str | None = None,
    file_format: str = "png",
    dots: int = PRINT_DOTS,
    progress: Progress | None = None,
) -> tuple[Path, ...]:
    """Draw one plate.

    Parameters
    ----------
    subject
        One of SUBJECTS: what the squares are coloured by; ``growth`` for the curves by year, ``still-to-find`` for
        the species expected and never found, ``calendar`` for the months each species is found in (several sheets
        when there are many species).
    species
        Name of a species: its map is drawn instead; of ``calendar`` its months and hours.
    file_format
        One of FORMATS.
    dots
        Dots an inch of a PNG.

    Raises
    ------
    GapmapError
        The species is not among the records, or is too sensitive to be drawn in squares of this size.
    """
    if species and subject not in ("standing", "calendar"):
        raise GapmapError(
            "A species has a map of where it was found and a calendar", found=f"--of {subject} --species {species}",
            do="leave out --of or --species",
        )  # fmt: skip
    figures = _figures(source, _counted_to_publish(source, progress), subject, species, progress)
    own = [file_word(species)] if species else []
    name = "-".join([*own, subject] if subject == "calendar" or not own else own)
    endings = [""] if len(figures) == 1 else [f"-{number}" for number in range(1, len(figures) + 1)]
    paths = tuple(out / f"plate-{name}{ending}.{file_format}" for ending in endings)
    for figure, path in zip(figures, paths, strict=True):
        save_plate(figure, path, dots)
    return paths


def atlas(source: Source, out: Path, progress: Progress | None = None) -> tuple[Path, int]:
    """Draw a page for every species in one PDF, with an index; returns the path and the number of species."""
    page = _page(source, _counted_to_publish(source, progress))
    path = out / "atlas.pdf"
    return path, write_atlas(page, path, progress)


def _counted_to_publish(source: Source, progress: Progress | None) -> Counted:
    """The records as they may leave the desk, counted: plates and atlases are made to be shown."""
    tell = progress or say_nothing
    records = read_records(source.files, source.settings, progress=part_of(tell, 0.0, 0.6), folder=source.folder)
    published = records_to_publish(records, source.settings, listed_names(source.folder))
    return count(source, published, part_of(tell, 0.6, 1.0))


def _page(source: Source, counted: Counted) -> Page:
    return public_edition(coverage_page(source, counted))


def _figures(
    source: Source, counted: Counted, subject: str, species: str | None, progress: Progress | None
) -> list[Figure]:
    page = _page(source, counted)
    if species and subject == "calendar":
        return [hours_plate(page, find_species(page.species, species), _hours(counted))]
    if species:
        return [species_plate(page, _species_to_show(page, species))]
    if subject == "growth":
        return [growth_plate(page)]
    if subject == "still-to-find":
        return [still_to_find_plate(replace(page, still=expectation(source, counted, progress).squares))]
    if subject == "calendar":
        lists, finds = counted.lists_and_finds()
        counting = page.species[page.species["counts"]]
        if not (lists["month"] > 0).any():
            raise GapmapError("No record here tells its month, so there is no calendar to draw")
        return calendar_plates(page, calendar(lists, finds, counting), counting)
    if subject == "visits" and len(page.effort) and not page.effort["visits"].any():
        raise GapmapError(
            "No record here tells its day, so there are no visits to draw", do="draw the lists, with --of lists"
        )
    return [coverage_plate(page, subject)]


def _species_to_show(page: Page, name: str) -> int:
    species_id = find_species(page.species, name)
    finest = page.species.set_index("species_id")["sensitive_m"].astype("int64").loc[species_id]
    if finest > page.side:
        wide_enough = next(word for word, metres in SQUARE_SIDES.items() if metres >= finest)
        raise GapmapError(
            f"This species is sensitive and is not drawn in {squares_words(page.side)}", found=name,
            do=f"draw it with --square {wide_enough}",
        )  # fmt: skip
    return species_id


def _hours(counted: Counted) -> pd.DataFrame:
    lists, finds = counted.lists_and_finds()
    species = counted.records.species
    return hour_calendar(lists, finds, species[species["counts"]])
