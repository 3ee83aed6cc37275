"""Cleaned files into one table of records: names and people resolved over all of them, one plane, no duplicates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from gapmap.columns import FILES, PEOPLE, RECORDS, SPECIES
from gapmap.grid.systems import UTM_NORTH, System, system_named, system_of
from gapmap.records.database import first_row
from gapmap.records.decisions import apply_decisions, digest_of_record, digest_of_text
from gapmap.records.duplicates import find_duplicates
from gapmap.records.lookups import VERDICT
from gapmap.records.names.checklist import doubts_of_checklist
from gapmap.records.names.resolving import read_checklist, resolve_names
from gapmap.records.one_file import CleanFile
from gapmap.records.people.joining import read_people, texts_to_people
from gapmap.records.places.alone import say_places_alone
from gapmap.records.places.judging import say_doubtful_places
from gapmap.records.places.one_plane import bring_into_one_plane
from gapmap.records.places.positions import POSITION
from gapmap.records.places.turned import say_turned_points
from gapmap.records.problems import add_cell_problems, add_problems, alike_of, create_problems, text_to_sql
from gapmap.records.sensitive import sensitive_sizes
from gapmap.records.settling import settle_verdicts
from gapmap.records.table import IS_VISIT, LIST_NUMBER
from gapmap.records.verdicts import NOT_A_RECORD, NOTE
from gapmap.settings import Settings

_KINDS = (
    "day",
    "days",
    "month",
    "months",
    "season",
    "year",
    "years",
    "decade",
    "century",
    "circa",
    "before",
    "after",
    "unknown",
)
#: Text columns of a record, with the meanings of the file's columns they come from.
_TEXTS = {
    "stage": ("stage", "sex_and_stage", "quantity"),
    "sex": ("sex", "sex_and_stage", "quantity"),
    "quantity": ("quantity",),
    "method": ("method",),
    "habitat": ("habitat",),
    "time_of_day": ("time", "date"),
    "place": ("place",),
    "identified_by": ("determiner", "recorder"),
    "evidence": ("evidence",),
    "status": ("status",),
}


#: SQL: a suggestion with a capital and a full stop, so that all read alike.
_AS_SENTENCE = """case when suggestion = '' then '' else upper(suggestion[1]) || suggestion[2:]
    || case when suffix(suggestion, '.') or suffix(suggestion, '?') then '' else '.' end end"""


@dataclass(frozen=True)
class Merged:
    """What is left in memory when the files are one: the relations ``records`` and ``problems`` are in the database."""

    system: System
    files: pd.DataFrame
    species: pd.DataFrame
    people: pd.DataFrame
    remarks: tuple[str, ...]


def merge_files(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], settings: Settings, folder: Path | None
) -> Merged:
    """Make one table of records out of cleaned files.

    Parameters
    ----------
    cleaned
        Cleaned files in their order.
    folder
        The area's folder, for its lookups; None without one.
    """
    system = _choose_system(connection, cleaned, settings)
    species, doubts = _number_species(connection, cleaned, settings, folder)
    people = _number_people(connection, cleaned, folder)
    say_turned_points(connection, cleaned, system, settings)
    remarks = bring_into_one_plane(connection, cleaned, system)
    _create_candidates(connection, cleaned, is_keyed=folder is not None)
    duplicates = find_duplicates(connection, "candidates")
    settle_verdicts(connection, cleaned, duplicates)
    _take_out_repeated(connection, duplicates, _digests(cleaned, folder))
    _create_records(connection, cleaned, folder)
    _say_names_and_people(connection, cleaned)
    say_doubtful_places(connection, cleaned, settings, folder)
    say_places_alone(connection, cleaned, system, settings)
    files = _count_files(connection, cleaned)
    _gather_problems(connection, cleaned)
    return Merged(system, files, species, people, (*_said_aloud(connection), *doubts, *remarks))


def _choose_system(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], settings: Settings) -> System:
    """The grid asked for, or the one that most records are in; among UTM zones the commonest."""
    if settings.area.grid not in ("", "utm"):
        return system_named(settings.area.grid)
    systems = {key for file in cleaned for key in file.systems}
    if len(systems) == 1 and (settings.area.grid == "" or min(systems) > UTM_NORTH):
        return system_of(systems.pop())
    union = " union all ".join(f"select system from {file.rows} where is_kept" for file in cleaned)
    where = f"where system > {UTM_NORTH}" if settings.area.grid == "utm" else ""
    row = first_row(
        connection, f"select system from ({union}) {where} group by system order by count(*) desc, system limit 1"
    )
    return system_of(row[0]) if row else system_of(UTM_NORTH + 31 if settings.area.grid == "utm" else 1)


def _number_species(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], settings: Settings, folder: Path | None
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """The species of all files, and doubts about the checklist and about slips for sensitive names."""
    union = " union all ".join(
        f"select species_text, group_text, vernacular_text from {file.written}" for file in cleaned
    )
    counted = connection.execute(
        f"""select species_text, trim(group_text) as own_group, trim(vernacular_text) as own_vernacular,
                count(*) as rows
            from ({union}) group by all"""
    ).df()
    counted = counted[counted["species_text"].str.strip() != ""]
    rows = counted.groupby("species_text")["rows"].sum()
    checklist_path = folder / "lookups" / "checklist.csv" if folder else None
    checklist = read_checklist(checklist_path) if checklist_path and checklist_path.is_file() else None
    doubts = () if checklist is None else doubts_of_checklist(checklist)
    resolved = resolve_names(rows.index.tolist(), checklist, counts=rows.tolist())
    resolved.insert(0, "species_text", pd.Series(rows.index, dtype="str"))
    named = resolved[(resolved["name"] != "") & (resolved["severity"] != NOT_A_RECORD)]
    species = named.sort_values(["name", "group", "vernacular"], ascending=[True, False, False]).drop_duplicates("name")
    species = _with_words_beside(species, counted.merge(named[["species_text", "name", "rank", "code"]]))
    species = species.reset_index(drop=True)
    species["species_id"] = np.arange(len(species), dtype=np.int64)
    ids = named["name"].map(species.set_index("name")["species_id"])
    resolved["species_id"] = ids.reindex(resolved.index).fillna(-1).astype("int64")
    _store(connection, "names", resolved[["species_text", "species_id", *VERDICT]])
    if species.empty:
        return SPECIES.empty(), doubts
    listed = {} if checklist is None else dict(zip(checklist["name"], checklist["sensitive_m"].tolist(), strict=True))
    species["sensitive_m"], slips = sensitive_sizes(species, settings, listed)
    return SPECIES.check(species[SPECIES.names]), (*doubts, *slips)


def _with_words_beside(species: pd.DataFrame, beside: pd.DataFrame) -> pd.DataFrame:
    """Species with the group and the everyday name that files most often say beside them, where no checklist does.

    The everyday name beside a name below a species is the second choice; one beside an uncertain name, or beside a
    genus and beside a species too, is that of the species.
    """
    is_wide = beside["rank"].isin(["genus", "subgenus", "group", "doubtful"])
    everyday = beside["own_vernacular"].str.casefold()
    is_of_species = is_wide & everyday.isin([*everyday[~is_wide], *species["vernacular"].str.casefold()])
    surely = beside[~is_of_species & (beside["code"] != "uncertain name")]
    said = {"group": _usual(beside, "own_group"), "vernacular": _usual(surely, "own_vernacular")}
    words = {column: usual.reindex(species["name"], fill_value="").to_numpy() for column, usual in said.items()}
    return species.assign(**{column: species[column].where(species[column] != "", words[column]) for column in words})


def _usual(beside: pd.DataFrame, column: str) -> pd.Series:
    """What a column most often says beside the texts of each name, by name; among equals the first in the alphabet."""
    said = beside[beside[column] != ""].assign(is_below=beside["code"] == "below species")
    summed = said.groupby(["name", "is_below", column])["rows"].sum().reset_index()
    ranked = summed.sort_values(["name", "is_below", "rows", column], ascending=[True, True, False, True])
    first: pd.Series = ranked.drop_duplicates("name").set_index("name")[column]
    return first


def _number_people(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], folder: Path | None
) -> pd.DataFrame:
    union = " union all ".join(f"select recorder_text from {file.written}" for file in cleaned)
    written = connection.execute(f"select distinct recorder_text from ({union}) order by recorder_text").df()
    known_path = folder / "lookups" / "people.csv" if folder else None
    known = read_people(known_path) if known_path and known_path.is_file() else None
    resolved = pd.concat([written, texts_to_people(written["recorder_text"].tolist(), known)], axis=1)
    named = resolved[resolved["names"] != ""].drop_duplicates("names").sort_values("names")
    nobody = pd.DataFrame({"names": [""], "size": [0]})
    people = pd.concat([nobody, named[["names", "size"]]], ignore_index=True)
    people.insert(0, "people_id", np.arange(len(people), dtype=np.int64))
    resolved["people_id"] = resolved["names"].map(people.set_index("names")["people_id"]).astype("int64")
    if "determiner" not in resolved:
        resolved["determiner"] = ""
    _store(connection, "people", resolved[["recorder_text", "people_id", "determiner", *VERDICT]])
    return PEOPLE.check(people[PEOPLE.names])


def _store(connection: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame) -> None:
    """Put resolved texts into the database, with a digest of the first column; kinds hold even without rows."""
    numbers = {name for name in frame if frame[name].dtype.kind in "iu"}
    columns = ", ".join(f'"{name}" {"bigint" if name in numbers else "varchar"}' for name in frame)
    connection.execute(f"create or replace temp table {table} ({columns}, digest ubigint)")
    if len(frame):
        connection.register("to_store", frame)
        connection.execute(f"insert into {table} select *, {digest_of_text(frame.columns[0])} from to_store")
        connection.unregister("to_store")


def _said_aloud(connection: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    """What is wrong with each file that gave no records at all, and doubts about a file as a whole."""
    said = connection.execute(
        """select case when starts_with(sentence, file) or code = 'unreadable file' then '' else file || ': ' end
                || sentence || case when value <> '' then ' Found: ' || value || '. ' else ' ' end || suggestion
           from problems
           where "row" = 0 and (code in ('unreadable file', 'no rows') or (severity = 'doubt' and value = ''))"""
    ).fetchall()
    return tuple(str(words).strip() for (words,) in said)


def _stored_texts(cleaned: Sequence[CleanFile]) -> list[str]:
    """Text columns that at least one file has something for."""
    return [name for name, meanings in _TEXTS.items() if any(m in file.headers for file in cleaned for m in meanings)]


def _create_candidates(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], *, is_keyed: bool) -> None:
    """Every row that can be a record, numbered in the order of files and rows; rows that cannot leave gaps."""
    kinds = ", ".join(f"'{kind}'" for kind in _KINDS)
    connection.execute(f"create type date_kinds as enum ({kinds})")
    texts = _stored_texts(cleaned)
    further = "".join(f", {name} varchar" for name in texts) + (", digest ubigint" if is_keyed else "")
    connection.execute(
        f"""create table candidate_rows (candidate_id bigint, file_id integer, source_row bigint,
            species_id integer, system smallint, easting integer, northing integer, precision_m integer,
            is_point boolean, date_from date, date_to date, date_kind date_kinds, people_id integer{further})"""
    )
    moved = " and ".join(f"c.{name} = m.own_{name}" for name in POSITION)
    any_moved = bool(first_row(connection, "select 1 from moved limit 1"))
    place = ", ".join(f"coalesce(m.{name}, c.{name})" if any_moved else f"c.{name}" for name in POSITION)
    said = [
        f"coalesce(nullif(c.{name}, ''), p.determiner)" if name == "identified_by" else f"c.{name}" for name in texts
    ]
    last = 0
    for file_id, file in enumerate(cleaned, start=1):
        first_row_number, last_row_number = first_row(
            connection, f'select coalesce(min("row"), 1), coalesce(max("row"), 0) from {file.written}'
        )
        offset = last - first_row_number + 1
        last = offset + last_row_number
        connection.execute(
            f"""insert into candidate_rows
                select c."row" + {offset}, {file_id}, c."row", n.species_id, {place}, c.date_from, c.date_to,
                    c.date_kind,
                       p.people_id, {", ".join([*said, *(["xor(n.digest, p.digest)"] if is_keyed else [])])}
                from {file.rows} c join names n on c.species_text = n.species_text
                join people p on c.recorder_text = p.recorder_text
                {f"left join moved m on {moved}" if any_moved else ""}
                where c.is_kept and n.species_id >= 0 and p.severity <> '{NOT_A_RECORD}'"""
        )
    empty = "".join(f", '' as {name}" for name in _TEXTS if name not in texts)
    columns = f"* exclude (digest){empty}" if is_keyed else f"*{empty}"
    connection.execute(f"create or replace view candidates as select {columns} from candidate_rows")


def _digests(cleaned: Sequence[CleanFile], folder: Path | None) -> tuple[str, str]:
    """SQL: what a record says as a digest, with its details and without; empty where no area's folder needs them."""
    if folder is None:
        return "''", "''"
    plain, names, texts = digest_of_record("digest"), ("stage", "sex", "quantity"), _stored_texts(cleaned)
    if not any(name in texts for name in names):
        return plain, plain
    return digest_of_record("digest", [name if name in texts else "''" for name in names]), plain


