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
from gapmap.records.database import first_row, keeping_order
from gapmap.records.decisions import apply_decisions
from gapmap.records.duplicates import find_duplicates
from gapmap.records.lookups import AT_ONCE
from gapmap.records.names import read_checklist, resolve_names
from gapmap.records.one_file import CleanFile
from gapmap.records.people import read_people, texts_to_people
from gapmap.records.positions import POSITION, bring_over
from gapmap.records.problems import add_cell_problems, add_problems, create_problems, text_to_sql
from gapmap.records.verdicts import NOT_A_RECORD, NOTE
from gapmap.settings import Settings

_KINDS = "day days month months season year years decade century circa before after unknown".split()
#: Text columns of a record, with the meanings of the file's columns they come from.
_TEXTS = {
    "stage": ("stage", "sex_and_stage", "quantity"), "sex": ("sex", "sex_and_stage", "quantity"), "quantity": ("quantity",),
    "method": ("method",), "habitat": ("habitat",), "time_of_day": ("time", "date"), "place": ("place",),
    "identified_by": ("determiner", "recorder"), "evidence": ("evidence",), "status": ("status",),
}


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
    species = _number_species(connection, cleaned, folder)
    people = _number_people(connection, cleaned, folder)
    remarks = _bring_over(connection, cleaned, system)
    _create_candidates(connection, cleaned)
    duplicates = find_duplicates(connection, "candidates")
    _create_records(connection, cleaned, duplicates, folder)
    _say_names_and_people(connection, cleaned)
    files = _count_files(connection, cleaned, duplicates)
    _gather_problems(connection, cleaned, duplicates)
    return Merged(system, files, species, people, remarks)


def _choose_system(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], settings: Settings
) -> System:
    """The grid asked for, or the one that most records are in; among UTM zones the commonest."""
    if settings.area.grid not in ("", "utm"):
        return system_named(settings.area.grid)
    systems = {key for file in cleaned for key in file.systems}
    if len(systems) == 1 and (settings.area.grid == "" or min(systems) > UTM_NORTH):
        return system_of(systems.pop())
    union = " union all ".join(f"select system from {file.rows} where is_kept" for file in cleaned)
    where = f"where system > {UTM_NORTH}" if settings.area.grid == "utm" else ""
    row = first_row(connection, f"select system from ({union}) {where} group by system order by count(*) desc, system limit 1")
    return system_of(row[0]) if row else system_of(UTM_NORTH + 31 if settings.area.grid == "utm" else 1)


def _number_species(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], folder: Path | None
) -> pd.DataFrame:
    union = " union all ".join(f"select species_text, group_text, vernacular_text from {file.written} where species_text <> ''" for file in cleaned)
    written = connection.execute(
        f"""select species_text, coalesce(mode(nullif(group_text, '')), '') as own_group,
                   coalesce(mode(nullif(vernacular_text, '')), '') as own_vernacular
            from ({union}) group by species_text order by species_text"""
    ).df()
    checklist_path = folder / "lookups" / "checklist.csv" if folder else None
    checklist = read_checklist(checklist_path) if checklist_path and checklist_path.is_file() else None
    resolved = pd.concat([written, resolve_names(written["species_text"].tolist(), checklist)], axis=1)
    resolved["group"] = resolved["group"].where(resolved["group"] != "", resolved["own_group"])
    resolved["vernacular"] = resolved["vernacular"].where(resolved["vernacular"] != "", resolved["own_vernacular"])
    named = resolved[(resolved["name"] != "") & (resolved["severity"] != NOT_A_RECORD)]
    species = named.sort_values(["name", "group", "vernacular"], ascending=[True, False, False]).drop_duplicates("name")
    species = species.reset_index(drop=True)
    species["species_id"] = np.arange(len(species), dtype=np.int64)
    ids = named["name"].map(species.set_index("name")["species_id"])
    resolved["species_id"] = ids.reindex(resolved.index).fillna(-1).astype("int64")
    _store(connection, "names", resolved[["species_text", "species_id", "code", "severity", "sentence", "suggestion"]], "species_text")
    return SPECIES.check(species[SPECIES.names]) if len(species) else SPECIES.empty()


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
    kept = ["recorder_text", "people_id", "determiner", "code", "severity", "sentence", "suggestion"]
    _store(connection, "people", resolved[kept], "recorder_text")
    return PEOPLE.check(people[PEOPLE.names])


def _store(connection: duckdb.DuckDBPyConnection, table: str, frame: pd.DataFrame, key: str) -> None:
    """Put a frame of resolved texts into the database; text columns are text even when there are no rows."""
    numbers = {name for name in frame if frame[name].dtype.kind in "iu"}
    columns = ", ".join(f'"{name}" {"bigint" if name in numbers else "varchar"}' for name in frame)
    connection.execute(f"create or replace temp table {table} ({columns})")
    if len(frame):
        connection.register("to_store", frame)
        connection.execute(f"insert into {table} select * from to_store")
        connection.unregister("to_store")


