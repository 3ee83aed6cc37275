"""``gapmap coverage``: from record files to a map of how well each square has been looked at."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from gapmap.outputs.page.build import write_page
from gapmap.outputs.tables import label_squares, write_csv, write_geopackage, write_workbook
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, read_and_count, reading_facts

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
        Folder for coverage.html, squares.csv, squares.gpkg, squares.xlsx and problems.csv.
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
    outputs = tuple(
        out / name for name in ("coverage.html", "squares.csv", "squares.gpkg", "squares.xlsx", "problems.csv")
    )
    write_page(outputs[0], coverage_page(source, counted))
    write_csv(labelled, outputs[1])
    write_geopackage(labelled, squares["square"].to_numpy(), counted.records.system, outputs[2])
    write_workbook({"squares": labelled}, outputs[3])
    write_csv(counted.records.problems(), outputs[4])
    return outputs


def squares_table(counted: Counted) -> pd.DataFrame:
    """One row a square and date class: effort and standing side by side, the total first."""
    shared = [name for name in counted.standing if name in counted.effort and name not in ("square", "date_class")]
    standing = counted.standing.drop(columns=shared)
    table = counted.effort.merge(standing, on=["square", "date_class"], how="left", validate="one_to_one")
    table = table.sort_values(["square", "date_class"], ignore_index=True)
    first = ["square", "date_class", "species", "records", "visits", "lists", "first", "last", "standing", "reason"]
    return table[[*first, *(name for name in table.columns if name not in first)]]


def coverage_facts(counted: Counted) -> list[tuple[str, str]]:
    """What was read and counted."""
    counting = counted.records.species["counts"]
    return [
        *reading_facts(counted),
        ("squares", f"{counted.effort['square'].nunique():,}"),
        ("species", f"{int(counting.sum()):,}"),
        ("date classes", ", ".join(each.label for each in counted.classes)),
    ]