def _take_out_repeated(connection: duckdb.DuckDBPyConnection, duplicates: str, digests: tuple[str, str]) -> None:
    """Take duplicates out of the candidates; the table ``repeated`` says where each was and where its like is kept."""
    connection.execute(
        f"""create or replace temp table repeated as
            with named as (select candidate_id from {duplicates} union select kept_id from {duplicates}),
            rows as (select candidate_id, file_id, source_row, {digests[0]} as content, {digests[1]} as plain
                from candidate_rows semi join named using (candidate_id))
            select d.*, c.file_id, c.source_row, c.content, c.plain, k.file_id as kept_file, k.source_row as kept_row
            from {duplicates} d join rows c using (candidate_id) join rows k on d.kept_id = k.candidate_id"""
    )
    if first_row(connection, "select 1 from repeated limit 1"):
        connection.execute("delete from candidate_rows where candidate_id in (select candidate_id from repeated)")


def _create_records(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], folder: Path | None) -> None:
    """The relation ``records`` of columns.RECORDS, with ``record_key``, the name of a record in decisions."""
    kept = "candidate_rows"
    files = [file.file for file in cleaned]
    decisions = folder / "decisions.csv" if folder else None
    content, plain = _digests(cleaned, folder)
    numbered = f"""(select candidate_id as record_id, file_id, source_row, {content} as content, {plain} as plain
        from {kept}
        union all select kept_id, file_id, source_row, content, plain from repeated)"""
    create_problems(connection, "decision_problems")
    add_problems(connection, "decision_problems", apply_decisions(connection, decisions, files, numbered))
    is_decided = bool(first_row(connection, "select 1 from decided limit 1"))
    texts = _stored_texts(cleaned)
    made = {name: "''" for name in _TEXTS if name not in texts} | {
        "record_id": "candidate_id",
        "date_kind": "date_kind::varchar",
        "list_id": LIST_NUMBER,
        "is_visit": IS_VISIT,
    }
    if is_decided:
        made["status"] = f"coalesce(decision, {made.get('status', 'status')})"
    columns = ", ".join(f'{made.get(name, name)} as "{name}"' for name in RECORDS.names)
    shown = ", ".join(text_to_sql(file) for file in files)
    key = f"[{shown}][file_id] || ':' || source_row" + (f" || ':' || {content}" if folder else "")
    joined = " left join decided d on d.record_id = r.candidate_id" if is_decided else ""
    connection.execute(f"create or replace view records as select {columns}, {key} as record_key from {kept} r{joined}")


