"""Cleaned files kept in the area's folder, so that only files that changed are read again.

Each file's entry is named by a digest of its bytes and of the settings that bear on the reading. Deleting the whole
cache loses nothing but time; an entry that is damaged is read anew.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import duckdb

from gapmap.records.companions import companions_beside
from gapmap.records.database import first_row
from gapmap.records.one_file import CLEAN, CleanFile
from gapmap.records.problems import alike_of, create_problems, text_to_sql
from gapmap.settings import Settings

#: Changes when the columns of a cleaned file do, or how they are read.
_FORM = 6
_DAYS_UNUSED = 60
_SECONDS_A_DAY = 86_400
_CHUNK = 1_048_576
#: SQL: a problem that another day may not find: a date still to come, or a year moved back a century for being so.
_HANGS_ON_TODAY = "code = 'future date' or (code = 'two-digit year' and severity = 'doubt')"
#: Hexadecimal digits of the digest that name an entry.
_DIGITS = 40


def cache_key(path: Path, file: str, settings: Settings) -> str:
    """Digest of a file's bytes and of everything else its cleaned table depends on; empty for no readable file.

    Parameters
    ----------
    file
        The file's name as shown to people.

    Examples
    --------
    >>> cache_key(Path("no such file.csv"), "no such file.csv", Settings())
    ''
    """
    digest = hashlib.sha256()  # most processors have instructions of their own for it
    bearing: list[object] = [
        _FORM,
        _version(),
        file,  # sentences name the file, and so do settings
        settings.area.grid,
        settings.area.zones,
        settings.records.model_dump(),
    ]
    try:
        for read in (path, *companions_beside(path)):
            bearing = [*bearing, read.name, read.stat().st_size]
            with read.open("rb") as handle:
                while chunk := handle.read(_CHUNK):
                    digest.update(chunk)
        digest.update(json.dumps(bearing, sort_keys=True, default=str).encode())
    except OSError:
        return ""
    return digest.hexdigest()[:_DIGITS]


def find_cleaned(
    connection: duckdb.DuckDBPyConnection, folder: Path, key: str, file: str, number: int, today: date
) -> list[CleanFile] | None:
    """The cleaned tables of a file as they were kept; None when it has to be read.

    Parameters
    ----------
    file
        The file's name as shown to people.
    number
        Number of its first table in the database.
    """
    entry = folder / f"{key}.json"
    try:
        kept = json.loads(entry.read_text(encoding="utf-8"))
        if kept["read_on"] != today.isoformat() and kept["depends_on_today"]:
            return None
        tables = [_load(connection, folder, key, file, number, place, one) for place, one in enumerate(kept["tables"])]
        os.utime(entry)
    except (OSError, ValueError, KeyError, TypeError, duckdb.Error):
        return None
    return tables


def keep_cleaned(
    connection: duckdb.DuckDBPyConnection, folder: Path, key: str, file: str, cleaned: Sequence[CleanFile], today: date
) -> list[CleanFile]:
    """Keep the cleaned tables of a file; the same tables come back, read from what was kept.

    Where they cannot be kept (the disk is full, the folder is read-only) the tables come back as they are: the cache
    is for speed alone.
    """
    tables = [
        {"name": one.file.removeprefix(file), "systems": one.systems, "headers": dict(one.headers), "empty": one.empty}
        for one in cleaned
    ]
    ahead = any(
        first_row(connection, f"select 1 from {one.problems} where {_HANGS_ON_TODAY} limit 1") for one in cleaned
    )
    entry = {"read_on": today.isoformat(), "depends_on_today": ahead, "tables": tables}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for place, one in enumerate(cleaned):
            columns = ", ".join(f'"{column}"' for column in CLEAN if column not in one.empty)
            _copy(connection, f"select {columns} from {one.rows}", _part(folder, key, place, "rows"))
            _copy(connection, f"select * from {one.problems}", _part(folder, key, place, "problems"))
            _copy(connection, f"select * from {alike_of(one.problems)}", _part(folder, key, place, "alike"))
        draft = folder / f".{key}.{os.getpid()}.json"
        draft.write_text(json.dumps(entry), encoding="utf-8")
        os.replace(draft, folder / f"{key}.json")
        _forget_unused(folder)
    except (OSError, duckdb.IOException):
        _clear_away(folder, key)
        return list(cleaned)
    return [_use_kept(connection, folder, key, place, one) for place, one in enumerate(cleaned)]


def _load(
    connection: duckdb.DuckDBPyConnection,
    folder: Path,
    key: str,
    file: str,
    number: int,
    place: int,
    one: dict[str, Any],
) -> CleanFile:
    problems = f"problems_{number + place}"
    create_problems(connection, problems)
    for table, what in ((problems, "problems"), (alike_of(problems), "alike")):
        connection.execute(
            f"insert into {table} select * from read_parquet({_sql(_part(folder, key, place, what))})"
        )
    rows = f"clean_{number + place}"
    kept = CleanFile(
        f"{file}{one['name']}", rows, rows, tuple(one["systems"]), problems, dict(one["headers"]), tuple(one["empty"])
    )
    return _use_kept(connection, folder, key, place, kept)


def _use_kept(connection: duckdb.DuckDBPyConnection, folder: Path, key: str, place: int, one: CleanFile) -> CleanFile:
    columns = ", ".join(f"""{"''" if column in one.empty else f'"{column}"'} as "{column}\"""" for column in CLEAN)
    path = _sql(_part(folder, key, place, "rows"))
    connection.execute(f"create or replace view {one.rows} as select {columns} from read_parquet({path})")
    return replace(one, written=one.rows)


def _copy(connection: duckdb.DuckDBPyConnection, query: str, path: Path) -> None:
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    connection.execute(f"copy ({query}) to {_sql(draft)} (format parquet)")
    os.replace(draft, path)


def _clear_away(folder: Path, key: str) -> None:
    """Remove what was half kept."""
    for draft in folder.glob(f".{key}.*{os.getpid()}*"):
        with suppress(OSError):
            draft.unlink()


def _part(folder: Path, key: str, place: int, what: str) -> Path:
    return folder / f"{key}.{place}.{what}.parquet"


def _sql(path: Path) -> str:
    return text_to_sql(str(path))


def _forget_unused(folder: Path) -> None:
    oldest = time.time() - _DAYS_UNUSED * _SECONDS_A_DAY
    for entry in folder.glob("*.json"):
        if entry.stat().st_mtime < oldest:
            for part in folder.glob(f"{entry.stem}.*"):
                part.unlink(missing_ok=True)
    for part in folder.iterdir():
        is_entry = (folder / f"{part.name.lstrip('.').partition('.')[0]}.json").exists()
        if not is_entry and part.stat().st_mtime < oldest:  # a killed run left it
            part.unlink(missing_ok=True)


def _version() -> str:
    try:
        return version("gapmap")
    except PackageNotFoundError:
        return ""
