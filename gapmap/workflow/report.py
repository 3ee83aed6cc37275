"""``gapmap report``: everything at once, a private edition for the desk and a public one for everybody."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.checks.queue import queue
from gapmap.checks.range import findings
from gapmap.columns import VISITS
from gapmap.errors import GapmapError
from gapmap.expected.model import Expectation
from gapmap.outputs.darwin_core import About, records_to_occurrences, write_archive
from gapmap.outputs.index_page import write_index
from gapmap.outputs.page.build import write_page
from gapmap.outputs.page.contents import public_edition
from gapmap.outputs.plates.curves import growth_plate
from gapmap.outputs.plates.maps import coverage_plate
from gapmap.outputs.plates.sheet import save_plate
from gapmap.outputs.problem_book import write_problem_book
from gapmap.outputs.tables import label_squares, write_csv, write_geopackage, write_geoparquet, write_workbook
from gapmap.outputs.whole import whole_file
from gapmap.records.publishing import records_to_publish
from gapmap.workflow.check import files_summary, recorders_summary
from gapmap.workflow.coverage import area_tables, squares_table
from gapmap.workflow.expected import expectation, named_species
from gapmap.workflow.odd import for_reading, replies_text, with_findings
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, count, part_of, read_and_count, say_nothing, squares_words
from gapmap.workflow.visits import named_targets, plan_visits, with_targets
from gapmap.workflow.wider import listed_names

__all__ = ["Report", "open_source", "output_folder", "report"]

_PRIVATE = "Private: for the organiser's desk. It names people and places; do not pass it on."
_PUBLIC = "Public: sensitive species in larger squares, nobody named unless the area file asks for names."
#: Columns of the squares' table that say who recorded how much.
_ABOUT_PEOPLE = ("busiest_share",)


@dataclass(frozen=True)
class Report:
    """The two ways in, and how many files each edition has."""

    private: Path
    public: Path
    files: int


def report(source: Source, out: Path, progress: Progress | None = None) -> Report:
    """Write everything: ``private/`` for the desk and ``public/`` for everybody, each with an index."""
    tell = progress or say_nothing
    counted = read_and_count(source, part_of(tell, 0.0, 0.25))
    told = expectation(source, counted, part_of(tell, 0.25, 0.5))
    odd = findings(
        counted.records,
        source.settings,
        folder=source.folder,
        area=counted.squares,
        progress=part_of(tell, 0.5, 0.75),
    )
    table = queue(odd, counted.records, side=counted.side)
    tell(0.75, "writing the private edition")
    private = _write_private(source, counted, told, table, out / "private")
    tell(0.9, "writing the public edition")
    public = _write_public(source, counted, out / "public")
    return Report(private[0], public[0], len(private) + len(public))


def _write_private(source: Source, counted: Counted, told: Expectation, odd: pd.DataFrame, out: Path) -> list[Path]:
    records = counted.records
    problems = records.problems()
    planned, unplanned = _planned(source, counted, told)
    page = replace(coverage_page(source, counted), expected=told.table, still=told.squares, visits=planned)
    page = with_findings(page, odd)
    targets = label_squares(named_species(told.table, records.species), {})
    shown = for_reading(odd)
    summaries = {"by file": files_summary(records, problems), "by recorder": recorders_summary(records)}
    write_page(out / "area.html", page)
    write_problem_book(problems, summaries, out / "problems.xlsx")
    write_csv(problems, out / "problems.csv")
    write_csv(targets, out / "expected.csv")
    write_csv(shown, out / "odd-records.csv")
    write_csv(label_squares(squares_table(counted), counted.class_labels), out / "squares.csv")
    with whole_file(out / "replies.txt") as draft:
        draft.write_text(replies_text(odd), encoding="utf-8")
    entries = [
        ("area.html", "the map with everything: coverage, species, still to find, growth, visits, records to look at"),
        ("problems.xlsx", "every row that is no record or is in doubt, a sheet for each file"),
        ("problems.csv", "the same as one table"),
        ("squares.csv", "every square and date class with its numbers"),
        ("expected.csv", "species still to find and to re-find, square by square"),
        ("odd-records.csv", "records to look at, the oddest first"),
        ("replies.txt", "a draft letter for each recorder"),
    ]
    return _with_index(source, out, _PRIVATE, entries, unplanned)


def _planned(source: Source, counted: Counted, told: Expectation) -> tuple[pd.DataFrame | None, list[str]]:
    """The season's visits for the page; where none can be planned, a sentence that says why."""
    try:
        season, _, _ = plan_visits(source, counted, told)
    except GapmapError as error:
        return None, [f"No visits are planned on the map: {error}"]
    return VISITS.check(with_targets(season, named_targets(season, counted))), []


