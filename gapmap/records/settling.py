"""One verdict for a record that several files have, and a doubt where they contradict each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import duckdb

from gapmap.records.one_file import CleanFile
from gapmap.records.problems import Problem, add_problems
from gapmap.records.verdicts import DOUBT


def settle_verdicts(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], duplicates: str) -> None:
    """Give a record that is kept the verdict on rows that repeat it, and say where two files contradict each other.

    Parameters
    ----------
    connection
        The database, with the tables ``candidate_rows`` and ``contradicted``.
    cleaned
        The files in the order of file_id.
    duplicates
        The table that `find_duplicates` made.
    """
    if not any("status" in file.headers for file in cleaned):
        return
    connection.execute(
        f"""update candidate_rows set status = said.status from
            (select kept_id, min(status) as status from {duplicates} join candidate_rows using (candidate_id)
             where code = 'duplicate' and status in ('accepted', 'awaiting') group by kept_id) said
            where candidate_id = kept_id and candidate_rows.status in ('', 'awaiting')
                and candidate_rows.status <> said.status"""
    )
    _say_contradictions(connection, cleaned)


def _say_contradictions(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile]) -> None:
    contradicted = connection.execute(
        """select own.file_id, own.source_row, other.file_id, other.source_row
           from contradicted join candidate_rows own using (candidate_id)
           join candidate_rows other on other.candidate_id = other_id order by all"""
    ).fetchall()
    said: dict[int, list[Problem]] = defaultdict(list)
    for file, row, other, other_row in contradicted:
        words = (
            f"The record is not accepted here, but it is in {cleaned[other - 1].file}, row {other_row}, and is counted."
        )
        header = cleaned[file - 1].headers.get("status", "")
        said[file].append(Problem(row, header, "", "two verdicts", DOUBT, words, "decide which of the two holds"))
    for file, problems in said.items():
        add_problems(connection, cleaned[file - 1].problems, problems)
