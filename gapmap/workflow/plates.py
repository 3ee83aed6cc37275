"""``gapmap plate`` and ``gapmap atlas``: pictures for print and slides."""

from __future__ import annotations

from pathlib import Path

from matplotlib.figure import Figure

from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.atlas import write_atlas
from gapmap.outputs.plates.curves import growth_plate
from gapmap.outputs.plates.maps import coverage_plate, species_plate
from gapmap.outputs.plates.sheet import save_plate
from gapmap.outputs.whole import file_word
from gapmap.workflow.names import find_species
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Progress, read_and_count

__all__ = ["FORMATS", "SUBJECTS", "atlas", "open_source", "output_folder", "plate"]

FORMATS = ("png", "svg", "pdf")
SUBJECTS = ("standing", "species", "visits", "lists", "last", "growth")


def plate(
    source: Source,
    out: Path,
    *,
    subject: str = "standing",
    species: str | None = None,
    file_format: str = "png",
    progress: Progress | None = None,
) -> tuple[Path, ...]:
    """Draw one plate.

    Parameters
    ----------
    subject
        One of SUBJECTS: what the squares are coloured by, or ``growth`` for the curves by year.
    species
        Name of a species: its map is drawn instead.
    file_format
        One of FORMATS.

    Raises
    ------
    GapmapError
        The species is not among the records.
    """
    page = coverage_page(source, read_and_count(source, progress))
    name = file_word(species) if species else subject
    path = out / f"plate-{name}.{file_format}"
    save_plate(_figure(page, subject, species), path)
    return (path,)


def atlas(source: Source, out: Path, progress: Progress | None = None) -> tuple[Path, int]:
    """Draw a page for every species in one PDF, with an index; returns the path and the number of species."""
    page = coverage_page(source, read_and_count(source, progress))
    path = out / "atlas.pdf"
    return path, write_atlas(page, path, progress)


def _figure(page: Page, subject: str, species: str | None) -> Figure:
    if species:
        return species_plate(page, find_species(page.species, species))
    return growth_plate(page) if subject == "growth" else coverage_plate(page, subject)
