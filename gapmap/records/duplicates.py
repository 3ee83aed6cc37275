"""Records that say again what another record says: found in the database, so that millions of rows are no matter."""

from __future__ import annotations

import duckdb

from gapmap.records.database import first_row
from gapmap.records.table import IS_VISIT

#: What two rows must share to say the same of one find …
_SAID = (
    "species_id", "system", "easting", "northing", "precision_m", "is_point", "date_from", "date_to", "date_kind",
    "people_id", "stage", "sex", "quantity",
)  # fmt: skip
#: … and to be the same record.
_SAME = (*_SAID, "is_refused")
#: What a coarser and a finer row must share to be the same record, whatever became of it.
_EVENT = ("species_id", "system", "date_from", "date_to", "people_id")
#: SQL: the record was not accepted, so that it neither stands for one that counts nor is counted in its stead.
_IS_REFUSED = "status = 'not accepted'"
#: Rows whose day (or night) and people are known: only those can be told to repeat another row of their own file.
_KNOWN = f"{IS_VISIT} and people_id <> 0"


def find_duplicates(connection: duckdb.DuckDBPyConnection, candidates: str) -> str:
    """Find the rows that repeat another one.

    Two kinds are found. *Exact*: the same species, place, date, people, stage, sex and quantity in another file, as
    often as that file has it, or in the same file when the day and the people are known (two rows with a year and no
    name may well be two finds). *Nested*: the same species, day and people at a coarser square around a finer place,
    where the coarser row says nothing of stage, sex and quantity that the finer one does not; the finer one is kept.
    A row that was not accepted repeats only rows that were not, and two rows of one file that name two places are two
    records. Where one file has what another did not accept, the row that nobody decided about goes with the verdict;
    one that was accepted stays, and the table ``contradicted`` (candidate_id of the row that was not accepted, and
    other_id) has the two.

    Parameters
    ----------
    connection
        The database.
    candidates
        Relation with candidate_id (unique, in the order of files and rows), file_id, species_id, system, easting,
        northing, precision_m (metres), is_point, date_from, date_to, date_kind, people_id, stage, sex, quantity,
        place, status.

    Returns
    -------
    str
        Name of a temporary table with candidate_id, kept_id, code and sentence: a row for every duplicate. A row that
        is kept is never itself a duplicate.

    Examples
    --------
    >>> connection = duckdb.connect()
    >>> _ = connection.execute('''create table seen as select *, '' as stage, '' as sex, '' as quantity,
    ...     '' as place, '' as status from (values
    ...     (1, 1, 7, 1, 300000, 600000, 10000, false, date '2001-05-12', date '2001-05-12', 'day', 3),
    ...     (2, 1, 7, 1, 304200, 601100, 100, false, date '2001-05-12', date '2001-05-12', 'day', 3),
    ...     (3, 2, 7, 1, 304200, 601100, 100, false, date '2001-05-12', date '2001-05-12', 'day', 3))
    ...     t(candidate_id, file_id, species_id, system, easting, northing, precision_m, is_point, date_from, date_to,
    ...       date_kind, people_id)''')
    >>> table = find_duplicates(connection, "seen")
    >>> connection.execute(f"select candidate_id, kept_id, code from {table} order by 1").fetchall()
    [(1, 2, 'nested duplicate'), (3, 2, 'duplicate')]
    """
    connection.execute(
        "create or replace temp table duplicates (candidate_id bigint, kept_id bigint, code varchar, sentence varchar)"
    )
    connection.execute("create or replace temp table contradicted (candidate_id bigint, other_id bigint)")
    if _gather_suspects(connection, candidates):
        _add_exact(connection)
        _add_overruled(connection)
        _add_nested(connection)
    connection.execute("drop table suspects")
    return "duplicates"


def _gather_suspects(connection: duckdb.DuckDBPyConnection, candidates: str) -> bool:
    """The few rows that share species, day and people with another one; everything else is told apart at once."""
    several = first_row(connection, f"select min(file_id) <> max(file_id) from {candidates}")
    wanted = "(date_kind <> 'unknown' or people_id <> 0)" if several and several[0] else _KNOWN
    said = {"is_refused": _IS_REFUSED}
    event = f"hash({', '.join(said.get(name, name) for name in _EVENT)})"
    said["place"] = "lower(trim(place))"
    told = ("candidate_id", "file_id", "place", "status", *_SAME)
    columns = ", ".join(f"{said.get(name, name)} as {name}" for name in told)
    connection.execute(
        f"""create or replace temp table suspects as select {columns} from {candidates} where {wanted} and {event} in
            (select {event} as event from {candidates} where {wanted} group by event having count(*) > 1)"""
    )
    return bool(first_row(connection, "select 1 from suspects limit 1"))