def _say_names_and_people(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile]) -> None:
    for file in cleaned:
        for column, meaning, table in (("species_text", "species", "names"), ("recorder_text", "recorder", "people")):
            header = file.headers.get(meaning, file.headers.get("genus", "") if meaning == "species" else "")
            if header:
                add_cell_problems(
                    connection,
                    file.problems,
                    file.written,
                    header,
                    f"raw.{column}",
                    table,
                    f"raw.{column} = looked.{column}",
                )


def _count_files(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile]) -> pd.DataFrame:
    kept = dict(connection.execute("select file_id, count(*) from records group by file_id").fetchall())
    twice = dict(connection.execute("select file_id, count(*) from repeated group by file_id").fetchall())
    counted = []
    for file_id, file in enumerate(cleaned, start=1):
        bad = f"""select distinct "row" from {file.problems} where severity = '{NOT_A_RECORD}' and "row" > 0"""
        read, problem_rows, left_out = first_row(
            connection,
            f"""select (select count(*) from {file.written}), (select count(*) from ({bad})),
                (select count(*) from ({bad}) bad anti join {file.written} using ("row"))""",
        )
        counted.append((file_id, file.file, read + left_out, kept.get(file_id, 0), problem_rows, twice.get(file_id, 0)))
    return FILES.check(pd.DataFrame(counted, columns=FILES.names))


def _gather_problems(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile]) -> None:
    """The relation ``problems`` of columns.PROBLEMS, in the order of files and rows, and ``alike`` beside it."""
    shown = ", ".join(text_to_sql(file.file) for file in cleaned)
    parts = [f"select {file_id} as file_id, * from {file.problems}" for file_id, file in enumerate(cleaned, start=1)]
    parts.append(
        f"""select file_id, source_row, '', '', code, '{NOTE}',
                   sentence || ' Kept: ' || [{shown}][kept_file] || ', row ' || kept_row || '.', '' from repeated"""
    )
    parts.append(f"select {len(cleaned) + 1}, * from decision_problems")
    alike = [f"select {text_to_sql(file.file)} as file, * from {alike_of(file.problems)}" for file in cleaned]
    connection.execute(f"create table alike as {' union all '.join(alike)}")
    shown = f"{shown}, 'decisions.csv'"
    connection.execute(
        f"""create table problems as select [{shown}][file_id] as file,
                * exclude (file_id) replace ({_AS_SENTENCE} as suggestion)
            from ({" union all ".join(parts)}) order by file_id, "row", "column", code"""
    )
