"""``gapmap check``: read everything and say what is doubtful, file by file and recorder by recorder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from gapmap.outputs.problem_book import write_problem_book
from gapmap.outputs.tables import write_csv
from gapmap.records.clean import read_records
from gapmap.records.people.joining import undecided_people
from gapmap.records.table import Records
from gapmap.records.verdicts import NOT_A_RECORD
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Progress

__all__ = ["Checked", "check", "open_source", "output_folder"]

#: What was found in a file is shown beside the reason when it is no longer than this.
_SHORT = 45


@dataclass(frozen=True)
class Checked:
    """What the reading found: a row a file, a row a recorder, how many rows each kind of problem has, names that can be
    several people's, sentences, files."""

    by_file: pd.DataFrame
    by_recorder: pd.DataFrame
    kinds: pd.DataFrame
    undecided: pd.DataFrame
    remarks: tuple[str, ...]
    outputs: tuple[Path, ...]


def check(source: Source, out: Path, progress: Progress | None = None) -> Checked:
    """Read the files and write problems.csv and problems.xlsx, and the names of people that are to be decided."""
    records = read_records(source.files, source.settings, progress=progress, folder=source.folder)
    problems = records.problems()
    by_file, by_recorder = files_summary(records, problems), recorders_summary(records)
    outputs: tuple[Path, ...] = (out / "problems.xlsx", out / "problems.csv")
    write_problem_book(problems, {"by file": by_file, "by recorder": by_recorder}, outputs[0])
    write_csv(problems, outputs[1])
    written = records.connection.sql("select recorder_text from people").fetchall()
    undecided = undecided_people((text for (text,) in written), source.folder)
    decide = out / "people-to-decide.csv"
    if len(undecided):
        write_csv(undecided, decide)
    else:
        decide.unlink(missing_ok=True)
    if len(undecided):
        outputs = (*outputs, decide)
    return Checked(by_file, by_recorder, records.kinds_of_problems(), undecided, records.remarks, outputs)


def files_summary(records: Records, problems: pd.DataFrame) -> pd.DataFrame:
    """A row a file: rows = records + no record + duplicates; how many of the records are in doubt and how many carry a
    note; why it gave nothing."""
    table = records.files[["file", "rows", "records", "problem_rows", "duplicates"]]
    marked = _marked_records(records, "f.file").set_index("counted")[["doubt", "note"]]
    table = table.join(marked.reindex(table["file"], fill_value=0).reset_index(drop=True))
    table = table.rename(columns={"problem_rows": "no record"})
    if (table["records"] == 0).any():
        given = dict(iter(problems.groupby("file")))
        table["why nothing"] = [
            "" if kept else _why_nothing(file, rows, given.get(file, problems.head(0)))
            for file, rows, kept in zip(table["file"], table["rows"], table["records"], strict=True)
        ]
    return table


def _why_nothing(file: str, rows: int, problems: pd.DataFrame) -> str:
    """In a few words why a file gave no record."""
    whole = problems[problems["row"] == 0]
    if rows == 0 and whole.empty:
        return "it holds no rows"
    if rows == 0:
        said = whole["sentence"].iloc[0].removeprefix(file).removeprefix(":").strip().rstrip(".").split(" (")[0]
        found = whole["value"].iloc[0]
        return f"{said}: {found}" if 0 < len(found) <= _SHORT else said
    refused = problems[(problems["severity"] == NOT_A_RECORD) & (problems["row"] > 0)]
    if refused.empty:
        return "every row repeats one that is counted elsewhere"
    count = refused["row"].nunique()
    return f"{count:,} of {rows:,} rows are no records, the first because: {refused['sentence'].iloc[0].rstrip('.')}"


def recorders_summary(records: Records) -> pd.DataFrame:
    """A row a set of recorders: records, and how many of them are in doubt or carry a note, most doubts first."""
    table = _marked_records(records, "coalesce(nullif(p.names, ''), 'nobody named')")
    ordered = table.sort_values(["doubt", "records", "counted"], ascending=[False, False, True], kind="stable")
    return ordered.rename(columns={"counted": "recorders"}).reset_index(drop=True)


def _marked_records(records: Records, by: str) -> pd.DataFrame:
    """How many records there are, are in doubt and carry a note, by an SQL expression of files f and people p."""
    people = records.people[["people_id", "names"]]
    records.connection.register("summary_people", people)
    records.connection.register("summary_files", records.files[["file_id", "file"]])
    table: pd.DataFrame = records.connection.sql(
        f"""
        with marked as (
            select file, row, bool_or(severity = 'doubt') as doubt, bool_or(severity = 'note') as note
            from (select file, row, severity from problems union all select file, row, severity from alike)
            group by file, row)
        select {by} as counted, count(*) as records,
               count(*) filter (m.doubt) as doubt, count(*) filter (m.note) as note
        from records r
        join summary_files f using (file_id)
        left join summary_people p using (people_id)
        left join marked m on m.file = f.file and m.row = r.source_row
        group by counted
        """
    ).df()
    records.connection.unregister("summary_people")
    records.connection.unregister("summary_files")
    return table
