"""What the organiser decided about single records: ``decisions.csv`` in the area's folder, only ever added to.

A record is named by its file, its row and a digest of its species, people, place and date, and of stage, sex and
quantity where it says them (``record_key`` of the relation ``records``), so a decision finds its record again when
rows were added above it, its file was called otherwise or another file repeats it, and is not passed on when one of
them was changed.
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

#: One decision that could be read: its line, what it says of which row of which file, and whether no other file fits.
_DECIDED = ("line", "record", "file_id", "is_sole", "row", "content", "decision")
_KEY = re.compile(r"(?P<file>.+?):(?P<row>\d{1,15})" rf"(?::(?P<content>[0-9a-f]{{{DIGEST_DIGITS}}}))?")
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
    >>> [text_to_status(word) for word in ("Accepted - correct", "not-accepted", "Correct", "Correct?", "?", "")]
    ['accepted', 'not accepted', 'accepted', 'awaiting', 'awaiting', '']
    """
    if text.strip() == "?":
        return "awaiting"
    words = re.sub(r"[\W_]+", " ", text.casefold()).strip()
    alone = (status for status, known in _WORDS.items() if words in known)
    begun = ((status, re.match(rf"(?:{known})\b", words)) for status, known in _BEGINNINGS.items())
    status, beginning = next((found for found in begun if found[1]), ("", None))
    if status == "accepted" and beginning and _TAKEN_BACK.search(words, beginning.end()):
        status = ""
    found = next(alone, status)
    return "awaiting" if found and text.rstrip().endswith("?") else found


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


def digest_of_record(named: str, details: Sequence[str] = ()) -> str:
    """SQL: the digest of a record as text, from the digest of its names and its columns of place and date.

    Columns of details are mixed in where one of them says something: without them the digest is the one that a
    decision had before there were any.

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
    if details:
        said = " || '|' || ".join(details)
        silent = " and ".join(f"{detail} = ''" for detail in details)
        mixed = f"xor({mixed}, case when {silent} then 0 else ({digest_of_text(said)} >> 4)::bigint end)"
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
        Relation with record_id, file_id, source_row, content (its digest) and plain (its digest without details);
        a row that is repeated has the record_id of the one that is kept.

    Returns
    -------
    list of Problem
        Lines of decisions.csv that could not be used. The table ``decided`` (record_id, decision) is made.
    """
    connection.execute("create or replace table decided (record_id bigint, decision varchar)")
    if path is None or not path.is_file():
        return []
    wanted, problems = _read_decisions(path, files)
    if wanted.empty:
        return problems
    connection.register("decisions_read", wanted)
    connection.execute("create or replace temp table decisions as select * from decisions_read")
    connection.unregister("decisions_read")
    _find_decided(connection, rows)
    connection.execute("insert into decided select record_id, arg_max(decision, line) from decisions_used group by 1")
    lost = connection.execute(
        """select distinct line, record from decisions where line not in (select line from decisions_used)
           order by line"""
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
                f"The record {quoted(str(record))} is not among the records: its row was changed or "
                "taken out, or its file was not read.",
                "Look at the record again and decide anew.",
            )
            for line, record in lost
        ),
    ]


def _find_decided(connection: duckdb.DuckDBPyConnection, rows: str) -> None:
    """The table ``decisions_used``: the record of each decision that fits one alone, or else the very row it names.

    A digest with the details comes before one without: that is of a time before the file told them.
    """
    connection.execute(
        f"""create or replace temp table decisions_used as
            with contents as (select content from decisions where content <> ''),
            likely as (select * from {rows} where content in (from contents) or plain in (from contents)
                or source_row in (select "row" from decisions where content = '')),
            fitting as (select d.line, r.record_id, d.decision, d.is_sole and r.source_row = d.row as is_same_row,
                    d.content not in ('', r.content) as is_plain
                from decisions d join likely r on r.file_id = d.file_id
                and (d.content in (r.content, r.plain) or (d.content = '' and r.source_row = d.row))
                qualify not is_plain or bool_and(is_plain) over (partition by d.line)),
            counted as (select *, min(record_id) over this_line = max(record_id) over this_line as is_only
                from fitting window this_line as (partition by line))
            select line, record_id, decision from counted where is_only or (is_same_row and not is_plain)"""
    )


def _read_decisions(path: Path, files: Sequence[str]) -> tuple[pd.DataFrame, list[Problem]]:
    if path.is_file() and not path.stat().st_size:
        return pd.DataFrame(columns=list(_DECIDED)), []
    written = read_own_list(
        path, "the file of decisions", needs=("record", "decision"), do=f"head it {', '.join(DECISION_COLUMNS)}"
    )
    found: list[tuple[object, ...]] = []
    problems: list[Problem] = []
    for number, row in written.dicts():
        if not any(row.values()):
            continue
        record, decision = row["record"], row["decision"]
        key, status = _KEY.fullmatch(record), text_to_status(decision)
        fitting = _files_called(key["file"], files) if key else []
        if key is None:
            words = f"{quoted(record)} is no record, so the line was passed over."
            do = "Copy the record's name as gapmap wrote it."
            problems.append(Problem(number, "record", record, "no record", DOUBT, words, do))
        elif not status:
            words = f"{quoted(decision)} is no decision, so the line was passed over."
            do = f"Write {', '.join(STATUSES)}."
            problems.append(Problem(number, "decision", decision, "no decision", DOUBT, words, do))
        elif len(fitting) > 1 and not key["content"]:
            words = f"{quoted(record)} fits {len(fitting)} files called alike, so the line was passed over."
            do = f"Write which is meant: {' or '.join(files[file_id - 1] for file_id in fitting)}."
            problems.append(Problem(number, "record", record, "no record", DOUBT, words, do))
        else:
            is_sole = len(fitting) == 1
            if not key["content"]:
                fitting = [file_id for file_id in fitting if files[file_id - 1] == key["file"]]
            elif not fitting:  # the file has another name now: what its record said finds it
                fitting = list(range(1, len(files) + 1))
            rest = (is_sole, int(key["row"]), key["content"] or "", status)
            found.extend((number, record, file_id, *rest) for file_id in fitting or [-1])
    return pd.DataFrame(found, columns=list(_DECIDED)), problems


def _files_called(name: str, files: Sequence[str]) -> list[int]:
    """Numbers of the files shown by a name, or else of those whose path had to be lengthened or shortened since."""
    exact = [number for number, file in enumerate(files, start=1) if file == name]
    return exact or [
        number for number, file in enumerate(files, start=1) if _is_end_of(name, file) or _is_end_of(file, name)
    ]


def _is_end_of(name: str, path: str) -> bool:
    """Whether a name is the end of a path of the same file or archive, and not of a file inside another."""
    return path.endswith(f"/{name}") and ": " not in path.removesuffix(f"/{name}")