def _add_exact(connection: duckdb.DuckDBPyConnection) -> None:
    same = ", ".join(_SAME)
    connection.execute(
        f"""insert into duplicates
            with content as (select *, hash({same}) as content from suspects),
            twins as (select * from content where content in
                (select content from content group by content having count(*) > 1)),
            numbered as (select *, case when {_KNOWN}
                then greatest(1, dense_rank() over by_place - (min(place) over by_place = '')::bigint)
                else row_number() over (partition by {same}, file_id order by candidate_id) end as which
                from twins window by_place as (partition by {same}, file_id order by place)),
            kept as (select candidate_id, file_id, min(candidate_id) over same_record as kept_id,
                arg_min(file_id, candidate_id) over same_record as kept_file
                from numbered window same_record as (partition by {same}, which))
            select candidate_id, kept_id, 'duplicate', case when file_id = kept_file
                then 'The row repeats another one of the file; it is counted once.'
                else 'The row repeats one of another file; it is counted once.' end
            from kept where candidate_id <> kept_id"""
    )


def _add_overruled(connection: duckdb.DuckDBPyConnection) -> None:
    """Rows that say what another file's row says that was not accepted; there are none where no file has a verdict.

    A find that stands beside the row in that file, as when one of two alike was refused for it, is not overruled.
    """
    if not first_row(connection, "select 1 from suspects where is_refused limit 1"):
        return
    content = f"hash({', '.join(_SAID)})"
    connection.execute(
        f"""create or replace temp table verdicts as
            with refused as (select *, {content} as content from suspects where is_refused and {_KNOWN}),
            others as (select *, {content} as content from suspects
                where not is_refused and {_KNOWN} and {content} in (select content from refused)),
            standing as (select content from others where status = 'accepted'
                union select content from others semi join refused using (content, file_id))
            select other.candidate_id, refused.candidate_id as refused_id, other.status = 'accepted' as is_accepted,
                content in (from standing) as is_contradicted
            from others other join refused using (content)
            where other.file_id <> refused.file_id
                and ('' in (other.place, refused.place) or other.place = refused.place)"""
    )
    connection.execute(
        "insert into contradicted select refused_id, min(candidate_id) from verdicts where is_accepted group by 1"
    )
    connection.execute(
        """insert into duplicates
           select candidate_id, min(coalesce(kept_id, refused_id)), 'duplicate',
               'The row repeats one of another file, where it was not accepted; it does not count.'
           from verdicts left join (select candidate_id as refused_id, kept_id from duplicates) using (refused_id)
           where not is_contradicted and candidate_id not in (select candidate_id from duplicates) group by 1"""
    )
    _follow_kept(connection)


def _add_nested(connection: duckdb.DuckDBPyConnection) -> None:
    same = " and ".join(f"fine.{name} = coarse.{name}" for name in (*_EVENT, "is_refused"))
    silent = " and ".join(f"coarse.{name} in ('', fine.{name})" for name in ("stage", "sex", "quantity"))
    one_place = "(coarse.file_id <> fine.file_id or '' in (coarse.place, fine.place) or coarse.place = fine.place)"
    connection.execute(
        f"""insert into duplicates
            with rows as (select * from suspects anti join duplicates using (candidate_id) where {_KNOWN}),
            sizes as (select distinct precision_m as side from rows where not is_point),
            fine as (select rows.*, side, easting - (easting % side + side) % side as west,
                    northing - (northing % side + side) % side as south
                from rows join sizes on precision_m < side),
            pairs as (select coarse.candidate_id, fine.candidate_id as fine_id, fine.precision_m
                from rows coarse join fine on {same} and coarse.precision_m = fine.side
                    and coarse.easting = fine.west and coarse.northing = fine.south and {silent} and {one_place}
                where not coarse.is_point)
            select candidate_id, arg_min(fine_id, (precision_m, fine_id)), 'nested duplicate',
                'The row repeats one at a finer place, of the same day and people; the finer one is counted.'
            from pairs group by candidate_id"""
    )
    _follow_kept(connection)


def _follow_kept(connection: duckdb.DuckDBPyConnection) -> None:
    """Let duplicates of a row that is now a duplicate itself name the row that is kept."""
    connection.execute(
        """update duplicates set kept_id = nested.kept_id from duplicates nested
           where duplicates.kept_id = nested.candidate_id"""
    )
