"""What a page is made from: the tables of the other rooms and the words around them, nothing computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

import geopandas as gpd
import pandas as pd

from gapmap import columns
from gapmap.grid.systems import System
from gapmap.settings import TilesSection
from gapmap.typed import DateClass

#: How a background layer is drawn.
BackgroundKind = Literal["land", "water", "river", "road", "place"]


@dataclass(frozen=True)
class Background:
    """One layer behind the squares.

    Parameters
    ----------
    name
        What the legend calls it.
    kind
        ``land`` and ``water`` are areas, ``river`` and ``road`` lines, ``place`` points with a name.
    shapes
        Geometries in the plane of the page's grid system, in metres; a column ``name`` names places.
    """

    name: str
    kind: BackgroundKind
    shapes: gpd.GeoDataFrame


@dataclass(frozen=True)
class Page:
    """Everything one interactive page shows; a view without its table does not appear.

    Parameters
    ----------
    title
        Heading of the page: the area, as people call it.
    system
        The grid system whose plane the map is drawn in.
    side
        Side of the map's squares in metres.
    classes
        Date classes in the order of time; the tables' ``date_class`` counts them from 0.
    species
        columns.SPECIES.
    tally, effort
        columns.TALLY and columns.EFFORT, the total class -1 included. ``effort`` may carry a text column
        ``not_done`` (what has not been tried in the square).
    made_on
        Day the page was made, shown in the legend.
    standing
        columns.STANDING, or nothing: then squares are not coloured by standing.
    expected
        columns.EXPECTED: opens the view of what is still to find.
    still
        One row a square: ``square, still_to_find, still_low, still_high``, the species never found there that are
        to be expected, with a 95 % interval: squares can be coloured by it.
    lists
        columns.LISTS: opens the view of growth by year.
    visits
        columns.VISITS: opens the view of visits; never in a public page.
    findings
        columns.FINDINGS with ``square`` (-1 where none holds it) and ``species_id`` of the record and, where known,
        the texts ``date``, ``recorders``, ``place`` and ``where`` (file and row): opens the view of records to look
        at; never in a public page.
    files, thresholds, remarks
        Lines for the legend and the panel about the numbers: names of the files read, what each standing takes,
        sentences about the reading.
    too_coarse
        Records whose reference is coarser than the map's squares.
    too_coarse_squares
        Where they are, when they are to be drawn: ``square`` (packed, at their own size) and ``records``.
    boundary
        The area itself, in the plane of the grid system.
    background
        Layers behind the squares, drawn in this order.
    edition
        ``private`` for the organiser's desk, ``public`` for everybody else.
    notice
        A line shown at the top, such as that the data are invented.
    opens_at
        The view the page opens at, where its address names none.
    tiles
        Where a reader who asks for it gets a background map from the network; without it the page asks nobody.

    Raises
    ------
    TypeError
        A table breaks its contract, or a public page was given a private table: a fault in the program.
    """

    title: str
    system: System
    side: int
    classes: tuple[DateClass, ...]
    species: pd.DataFrame
    tally: pd.DataFrame
    effort: pd.DataFrame
    made_on: date
    standing: pd.DataFrame | None = None
    expected: pd.DataFrame | None = None
    still: pd.DataFrame | None = None
    lists: pd.DataFrame | None = None
    visits: pd.DataFrame | None = None
    findings: pd.DataFrame | None = None
    files: Sequence[str] = ()
    thresholds: Sequence[str] = ()
    remarks: Sequence[str] = ()
    too_coarse: int = 0
    too_coarse_squares: pd.DataFrame | None = None
    boundary: gpd.GeoDataFrame | None = None
    background: Sequence[Background] = field(default=())
    edition: Literal["private", "public"] = "private"
    notice: str = ""
    opens_at: Literal["coverage", "find", "visits", "records"] = "coverage"
    tiles: TilesSection | None = None

    def __post_init__(self) -> None:
        contracts = (
            (columns.SPECIES, self.species), (columns.TALLY, self.tally), (columns.EFFORT, self.effort),
            (columns.STANDING, self.standing), (columns.EXPECTED, self.expected), (columns.LISTS, self.lists),
            (columns.VISITS, self.visits), (columns.FINDINGS, self.findings),
        )
        for contract, frame in contracts:
            if frame is not None:
                contract.check(frame)
        if self.findings is not None and not {"square", "species_id"} <= set(self.findings.columns):
            raise TypeError("findings on a page need the square and species_id of their records")
        if self.edition == "public" and (self.visits is not None or self.findings is not None):
            raise TypeError("a public page carries neither visits nor records to look at; use public_edition")


def public_edition(page: Page) -> Page:
    """The same page for everybody: without visits, without records to look at, files counted and not named.

    Names of sensitive species and fine places are the tables' own matter: hand in tables already coarsened.
    """
    count = len({name.partition(": ")[0] for name in page.files})  # sheets of a workbook are one file
    files = (f"{count} file" if count == 1 else f"{count} files",) if count else ()
    return replace(page, edition="public", visits=None, findings=None, files=files)
