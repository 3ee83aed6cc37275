"""The stages that every command begins with: read the records, count them in squares, judge the squares."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap import columns
from gapmap.coverage.classes import choose_classes
from gapmap.coverage.completeness import standing
from gapmap.coverage.effort import effort
from gapmap.coverage.reasons import side_words
from gapmap.coverage.tally import lists_and_finds, not_accepted, tally, too_coarse
from gapmap.grid.squares import SIDES
from gapmap.grid.systems import System
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.typed import DateClass
from gapmap.workflow.area import area_squares, read_boundary, squares_away_from
from gapmap.workflow.source import Source

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Counted:
    """Records with everything that is counted from them.

    Parameters
    ----------
    records
        The cleaned records.
    side
        Side of the map's square, metres.
    classes
        Date classes in the order of time.
    tally, effort, standing
        Frames as in columns.TALLY, columns.EFFORT and columns.STANDING.
    squares, boundary
        Packed squares of the area and its outline; None where the settings name none.
    coarse
        How many records are too coarse for the square.
    outside
        How many records lie in squares away from the area; they stay out of the map.
    remarks
        Sentences worth printing.
    """

    records: Records
    side: int
    classes: tuple[DateClass, ...]
    tally: pd.DataFrame
    effort: pd.DataFrame
    standing: pd.DataFrame
    squares: npt.NDArray[np.int64] | None
    boundary: gpd.GeoDataFrame | None
    coarse: int
    outside: int
    remarks: tuple[str, ...]

    @property
    def class_labels(self) -> dict[int, str]:
        """Label of each date class by its index."""
        return {number: each.label for number, each in enumerate(self.classes)}

    def lists_and_finds(self) -> tuple[pd.DataFrame, pd.DataFrame]:
        """Lists and the species on them, as in columns.LISTS and columns.FINDS."""
        return lists_and_finds(self.records, self.side, self.classes)


def read_and_count(source: Source, progress: Progress | None = None) -> Counted:
    """Read the files, choose the date classes, count, and judge each square.

    Raises
    ------
    GapmapError
        No file can be read, or an option does not fit the records.
    """
    tell = progress or say_nothing
    records = read_records(source.files, source.settings, progress=part_of(tell, 0.0, 0.6), folder=source.folder)
    return count(source, records, part_of(tell, 0.6, 1.0))


def count(source: Source, records: Records, progress: Progress | None = None) -> Counted:
    """Count records in squares and date classes, and judge each square."""
    tell = progress or say_nothing
    side = source.settings.area.side_m
    classes, remarks = _classes(source, records)
    tell(0.0, "counting in squares")
    boundary = read_boundary(source, records.system)
    squares = area_squares(source, boundary, records.system)
    tallied = tally(records, side, classes)
    efforts = effort(records, side, classes, squares)
    outline = None if source.settings.area.squares else boundary
    tallied, efforts, outside = _inside(tallied, efforts, squares, outline, records.system)
    tell(0.6, "judging each square")
    coarse = too_coarse(records, side)
    return Counted(
        records=records,
        side=side,
        classes=classes,
        tally=columns.TALLY.check(tallied),
        effort=columns.EFFORT.check(efforts),
        standing=columns.STANDING.check(standing(tallied, efforts, source.settings.thresholds)),
        squares=squares,
        boundary=boundary,
        coarse=coarse,
        outside=outside,
        remarks=(
            *records.remarks,
            *remarks,
            *_larger_squares(records, side, coarse),
            *_without_outline(source, squares),
        ),
    )


def reading_facts(counted: Counted) -> list[tuple[str, str]]:
    """What happened to the rows, as pairs of a name and a number in words."""
    records, files = counted.records, counted.records.files
    facts = [
        ("files and sheets read", f"{len(files):,}"),
        ("rows read", f"{int(files['rows'].sum()):,}"),
        ("records kept", f"{int(files['records'].sum()):,}"),
        ("rows that are no record", f"{int(files['problem_rows'].sum()):,}"),
    ]
    if int(files["duplicates"].sum()):
        facts.append(("rows that repeat another", f"{int(files['duplicates'].sum()):,}"))
    kinds = records.kinds_of_problems()
    facts += [(f"  {row.severity}: {row.kind}", f"{row.rows:,}") for row in kinds.itertuples()]
    facts.append((f"too coarse for {squares_words(counted.side)}", f"{counted.coarse:,}"))
    if refused := not_accepted(records):
        facts.append(("not accepted, so on no map", f"{refused:,}"))
    if counted.squares is not None:
        facts.append(("outside the area", f"{counted.outside:,}"))
    return facts


def squares_words(side: int) -> str:
    """The map's squares as people name them.

    Examples
    --------
    >>> squares_words(2000)
    '2 km squares'
    """
    return f"{side_words(side)} squares"


def _classes(source: Source, records: Records) -> tuple[tuple[DateClass, ...], list[str]]:
    classes = source.settings.area.date_classes
    if classes:
        return classes, []
    classes = choose_classes(records)
    words = ", ".join(each.label for each in classes)
    return classes, [f"the date classes were chosen from the records: {words}; set your own with --classes"]


def _without_outline(source: Source, squares: npt.NDArray[np.int64] | None) -> list[str]:
    """What a map lacks whose area has no outline; files without a folder have no area."""
    if squares is not None or source.folder is None:
        return []
    return [
        "only squares with records are on the map: to see those that nobody has been to, name the area's outline as "
        "boundary, or its squares, under [area] in the area file"
    ]


def _larger_squares(records: Records, side: int, coarse: int) -> list[str]:
    """Where most records are too coarse for the map's squares, which squares would hold most of them."""
    every = int(records.files["records"].sum())
    if coarse * 2 <= every:
        return []
    sentence = f"{coarse:,} of {every:,} records are too coarse for {squares_words(side)} and stand in none of them"
    for larger in sorted(each for each in SIDES if each > side):
        left = too_coarse(records, larger)
        if left * 2 <= every:
            return [f"{sentence}; for {squares_words(larger)} {left:,} would be: --square {larger // 1000}km"]
    return [sentence]


def _inside(
    tallied: pd.DataFrame,
    efforts: pd.DataFrame,
    area: npt.NDArray[np.int64] | None,
    boundary: gpd.GeoDataFrame | None,
    system: System,
) -> tuple[pd.DataFrame, pd.DataFrame, int]:
    """Tally and effort of the area alone, and how many records lie away from it."""
    if area is None:
        return tallied, efforts, 0
    away = squares_away_from(efforts["square"].to_numpy(), area, boundary, system)
    beyond = efforts["square"].isin(away)
    outside = int(efforts.loc[beyond & (efforts["date_class"] == columns.ALL_DATES), "records"].sum())
    kept = tallied[~tallied["square"].isin(away)]
    return kept.reset_index(drop=True), efforts[~beyond].reset_index(drop=True), outside


def say_nothing(fraction: float, sentence: str) -> None:
    """Progress that nobody watches."""


def part_of(progress: Progress, start: float, end: float) -> Progress:
    """Progress of a stage as a part of the whole."""
    return lambda fraction, sentence: progress(start + (end - start) * fraction, sentence)
