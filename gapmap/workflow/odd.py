"""``gapmap range``: how odd each record is, in what way, which slip would explain it, and what to ask for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd
from scipy.stats import binomtest

from gapmap.checks.queue import PRIVATE, queue, replies
from gapmap.checks.range import findings, judge_record, load_known
from gapmap.outputs.page.build import write_page
from gapmap.outputs.page.contents import Page
from gapmap.outputs.tables import write_csv, write_workbook
from gapmap.outputs.whole import whole_file
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.workflow.area import area_squares, read_boundary
from gapmap.workflow.one_record import checklist_of, keep
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, read_and_count

__all__ = ["Odd", "judge_one", "odd_records", "open_source", "output_folder", "with_findings", "write_odd"]

#: Of fewer records than this no share is given.
FEW = 20


@dataclass(frozen=True)
class Odd:
    """The queue of records to look at, how many were judged, how the newest year fared, and the files written."""

    queue: pd.DataFrame
    judged: int
    newest: str
    outputs: tuple[Path, ...]


def odd_records(source: Source, out: Path, progress: Progress | None = None) -> Odd:
    """Judge every record against all the others, and write the queue, the page and the draft replies."""
    counted = read_and_count(source, progress)
    return write_odd(source, counted, out, progress)


def write_odd(source: Source, counted: Counted, out: Path, progress: Progress | None = None) -> Odd:
    """Write odd.html (private), odd-records.csv, odd-records.xlsx and replies.txt."""
    told = findings(
        counted.records, source.settings, folder=source.folder, area=counted.squares, progress=progress
    )
    table = queue(told, counted.records, side=counted.side)
    shown = for_reading(table)
    outputs = tuple(out / name for name in ("odd.html", "odd-records.csv", "odd-records.xlsx", "replies.txt"))
    page = with_findings(coverage_page(source, counted), table)
    write_page(outputs[0], replace(page, opens_at="records"))
    write_csv(shown, outputs[1])
    first = shown["first"] == "yes"
    sheets = {"look at these first": shown[first], "the rest": shown[~first]}
    write_workbook(sheets, outputs[2], {"one_in": "at most one in this many accepted records is as odd"})
    with whole_file(outputs[3]) as draft:
        draft.write_text(replies_text(table), encoding="utf-8")
    return Odd(shown, len(told), newest_year(table, counted.records), outputs)


def for_reading(table: pd.DataFrame) -> pd.DataFrame:
    """The queue as it is written to tables: without packed numbers, and with yes or no."""
    shown = table.drop(columns=["record_id", "species_id", "square"])
    return shown.assign(first=shown["first"].map({True: "yes", False: "no"}).astype("str"))


def newest_year(table: pd.DataFrame, records: Records) -> str:
    """How many of the newest year's records the queue has to be looked at first, with the 95 % interval of their share.

    A record whose dates lie in two years is of neither.
    """
    years = records.frame("record_id, year(date_from) as year", "year(date_from) = year(date_to)")
    if not len(years):
        return ""
    newest = int(years["year"].max())
    ours = years.loc[years["year"] == newest, "record_id"]
    first, count = int(ours.isin(table.loc[table["first"], "record_id"]).sum()), len(ours)
    records_are = "1 record" if count == 1 else f"{count:,} records"
    said = f"Of the {records_are} of {newest}, {first:,} {'is' if first == 1 else 'are'} among those to look at first"
    if count >= FEW:
        found = binomtest(first, count).proportion_ci(method="wilson")
        share, low, high = (f"{100 * part:.1f} %" for part in (first / count, found.low, found.high))
        said += f" ({share}; 95 % interval {low} to {high})"
    return f"{said}. Most odd records are right."


def with_findings(page: Page, table: pd.DataFrame) -> Page:
    """The private page with the view of records to look at first.

    Those too coarse for a square are in its list alone, with the reference they came with.
    """
    first = table[table["first"]].reset_index(drop=True)
    written = first["reference"].str.cat(first["place"], sep=", ", na_rep="").str.rstrip(", ")
    return replace(page, findings=first.assign(place=first["place"].where(first["square"] >= 0, written)))


def replies_text(table: pd.DataFrame) -> str:
    """All draft replies one after the other, to be read, changed and sent by a person."""
    letters = replies(table[table["first"]]).items()
    parts = [f"{'=' * 72}\nTo: {recorder}\n{'=' * 72}\n\n{text}" for recorder, text in letters]
    return "\n\n".join([PRIVATE, "Drafts: read, change and send them yourself.", *parts]) + "\n"


def judge_one(source: Source, text: str, progress: Progress | None = None) -> pd.Series:
    """Judge one record that is written as ``Oniscus asellus, OR467723, 12 May 2026``.

    Raises
    ------
    GapmapError
        The text names no known species or no place.
    """
    records = read_records(source.files, source.settings, progress=progress, folder=source.folder)
    area = area_squares(source, read_boundary(source, records.system), records.system)
    known, _, _ = load_known(records, source.settings, folder=source.folder, area=area, progress=progress)
    keep(source, known, records.people)
    return judge_record(known, text, records.people, checklist_of(source)).iloc[0]
