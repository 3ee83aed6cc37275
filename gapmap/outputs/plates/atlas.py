"""All species in one PDF: an index, then a page for each."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure

from gapmap.columns import ALL_DATES
from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.ground import ground_of
from gapmap.outputs.plates.maps import coverage_plate, species_plate
from gapmap.outputs.plates.sheet import INK, PRINT_STYLE, SOFT, UPRIGHT, blank_sheet
from gapmap.outputs.whole import whole_file

_LINES_A_PAGE = 90
#: Name, squares and page of one line of the index.
Line = tuple[str, int, int]


def write_atlas(page: Page, path: Path, progress: Callable[[float, str], None] | None = None) -> int:
    """Write the atlas: coverage, an index, and every species that counts, by group and name.

    Parameters
    ----------
    page
        Tables and words.
    path
        The PDF.
    progress
        Told the share of the pages done.

    Returns
    -------
    int
        Species in it.
    """
    found = page.tally[page.tally["date_class"] == ALL_DATES].groupby("species_id")["square"].nunique()
    species = page.species[page.species["counts"] & page.species["species_id"].isin(found.index)]
    species = species.sort_values(["group", "name"], kind="stable")
    ground = ground_of(page)
    with (
        rc_context(PRINT_STYLE),
        whole_file(path) as draft,
        PdfPages(draft, metadata={"Title": page.title, "CreationDate": None}) as book,
    ):
        book.savefig(coverage_plate(page, ground=ground))
        first = 2 + max(1, -(-len(species) // _LINES_A_PAGE))
        names = [
            f"{name} ({other})" if other else name
            for name, other in zip(species["name"], species["vernacular"], strict=True)
        ]
        squares = [int(found[species_id]) for species_id in species["species_id"]]
        lines = list(zip(names, squares, range(first, first + len(names)), strict=True))
        for start in range(0, max(len(lines), 1), _LINES_A_PAGE):
            book.savefig(_index_page(page, lines[start : start + _LINES_A_PAGE]))
        for number, species_id in enumerate(species["species_id"]):
            book.savefig(species_plate(page, int(species_id), ground))
            if progress:
                progress((number + 1) / len(species), "drawing the atlas")
    return len(species)


def _index_page(page: Page, lines: list[Line]) -> Figure:
    figure = blank_sheet(page, "Index", "Name; squares with records; page.", UPRIGHT)
    half = (_LINES_A_PAGE + 1) // 2
    for number, (name, squares, leaf) in enumerate(lines):
        left, level = (0.09 if number < half else 0.53), 0.885 - (number % half) * 0.0165
        figure.text(left, level, name if len(name) <= 46 else name[:45] + "…", fontsize=7, color=INK)
        figure.text(left + 0.365, level, f"{squares:,}", fontsize=7, ha="right", color=SOFT)
        figure.text(left + 0.41, level, str(leaf), fontsize=7, ha="right", color=INK)
    return figure