def _bring_over(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], system: System
) -> tuple[str, ...]:
    """Bring positions of other systems into the map's; zones of UTM stay as they are beside each other."""
    is_foreign = f"system <> {system.key}" + (f" and system <= {UTM_NORTH}" if system.key > UTM_NORTH else "")
    keys = ", ".join(POSITION)
    with_foreign = [file for file in cleaned if any(_is_foreign(key, system) for key in file.systems)]
    union = " union all ".join(
        f"select {keys} from {file.rows} where {f'is_kept and {is_foreign}' if file in with_foreign else 'false'}" for file in cleaned
    )
    connection.execute(f"create or replace temp table foreign_places as select {keys}, count(*) as records from ({union}) group by all")
    columns = ", ".join([*(f"{name} {kind}" for name, kind in POSITION.items()), *(f"own_{name} {kind}" for name, kind in POSITION.items())])
    connection.execute(f"create or replace temp table moved ({columns}, records bigint)")
    start, found = 0, True
    while found:
        places = connection.execute(f"select * from foreign_places where rowid >= {start} and rowid < {start + AT_ONCE}").df()
        found, start = len(places) == AT_ONCE, start + AT_ONCE
        if len(places):
            own = places.rename(columns={name: f"own_{name}" for name in POSITION})
            connection.register("brought", pd.concat([bring_over(places[list(POSITION)], system.key), own], axis=1))
            connection.execute("insert into moved select * from brought where system > 0")
            connection.unregister("brought")
    counted = connection.execute(
        "select own_system, sum(records)::bigint from moved group by own_system order by own_system"
    ).fetchall()
    left = connection.execute(
        f"""select f.system, sum(f.records)::bigint from foreign_places f anti join moved m
            on {' and '.join(f'f.{name} = m.own_{name}' for name in POSITION)} group by f.system order by f.system"""
    ).fetchall()
    return (
        *(f"{records:,} records given in the {system_of(key).title} were brought into the {system.title} as points."
          for key, records in counted),
        *(f"{records:,} records in the {system_of(key).title} lie outside the {system.title} and stay in their own grid."
          for key, records in left),
    )


def _is_foreign(key: int, system: System) -> bool:
    return key != system.key and not (key > UTM_NORTH and system.key > UTM_NORTH)


def _stored_texts(cleaned: Sequence[CleanFile]) -> list[str]:
    """Text columns that at least one file has something for."""
    return [name for name, meanings in _TEXTS.items() if any(m in file.headers for file in cleaned for m in meanings)]


def _create_candidates(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile]) -> None:
    """Every row that can be a record, in the order of files and rows; its number less one is the rowid."""
    kinds = ", ".join(f"'{kind}'" for kind in _KINDS)
    connection.execute(f"create type date_kinds as enum ({kinds})")
    texts = _stored_texts(cleaned)
    connection.execute(
        f"""create table candidate_rows (file_id integer, source_row bigint, species_id integer, system smallint,
            easting integer, northing integer, precision_m integer, is_point boolean, date_from date, date_to date,
            date_kind date_kinds, people_id integer{''.join(f', {name} varchar' for name in (*texts, 'content'))})"""
    )
    moved = " and ".join(f"c.{name} = m.own_{name}" for name in POSITION)
    any_moved = bool(first_row(connection, "select 1 from moved limit 1"))
    place = ", ".join(f"coalesce(m.{name}, c.{name})" if any_moved else f"c.{name}" for name in POSITION)
    said = [f"coalesce(nullif(c.{name}, ''), p.determiner)" if name == "identified_by" else f"c.{name}" for name in texts]
    with keeping_order(connection):
        for file_id, file in enumerate(cleaned, start=1):
            connection.execute(
                f"""insert into candidate_rows
                    select {file_id}, c."row", n.species_id, {place}, c.date_from, c.date_to, c.date_kind, p.people_id,
                           {', '.join([*said, 'c.content'])}
                    from {file.rows} c join names n on c.species_text = n.species_text
                    join people p on c.recorder_text = p.recorder_text {f'left join moved m on {moved}' if any_moved else ''}
                    where c.is_kept and n.species_id >= 0 and p.severity <> '{NOT_A_RECORD}'"""
            )
    _sort_if_needed(connection)
    empty = "".join(f", '' as {name}" for name in _TEXTS if name not in texts)
    connection.execute(f"create or replace view candidates as select rowid + 1 as candidate_id, * exclude (content){empty} from candidate_rows")


