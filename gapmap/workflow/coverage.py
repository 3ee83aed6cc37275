"""``gapmap coverage``: from record files to a map of how well each square has been looked at."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from gapmap.columns import ALL_DATES
from gapmap.coverage.areas import growth, land_shares, roll_up, summary
from gapmap.coverage.surface import effort_surfaces
from gapmap.coverage.tally import across_classes
from gapmap.outputs.page.build import write_page
from gapmap.outputs.rasters import write_surface
from gapmap.outputs.tables import label_squares, write_csv, write_geopackage, write_geoparquet, write_workbook
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, read_and_count, reading_facts

#: Side of the larger squares that standings are rolled up to, metres.
HECTAD = 10_000

__all__ = ["Result", "coverage", "open_source", "output_folder"]


@dataclass(frozen=True)
class Result:
    """What a command did: facts as pairs of a name and a number, remarks as sentences, and the files it wrote."""

    facts: list[tuple[str, str]]
    remarks: tuple[str, ...]
    outputs: tuple[Path, ...]


def coverage(source: Source, out: Path, progress: Progress | None = None) -> Result:
    """Read, count, judge, and write the page and the tables.

    Parameters
    ----------
    source
        The files and settings.
    out
        Folder for coverage.html, squares.csv, squares.gpkg, squares.xlsx, squares.parquet, problems.csv and
        effort.tif.
    progress
        Told how far the work is.
    """
    counted = read_and_count(source, progress)
    outputs = write_coverage(source, counted, out)
    return Result(coverage_facts(counted), counted.remarks, outputs)


def write_coverage(source: Source, counted: Counted, out: Path) -> tuple[Path, ...]:
    """Write the page first named and the tables beside it."""
    squares = squares_table(counted)
    labelled = label_squares(squares, counted.class_labels)
    sheets = {"squares": labelled, **area_tables(source, counted)}
    outputs = [out / name for name in ("coverage.html", "squares.csv", "squares.gpkg", "squares.xlsx", "problems.csv")]
    write_page(outputs[0], coverage_page(source, counted))
    write_csv(labelled, outputs[1])
    write_geopackage(labelled, squares["square"].to_numpy(), counted.records.system, outputs[2])
    outputs.append(out / "squares.parquet")
    write_geoparquet(labelled, squares["square"].to_numpy(), counted.records.system, outputs[-1])
    write_workbook(sheets, outputs[3])
    write_csv(counted.records.problems(), outputs[4])
    for surface in effort_surfaces(counted.effort, counted.classes):
        same = surface.system == counted.records.system
        outputs.append(out / ("effort.tif" if same else f"effort-{surface.system.name}.tif"))
        write_surface(surface, outputs[-1])
    return tuple(outputs)


def area_tables(source: Source, counted: Counted) -> dict[str, pd.DataFrame]:
    """Sheets about the whole area: standings by date class, growth by year, and what each larger square needs."""
    land = None
    if source.settings.area.squares:
        land = pd.Series(1.0, index=counted.squares)
    elif counted.boundary is not None and counted.squares is not None:
        outline = counted.boundary.geometry.union_all()
        land = land_shares(counted.squares, outline, counted.records.system)
    labels = {**counted.class_labels, ALL_DATES: "all"}
    standings = summary(counted.standing, land)
    tables = {
        "area": standings.assign(date_class=standings["date_class"].map(labels)),
        "growth": growth(counted.records, counted.tally, counted.side, source.settings.thresholds),
    }
    if counted.side < HECTAD:
        rolled = roll_up(counted.standing, HECTAD, land)
        tables["10 km squares"] = label_squares(rolled, counted.class_labels)
    return tables


def squares_table(counted: Counted) -> pd.DataFrame:
    """One row a square and date class: effort and standing side by side, the total first."""
    shared = [name for name in counted.standing if name in counted.effort and name not in ("square", "date_class")]
    standing = counted.standing.drop(columns=shared)
    table = counted.effort.merge(standing, on=["square", "date_class"], how="left", validate="one_to_one")
    table = table.sort_values(["square", "date_class"], ignore_index=True)
    first = ["square", "date_class", "species", "records", "visits", "lists", "first", "last", "standing", "reason"]
    return table[[*first, *(name for name in table.columns if name not in first)]]


def coverage_facts(counted: Counted) -> list[tuple[str, str]]:
    """What was read, and what of it is on the map."""
    species = counted.tally.loc[counted.tally["counts"], "species_id"]
    return [
        *reading_facts(counted),
        ("squares", f"{counted.effort['square'].nunique():,}"),
        ("species", f"{species.nunique():,}"),
        ("date classes", ", ".join(each.label for each in counted.classes)),
        ("records in no one date class", f"{across_classes(counted.records, counted.classes):,}"),
    ]
