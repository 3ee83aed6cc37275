"""``gapmap expected``: what is still to find, where, when and how to look, and how far to believe it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.errors import GapmapError
from gapmap.expected.evidence import INSIDE
from gapmap.expected.ground import read_ground
from gapmap.expected.hours import hour_calendar
from gapmap.expected.methods import method_table
from gapmap.expected.model import Expectation, expect
from gapmap.expected.seasons import calendar
from gapmap.grid.covering import shares_inside
from gapmap.outputs.page.build import write_page
from gapmap.outputs.tables import label_squares, write_csv, write_workbook
from gapmap.workflow.names import find_species
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.square import text_to_square
from gapmap.workflow.stages import Counted, Progress, read_and_count
from gapmap.workflow.wider import newcomers

__all__ = ["Expected", "expectation", "expected", "open_source", "output_folder", "targets_at", "where_next"]

#: Tables written beside the page.
TABLES = ("expected.csv", "still-to-find.csv", "in-no-square-yet.csv", "calendar.csv", "hours.csv", "methods.csv")


@dataclass(frozen=True)
class Expected:
    """Tables in words, and the files written; ``absent`` are the species found in no square of the area yet."""

    by_square: pd.DataFrame
    table: pd.DataFrame
    absent: pd.DataFrame
    outputs: tuple[Path, ...]


def expected(source: Source, out: Path, progress: Progress | None = None) -> Expected:
    """Predict, and write the page with the view of what is still to find, and the tables."""
    counted = read_and_count(source, progress)
    told = expectation(source, counted, progress)
    return write_expected(source, counted, told, out)


def expectation(source: Source, counted: Counted, progress: Progress | None = None) -> Expectation:
    """What is expected in every square of the area, from the records and the area's rasters."""
    lists, finds = lists_inside(counted)
    squares = counted.effort["square"].unique() if counted.squares is None else counted.squares
    at = np.union1d(np.asarray(squares, dtype=np.int64), counted.effort["square"].unique())
    ground = ground_at(source, counted, at)
    species, tally = counted.records.species, counted.tally
    return expect(lists, finds, species, at, source.settings, ground, tally=tally, progress=progress)


def lists_inside(counted: Counted) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The lists in squares of the area, and all finds: what the model learns from, and is tested on."""
    lists, finds = counted.lists_and_finds()
    return lists[lists["square"].isin(counted.effort["square"].unique())], finds


def ground_at(source: Source, counted: Counted, squares: npt.NDArray[np.int64]) -> pd.DataFrame | None:
    """Shares of habitats and height bands in the squares, from the area's rasters, and of the area, from its outline.

    None where the area file names neither.
    """
    rasters = source.settings.rasters
    habitat, height = source.beside_area_file(rasters.habitat), source.beside_area_file(rasters.height)
    outline = counted.boundary
    if not (habitat or height) and outline is None:
        return None
    ground = read_ground(squares, habitat, height)
    if outline is None or outline.empty:
        return ground
    return ground.assign(**{INSIDE: shares_inside(outline.geometry.union_all(), squares, counted.records.system)})


def write_expected(source: Source, counted: Counted, told: Expectation, out: Path) -> Expected:
    """Write the page expected.html, the tables beside it, and all of them in expected.xlsx."""
    species = counted.records.species
    table = label_squares(named_species(told.table, species), {})
    by_square = label_squares(told.squares, {}).sort_values("still_to_find", ascending=False, ignore_index=True)
    lists, finds = counted.lists_and_finds()
    counting = species[species["counts"]]
    season = named_species(calendar(lists, finds, counting), species)
    hours = named_species(hour_calendar(lists, finds, counting), species)
    methods = named_species(method_table(lists, finds, counting), species)
    absent = newcomers(source, counted)
    names = ("expected.html", *TABLES, "expected.xlsx")
    outputs = tuple(out / name for name in names)
    page = replace(coverage_page(source, counted), expected=told.table, still=told.squares, opens_at="find")
    write_page(outputs[0], page)
    for frame, path in zip((table, by_square, absent, season, hours, methods), outputs[1:-1], strict=True):
        write_csv(frame, path)
    sheets = {
        "by square": by_square,
        "expected": table,
        "in no square yet": absent,
        "calendar": season,
        "hours": hours,
        "methods": methods,
    }
    write_workbook(sheets, outputs[-1])
    return Expected(by_square, table, absent, outputs)


def targets_at(source: Source, reference: str, progress: Progress | None = None) -> pd.DataFrame:
    """One square's target list, the likeliest to be found first.

    Raises
    ------
    GapmapError
        The reference is no square of the map, or nothing can be said there.
    """
    counted = read_and_count(source, progress)
    packed = text_to_square(reference, source.settings.area, counted)
    told = expectation(source, counted, progress)
    rows = told.table[told.table["square"] == packed].sort_values("chance_if_visited", ascending=False)
    if rows.empty:
        raise GapmapError("Nothing is expected in this square that is not found there already", found=reference)
    return named_species(rows, counted.records.species).drop(columns=["square"])


def where_next(source: Source, name: str, progress: Progress | None = None) -> pd.DataFrame:
    """Where to look next for one species, the likeliest squares first.

    Raises
    ------
    GapmapError
        No species has that name, or it is expected nowhere else.
    """
    counted = read_and_count(source, progress)
    species_id = find_species(counted.records.species, name)
    if not counted.records.species.set_index("species_id")["counts"][species_id]:
        raise GapmapError("This name does not count as a species of its own", found=name, do="name one species")
    told = expectation(source, counted, progress)
    rows = told.table[told.table["species_id"] == species_id].sort_values("chance", ascending=False)
    if rows.empty:
        raise GapmapError("This species is expected in no further square", found=name)
    return label_squares(rows.drop(columns=["species_id"]), {})


def named_species(table: pd.DataFrame, species: pd.DataFrame) -> pd.DataFrame:
    """The table with the species' name instead of its number."""
    names = species.set_index("species_id")["name"]
    named = table.drop(columns=["species_id"])
    named.insert(1 if "square" in table else 0, "species", table["species_id"].map(names).to_numpy())
    return named
