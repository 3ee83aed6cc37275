"""What the organiser decided about single records: ``decisions.csv`` in the area's folder, only ever added to.

A record is named by its file, its row and a digest of its species, people, place and date (``record_key`` of the
relation ``records``), so a decision finds its record again when rows were added above it, and is not passed on when
one of the four was changed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import duckdb
import pandas as pd

from gapmap.records.own_lists import read_own_list
from gapmap.records.problems import Problem
from gapmap.records.verdicts import DOUBT, Verdict, quoted, verdicts_to_frame

#: Columns of decisions.csv.
DECISION_COLUMNS = ("record", "decision", "reason", "who", "when")
#: What a record can be.
STATUSES = ("accepted", "not accepted", "awaiting")
#: Hexadecimal digits that stand for what a record says.
DIGEST_DIGITS = 10

#: One decision that could be read: its line, what it says of which row of which file.
_DECIDED = ("line", "record", "file_id", "row", "content", "decision")
_KEY = re.compile(rf"(?P<file>.+?):(?P<row>\d+)(?::(?P<content>[0-9a-f]{{{DIGEST_DIGITS}}}))?")
#: Words that stand for a status alone …
_WORDS = {
    "not accepted": {"no", "n", "false", "r"},
    "awaiting": {"queried"},
    "accepted": {"right", "yes", "y", "v", "true", "ok"},
}
#: … and those it may begin with ("Accepted - correct"), the first that fits.
_BEGINNINGS = {
    "awaiting": (
        r"awaiting|pending|query|to check|plausible|un(?:confirmed|verified|checked|reviewed)"
        r"|unable to (?:verify|confirm)|not (?:yet )?(?:confirmed|verified|checked|reviewed)"
    ),
    "not accepted": r"not (?:accepted|correct|valid)|reject(?:ed)?|incorrect|invalid|wrong",
    "accepted": r"accept(?:ed)?|correct|verified|valid|confirmed",
}
#: What takes back a beginning that accepts ("Verified - incorrect").
_TAKEN_BACK = re.compile(r"\b(?:not|un\w+|in(?:correct|valid)|reject\w*|wrong)\b")


def text_to_status(text: str) -> str:
    """The status that words stand for; empty when they stand for none.

    Examples
    --------
    >>> [text_to_status(word) for word in ("Accepted - correct", "not-accepted", "Correct", "?", "")]
    ['accepted', 'not accepted', 'accepted', 'awaiting', '']
    """
    if text.strip() == "?":
        return "awaiting"
    words = re.sub(r"[\W_]+", " ", text.casefold()).strip()
    alone = (status for status, known in _WORDS.items() if words in known)
    begun = ((status, re.match(rf"(?:{known})\b", words)) for status, known in _BEGINNINGS.items())
    status, beginning = next((found for found in begun if found[1]), ("", None))
    if status == "accepted" and beginning and _TAKEN_BACK.search(words, beginning.end()):
        status = ""
    return next(alone, status)


def texts_to_status(texts: Sequence[str]) -> pd.DataFrame:
    """Statuses of a file's own column, and a doubt about what could not be understood.

    Examples
    --------
    >>> texts_to_status(["OK", "blue"])["value"].tolist()
    ['accepted', '']
    """
    values = [text_to_status(text) for text in texts]
    unknown = [bool(text.strip()) and not value for text, value in zip(texts, values, strict=True)]
    verdicts = [
        Verdict(
            "status",
            DOUBT,
            f"{quoted(text)} is no status gapmap knows, so the record counts as not decided.",
            f"Write {', '.join(STATUSES)}.",
        )
        if odd
        else Verdict()
        for text, odd in zip(texts, unknown, strict=True)
    ]
    return pd.concat([pd.DataFrame({"value": pd.Series(values, dtype="str")}), verdicts_to_frame(verdicts)], axis=1)


def digest_of_text(text: str) -> str:
    """SQL: 64 bits that stand for a text, the same on every computer.

    Examples
    --------
    >>> digest_of_text("species_text")
    'md5_number_lower(species_text)'
    """
    return f"md5_number_lower({text})"


def digest_of_record(named: str) -> str:
    """SQL: the digest of a record as text, from the digest of its names and its columns of place and date.

    The numbers are mixed by xor after multiplication with odd primes; the digest of the names spreads over all bits.
    """
    days = [f"coalesce({day} - date '1500-01-01', 0)::bigint" for day in ("date_from", "date_to")]
    mixed = f"({named} >> 4)::bigint"
    for number, prime in (
        (f"{name}::bigint", prime)
        for name, prime in (
            ("easting", 73_856_093),
            ("northing", 19_349_663),
            ("precision_m", 83_492_791),
            ("system", 1_000_003),
        )
    ):
        mixed = f"xor({mixed}, ({number} + 20000000) * {prime})"
    for number, prime in zip(days, (15_485_863, 32_452_843), strict=True):
        mixed = f"xor({mixed}, {number} * {prime})"
    return f"printf('%0{DIGEST_DIGITS}x', {mixed} & {16**DIGEST_DIGITS - 1})"


def apply_decisions(
    connection: duckdb.DuckDBPyConnection, path: Path | None, files: Sequence[str], rows: str
) -> list[Problem]:
    """Find the records that were decided about.

    Parameters
    ----------
    path
        decisions.csv; None, or a file that is not there, stands for no decisions.
    files
        Names of the files in the order of file_id.
    rows
        Relation with record_id, file_id, source_row and content.

    Returns
    -------
    list of Problem
        Lines of decisions.csv that could not be used. The table ``decided`` (record_id, decision) is made.
    """
    connection.execute("create or replace table decided (record_id bigint, decision varchar)")
    if path is None or not path.is_file():
        return []
    wanted, problems = _read_decisions(path, {file: number for number, file in enumerate(files, start=1)})
    if wanted.empty:
        return problems
    connection.register("decisions_read", wanted)
    connection.execute("create or replace temp table decisions as select * from decisions_read")
    connection.unregister("decisions_read")
    connection.execute(
        f"""create or replace temp table decision_places as
            select d.line, r.record_id, r.source_row = d.row as is_same_row, d.decision
            from decisions d join {rows} r on r.file_id = d.file_id
            and ((d.content = '' and r.source_row = d.row) or (d.content <> '' and r.content = d.content))"""
    )
    connection.execute(
        """insert into decided select record_id, arg_max(decision, line) from (
             select *, count(*) over (partition by line) as alike,
                    bool_or(is_same_row) over (partition by line) as is_there
             from decision_places
           ) where is_same_row or (alike = 1 and not is_there) group by record_id"""
    )
    lost = connection.execute(
        """select line, record from decisions where line not in (select line from decision_places p
           join decided d on p.record_id = d.record_id) order by line"""
    ).fetchall()
    return [
        *problems,
        *(
            Problem(
                int(line),
                "record",
                str(record),
                "decision without a record",
                DOUBT,
                f"The record {quoted(str(record))} is not among the records: its row was changed or taken out.",
                "Look at the record again and decide anew.",
            )
            for line, record in lost
        ),
    ]


def _read_decisions(path: Path, file_ids: dict[str, int]) -> tuple[pd.DataFrame, list[Problem]]:
    if path.is_file() and not path.stat().st_size:
        return pd.DataFrame(columns=list(_DECIDED)), []
    written = read_own_list(
        path, "the file of decisions", needs=("record", "decision"), do=f"head it {', '.join(DECISION_COLUMNS)}"
    )
    found, problems = [], []
    for number, row in written.dicts():
        if not any(row.values()):
            continue
        record, decision = row["record"], row["decision"]
        key, status = _KEY.fullmatch(record), text_to_status(decision)
        if key is None or not status:
            said = ("record", record) if key is None else ("decision", decision)
            problems.append(
                Problem(
                    number,
                    said[0],
                    said[1],
                    f"no {said[0]}",
                    DOUBT,
                    f"{quoted(said[1])} is no {said[0]}, so the line was passed over.",
                    f"Write {', '.join(STATUSES)}." if key else "Copy the record's name as gapmap wrote it.",
                )
            )
        else:
            found.append((number, record, file_ids.get(key["file"], -1), int(key["row"]), key["content"] or "", status))
    return pd.DataFrame(found, columns=list(_DECIDED)), problems
