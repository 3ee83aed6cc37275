"""What to ask whom first: odd records grouped by recorder, with the evidence, and a courteous draft reply to each.

Private: names, places and doubts about records are for the organiser's desk only.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping

import numpy as np
import pandas as pd

from gapmap.checks.dates import date_words
from gapmap.checks.questions import references
from gapmap.checks.range import WORTH_A_LOOK
from gapmap.grid.squares import place_in
from gapmap.records.table import Records

#: Said above the table and on the page.
PRIVATE = "Private: for the organiser's desk. Names people and places, and none of it is a verdict."
#: Records in one reply, at most: more is no letter any more.
MOST_IN_A_REPLY = 12
#: Reasons and questions for one record in a reply: the strongest; the others stand in the table.
MOST_REASONS, MOST_QUESTIONS = 3, 2
NOBODY = "nobody named"


def queue(findings: pd.DataFrame, records: Records, *, side: int = 2_000, least: float = WORTH_A_LOOK) -> pd.DataFrame:
    """Records to look at, those of one recorder together, recorders with the oddest record first.

    What is to be looked at first (as odd as one in ``look_first`` of the settings, or a likely slip) stands above the
    rest.

    Parameters
    ----------
    findings
        From range.findings.
    records
        The same records. Those decided about already are left out: accepted or not accepted in decisions.csv, or not
        accepted in their own file.
    side
        Side of the map's square in metres.
    least
        Only records at least as odd as one in this many.

    Returns
    -------
    pandas.DataFrame
        ``first, recorders, record_key, species, reference, place, date, one_in, nearest_m, reasons, slip, slips,
        ask_for, where`` and ``record_id, species_id, square`` (packed; -1 when too coarse), for the page's view of
        findings.
    """
    odd = findings[((findings["one_in"] >= least) | findings["first"]) & ~findings["record_id"].isin(_settled(records))]
    chosen = _records_of(records, odd["record_id"].to_numpy(np.int64)).query("status != 'not accepted'")
    table = odd.merge(chosen, on="record_id", how="inner", validate="one_to_one")
    names = dict(zip(records.people["people_id"], records.people["names"], strict=True))
    species = dict(zip(records.species["species_id"], records.species["name"], strict=True))
    files = dict(zip(records.files["file_id"], records.files["file"], strict=True)) if len(records.files) else {}
    table = table.assign(
        recorders=[names.get(key) or NOBODY for key in table["people_id"]],
        species=[species.get(key, "") for key in table["species_id"]],
        reference=references(table, table["in_metres"].to_numpy(bool)) if len(table) else "",
        date=_dates(table),
        where=[
            f"{files.get(file, 'file')}, row {row}"
            for file, row in zip(table["file_id"], table["source_row"], strict=True)
        ],
        square=place_in(
            table["system"], table["easting"], table["northing"], table["precision_m"], table["is_point"], side
        ),
    )
    oddest = table.groupby(["first", "recorders"])["one_in"].transform("max")
    table = table.assign(oddest=oddest).sort_values(
        ["first", "oddest", "recorders", "one_in", "record_id"],
        ascending=[False, False, True, False, True],
        kind="stable",
    )
    return table[
        [
            "first",
            "recorders",
            "record_key",
            "species",
            "reference",
            "place",
            "date",
            "one_in",
            "nearest_m",
            "reasons",
            "slip",
            "slips",
            "ask_for",
            "where",
            "record_id",
            "species_id",
            "square",
        ]
    ].reset_index(drop=True)


def replies(table: pd.DataFrame) -> dict[str, str]:
    """A draft reply for each recorder in the queue, to be read, changed and sent by a person.

    Parameters
    ----------
    table
        From queue.

    Returns
    -------
    dict of str to str
        Recorder (as in the queue) to text. Nothing in it says that anybody erred.

    Examples
    --------
    >>> table = pd.DataFrame({
    ...     "recorders": ["A. Marsh"], "species": ["Oniscus asellus"], "reference": ["OR467723"], "place": [""],
    ...     "date": ["12 May 2026"], "reasons": ["It is the first for its hectad."], "slips": [""],
    ...     "ask_for": ["a photograph"]})
    >>> print(replies(table)["A. Marsh"].splitlines()[0])
    Dear A. Marsh,
    """
    return {str(who): _reply(str(who), own) for who, own in table.groupby("recorders", sort=False)}


def _reply(who: str, own: pd.DataFrame) -> str:
    several = len(own) > 1
    lines = [
        f"Dear {_addressed(who)},",
        "",
        "Thank you for your records. "
        + (
            "Some of them stand out from what we know so far, and they may well be the most interesting ones."
            if several
            else "One of them stands out from what we know so far, and it may well be the most interesting."
        ),
        "Before " + ("they go" if several else "it goes") + " on the map, could you help with the following?",
        "",
    ]
    for number, row in enumerate(own.head(MOST_IN_A_REPLY).to_dict("records"), start=1):
        lines += _item(number, row)
    more = len(own) - MOST_IN_A_REPLY
    if more > 0:
        lines += [f"(There {'is' if more == 1 else 'are'} {more} more, which can wait.)", ""]
    return "\n".join(
        [
            *lines,
            "If it all stands as written, that is just as welcome: a line saying so is enough.",
            "",
            "With many thanks,",
            "",
        ]
    )


def _addressed(who: str) -> str:
    """Recorders as a letter names them.

    Examples
    --------
    >>> _addressed("A. Marsh; B. Holt; C. Fenn")
    'A. Marsh, B. Holt and C. Fenn'
    """
    if who == NOBODY:
        return "recorder"
    *others, last = who.split("; ")
    return f"{', '.join(others)} and {last}" if others else last


def _item(number: int, row: Mapping[Hashable, object]) -> list[str]:
    where = ", ".join(str(part) for part in (row["reference"], row["place"]) if part)
    lines = [f"{number}. {row['species']}, {where}, {row['date']}"]
    lines += [f"   {sentence}" for sentence in str(row["reasons"]).splitlines()[:MOST_REASONS]]
    lines += [f"   {question}" for question in str(row["slips"]).splitlines()[:MOST_QUESTIONS]]
    return [*lines, f"   It would help to have: {row['ask_for']}.", ""]


def _settled(records: Records) -> list[int]:
    """Records that decisions.csv has accepted or not accepted."""
    tables = records.connection.execute(
        "select table_name from duckdb_tables() where table_name = 'decided'"
    ).fetchall()
    if not tables:
        return []
    found = records.connection.execute("select record_id from decided where decision <> 'awaiting'").fetchall()
    return [int(row[0]) for row in found]


def _records_of(records: Records, record_ids: np.ndarray) -> pd.DataFrame:
    columns = (
        "record_id, file_id, source_row, species_id, people_id, system, easting, northing, precision_m, is_point, "
        "date_from, date_to, place, status"
    )
    named = "record_key" in records.connection.sql("select * from records limit 0").columns
    wanted = pd.DataFrame({"record_id": record_ids})
    records.connection.register("wanted_records", wanted)
    try:
        found = records.frame(
            f"{columns}, {'record_key' if named else 'record_id::varchar as record_key'}",
            "record_id in (select record_id from wanted_records)",
        )
    finally:
        records.connection.unregister("wanted_records")
    return found


def _dates(table: pd.DataFrame) -> list[str]:
    return [date_words(first, last) for first, last in zip(table["date_from"], table["date_to"], strict=True)]