def _write_public(source: Source, counted: Counted, out: Path) -> list[Path]:
    """Everything here is worked out anew from what may be published: nothing can show through from the rest."""
    records = records_to_publish(counted.records, source.settings, listed_names(source.folder))
    shared = count(source, records)
    hidden = records.species.loc[records.species["sensitive_m"] > counted.side]
    told = expectation(source, shared)
    targets = told.table[~told.table["species_id"].isin(hidden["species_id"])]
    notes = _public_notes(records.species, hidden, counted.side)
    page = replace(public_edition(coverage_page(source, shared)), expected=targets, remarks=notes)
    squares = squares_table(shared).drop(columns=list(_ABOUT_PEOPLE), errors="ignore")
    labelled = label_squares(squares, shared.class_labels)
    occurrences = records_to_occurrences(
        records.frame(), records.species, records.people, with_names=source.settings.publish.recorder_names
    )
    area = source.settings.area
    about = About(
        area.name, "Records of wildlife with the square and the dates they hold for.", page.made_on, area.notice
    )
    write_page(out / "area.html", page)
    write_csv(labelled, out / "squares.csv")
    write_workbook({"squares": labelled, **area_tables(source, shared)}, out / "squares.xlsx")
    write_geopackage(labelled, squares["square"].to_numpy(np.int64), records.system, out / "squares.gpkg")
    write_geoparquet(labelled, squares["square"].to_numpy(np.int64), records.system, out / "squares.parquet")
    write_archive(occurrences, about, out / "records.zip")
    save_plate(coverage_plate(page), out / "coverage.png")
    save_plate(growth_plate(page), out / "growth.png")
    entries = [
        ("area.html", "the map: coverage, species, what is still to find, growth; opens in any browser"),
        ("coverage.png", "the coverage map for print and slides"),
        ("growth.png", "growth by year for print and slides"),
        ("squares.xlsx", "every square and date class, and tables of the whole area"),
        ("squares.csv", "the squares as plain text"),
        ("squares.gpkg", "the squares for a GIS"),
        ("squares.parquet", "the same as GeoParquet, for programs that calculate"),
        ("records.zip", "the records as a Darwin Core archive, those of sensitive species dated by years"),
    ]
    return _with_index(source, out, _PUBLIC, entries, list(notes))


def _public_notes(species: pd.DataFrame, hidden: pd.DataFrame, side: int) -> tuple[str, ...]:
    sensitive = _how_many(species[species["sensitive_m"] > 0])
    if not sensitive:
        return ()
    count_words = "1 species is" if sensitive == 1 else f"{sensitive} species are"
    drawn = f"; {_how_many(hidden)} of them too coarsely for {squares_words(side)}" if len(hidden) else ""
    return (f"{count_words} sensitive and published in larger squares only{drawn}.",)


def _how_many(species: pd.DataFrame) -> int:
    """Species among names; where there are only other names, such as an aggregate's, those."""
    return int(species["counts"].sum()) or len(species)


def _with_index(
    source: Source, out: Path, edition: str, entries: list[tuple[str, str]], notes: list[str]
) -> list[Path]:
    area = source.settings.area
    files = [(out / name, what) for name, what in entries]
    write_index(out / "index.html", area.name, edition, files, notice=area.notice, notes=notes)
    return [out / "index.html", *(path for path, _ in files)]