def _sort_if_needed(connection: duckdb.DuckDBPyConnection) -> None:
    """Sort the candidates by file and row where a join that spilled to disk has mixed them."""
    mixed = first_row(
        connection,
        """select 1 from (select file_id < lag(file_id) over () or (file_id = lag(file_id) over () and
           source_row < lag(source_row) over ()) as is_mixed from candidate_rows) where is_mixed limit 1""",
    )
    if mixed:
        connection.execute("create or replace table candidate_rows as select * from candidate_rows order by file_id, source_row")


def _create_records(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], duplicates: str, folder: Path | None
) -> None:
    """The relation ``records`` of columns.RECORDS, with ``record_key``, the name of a record in decisions."""
    kept = "candidate_rows"
    if first_row(connection, f"select 1 from {duplicates} limit 1"):
        kept = "record_rows"
        connection.execute(
            f"""create table record_rows as select c.* from candidate_rows c
                anti join {duplicates} d on c.rowid + 1 = d.candidate_id order by c.rowid"""
        )
    files = [file.file for file in cleaned]
    decisions = folder / "decisions.csv" if folder else None
    numbered = f"(select rowid + 1 as record_id, file_id, source_row, content from {kept})"
    create_problems(connection, "decision_problems")
    add_problems(connection, "decision_problems", apply_decisions(connection, decisions, files, numbered))
    is_decided = bool(first_row(connection, "select 1 from decided limit 1"))
    texts = _stored_texts(cleaned)
    place_and_people = "system, easting, northing, precision_m, is_point, date_from, date_to, people_id"
    made = {name: "''" for name in _TEXTS if name not in texts} | {
        "record_id": "r.rowid + 1",
        "date_kind": "date_kind::varchar",
        "list_id": f"case when date_to - date_from <= 365 then (hash({place_and_people}) >> 1)::bigint else -1 end",
        "is_visit": "coalesce(date_from = date_to and date_kind = 'day', false)",
    }
    if is_decided:
        made["status"] = f"coalesce(decision, {made.get('status', 'status')})"
    columns = ", ".join(f'{made.get(name, name)} as "{name}"' for name in RECORDS.names)
    shown = ", ".join(text_to_sql(file) for file in files)
    key = f"[{shown}][file_id] || ':' || source_row || case when content = '' then '' else ':' || content end"
    joined = " left join decided d on d.record_id = r.rowid + 1" if is_decided else ""
    connection.execute(f"create or replace view records as select {columns}, {key} as record_key from {kept} r{joined}")


def _say_names_and_people(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile]) -> None:
    for file in cleaned:
        for column, meaning, table in (("species_text", "species", "names"), ("recorder_text", "recorder", "people")):
            header = file.headers.get(meaning, file.headers.get("genus", "") if meaning == "species" else "")
            if header:
                add_cell_problems(
                    connection, file.problems, file.written, header, f"raw.{column}", table, f"raw.{column} = looked.{column}"
                )


def _count_files(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], duplicates: str) -> pd.DataFrame:
    kept = dict(connection.execute("select file_id, count(*) from records group by file_id").fetchall())
    twice = dict(connection.execute(
        f"select file_id, count(*) from candidates join {duplicates} using (candidate_id) group by file_id"
    ).fetchall())
    counted = []
    for file_id, file in enumerate(cleaned, start=1):
        bad = f"""select distinct "row" from {file.problems} where severity = '{NOT_A_RECORD}' and "row" > 0"""
        read, problem_rows, left_out = first_row(
            connection,
            f"""select (select count(*) from {file.written}), (select count(*) from ({bad})),
                (select count(*) from (({bad}) except (select "row" from {file.written})))""",
        )
        counted.append((file_id, file.file, read + left_out, kept.get(file_id, 0), problem_rows, twice.get(file_id, 0)))
    return FILES.check(pd.DataFrame(counted, columns=FILES.names))


def _gather_problems(connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], duplicates: str) -> None:
    """The relation ``problems`` of columns.PROBLEMS, in the order of files and rows."""
    shown = ", ".join(text_to_sql(file.file) for file in cleaned)
    parts = [f"select {file_id} as file_id, * from {file.problems}" for file_id, file in enumerate(cleaned, start=1)]
    parts.append(
        f"""select c.file_id, c.source_row, '', '', d.code, '{NOTE}',
                   d.sentence || ' Kept: ' || [{shown}][k.file_id] || ', row ' || k.source_row || '.', ''
            from {duplicates} d join candidates c using (candidate_id) join candidates k on d.kept_id = k.candidate_id"""
    )
    parts.append(f"select {len(cleaned) + 1}, * from decision_problems")
    shown = f"{shown}, 'decisions.csv'"
    connection.execute(
        f"""create table problems as select [{shown}][file_id] as file, * exclude (file_id)
            from ({' union all '.join(parts)}) order by file_id, "row", "column", code"""
    )
