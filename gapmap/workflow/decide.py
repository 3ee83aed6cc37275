"""``gapmap decide``: write down what was decided about a record."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

from gapmap.checks.dates import date_words
from gapmap.checks.decisions import write_decision
from gapmap.checks.questions import references
from gapmap.errors import FileError, GapmapError
from gapmap.records.clean import read_records
from gapmap.records.own_lists import as_meant
from gapmap.records.problems import text_to_sql
from gapmap.records.table import Records
from gapmap.workflow.source import open_source

__all__ = ["decide"]

_FILE_AND_ROW = re.compile(r".+:\d+")


def decide(folder: Path, record: str, decision: str, *, reason: str, who: str) -> tuple[Path, str]:
    """Add a decision to the area's decisions.csv.

    Parameters
    ----------
    folder
        The area folder.
    record
        The record's key, as the list of odd records shows it (file, row and a digest of its cells), or file and
        row alone.
    decision
        ``accepted``, ``not accepted`` or ``awaiting``.
    reason, who
        Why, and who decided.

    Returns
    -------
    Path and str
        The file it was added to (earlier decisions stay, and the last one about a record counts), and the record in
        words: species, reference and date.

    Raises
    ------
    GapmapError
        No record has that key, or something is missing.
    """
    source = open_source([str(folder)])
    if source.folder is None:
        raise FileError(
            "Decisions are kept in an area folder", found=str(folder), do="start one with: gapmap new FOLDER"
        )
    records = read_records(source.files, source.settings, folder=source.folder)
    path = source.folder / "decisions.csv"
    key = _full_key(records, as_meant(record))
    write_decision(path, key, decision, reason=reason, who=who, when=datetime.now())
    return path, _in_words(records, key)


def _in_words(records: Records, key: str) -> str:
    found = records.frame(where=f"record_key = {text_to_sql(key)}")
    one = found.iloc[0]
    name = records.species.set_index("species_id")["name"].get(one["species_id"], "")
    return f"{name}, {references(found)[0]}, {date_words(one['date_from'], one['date_to'])}"


def _full_key(records: Records, record: str) -> str:
    """The key with its digest, so that the decision stays with the record when rows are added above it.

    Raises
    ------
    GapmapError
        No record has that key.
    """
    known = records.connection.execute(
        r"select record_key from records where record_key = ? or regexp_replace(record_key, ':[0-9a-f]+$', '') = ?",
        [record, record if _FILE_AND_ROW.fullmatch(record) else ""],
    ).fetchall()
    if known:
        return str(known[0][0])
    gone = records.connection.execute(
        """select sentence from problems where file || ':' || "row" = ?
           and (severity = 'not a record' or contains(sentence, ' Kept: ')) limit 1""",
        [record],
    ).fetchone()
    if gone:
        do = "write the row that is kept, or mend this one"
        raise GapmapError(f"This row is no record of its own: {gone[0].rstrip('.')}", found=record, do=do)
    raise GapmapError(
        "There is no record with this key", found=record, do="copy it from odd-records.csv, or write file:row"
    )
