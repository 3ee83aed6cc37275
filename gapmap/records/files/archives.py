"""Archives that people send: looked at before anything is unpacked, and unpacked only when they are harmless."""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath
from xml.etree.ElementTree import ParseError

import duckdb
from dwca.descriptors import ArchiveDescriptor, DataFileDescriptor
from dwca.exceptions import InvalidArchive

from gapmap.errors import FileError
from gapmap.records.companions import companions_of
from gapmap.records.files.delimited import delimited_with
from gapmap.records.files.raw import RawTable, is_blank
from gapmap.records.problems import Problem, text_to_sql
from gapmap.records.verdicts import NOTE

#: Nothing larger than this in sum is unpacked.
MOST_UNPACKED = 2_000_000_000
#: Beyond this size, an archive that swells more than MOST_SWELLING times is taken for a bomb.
SUSPICIOUS_SIZE = 100_000_000
MOST_SWELLING = 100
MOST_MEMBERS = 5_000

_ARCHIVES = (".zip", ".7z", ".rar", ".gz", ".bz2", ".xz", ".tar", ".tgz")
_NO_TABLES = (".xml", ".md", ".pdf", ".html", ".png", ".jpg", ".jpeg", ".gif", ".qml", ".sld")
_CHUNK = 1_048_576


def check_archive(path: Path, file: str) -> list[str]:
    """Names of an archive's members, once it is known to be harmless to unpack.

    Raises
    ------
    FileError
        The archive is broken, locked, too large unpacked, or would write outside its folder.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise FileError(f"{file} is damaged or was cut off", do="ask for the file again") from error
    unpacked, packed = sum(m.file_size for m in members), max(sum(m.compress_size for m in members), 1)
    if unpacked > MOST_UNPACKED or (unpacked > SUSPICIOUS_SIZE and unpacked > MOST_SWELLING * packed):
        raise FileError(
            f"{file} would unpack to far more than it should, so it was left packed",
            found=f"{unpacked / 1e6:,.0f} MB from {packed / 1e6:,.1f} MB",
            do="ask for the plain table instead",
        )
    if len(members) > MOST_MEMBERS:
        raise FileError(f"{file} holds too many files", found=f"{len(members):,}", do="ask for the plain table instead")
    for member in members:
        name = member.filename.replace("\\", "/")
        if name.startswith("/") or ".." in PurePosixPath(name).parts or ":" in name or "\0" in name:
            raise FileError(
                f"{file} would write outside its folder, so it was left packed",
                found=member.filename,
                do="do not open it",
            )
        if member.flag_bits & 1:
            raise FileError(f"{file} is locked with a password", do="save it without the password")
    return [member.filename for member in members]


def open_archive(path: Path, file: str, folder: Path) -> list[tuple[Path, str]] | list[RawTable]:
    """Open an archive: the tables of a Darwin Core archive, or else the files in it, unpacked, with their names.

    Parameters
    ----------
    folder
        An empty folder to unpack into; the tables are read from it when they are loaded.

    Raises
    ------
    FileError
        The archive is dangerous to open or holds no table.
    """
    names = check_archive(path, file)
    inner = [name for name in names if not name.endswith("/") and not PurePosixPath(name).name.startswith((".", "__"))]
    nested = next((name for name in inner if name.lower().endswith(_ARCHIVES)), None)
    if nested is not None:
        raise FileError(
            f"{file} holds another archive inside it", found=nested, do="unpack it and give the tables themselves"
        )
    _unpack(path, file, inner, folder)
    if any(PurePosixPath(name).name == "meta.xml" for name in inner):
        root = next(folder / PurePosixPath(name).parent for name in inner if PurePosixPath(name).name == "meta.xml")
        return _open_darwin_core(root, file)
    companions = companions_of(inner)
    tables = [
        (folder / name, f"{file}: {name}")
        for name in inner
        if name not in companions and not name.lower().endswith(_NO_TABLES)
    ]
    if not tables:
        raise FileError(f"{file} holds no table", found=", ".join(inner[:5]) or "nothing", do="ask for the file again")
    return tables


def _unpack(path: Path, file: str, names: Sequence[str], folder: Path) -> None:
    """Unpack members one by one, counting: what an archive says of its own size may be a lie."""
    left = MOST_UNPACKED
    try:
        with zipfile.ZipFile(path) as archive:
            for name in names:
                target = folder / name
                target.parent.mkdir(parents=True, exist_ok=True)
                with archive.open(name) as source, target.open("wb") as sink:
                    while chunk := source.read(_CHUNK):
                        left -= len(chunk)
                        if left < 0:
                            raise FileError(f"{file} unpacks to more than it says", do="do not open it")
                        sink.write(chunk)
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, NotImplementedError, RuntimeError) as error:
        raise FileError(f"{file} is damaged or was cut off", do="ask for the file again") from error


def _open_darwin_core(folder: Path, file: str) -> list[RawTable]:
    try:
        description = (folder / "meta.xml").read_text(encoding="utf-8-sig")
        if "<!DOCTYPE" in description or "<!ENTITY" in description:
            raise FileError(
                f"{file} describes itself in a way that is dangerous to read",
                found="a document type",
                do="do not open it",
            )
        archive = ArchiveDescriptor(description)
    except (InvalidArchive, ParseError, OSError, KeyError, ValueError, AttributeError, TypeError) as error:
        raise FileError(f"{file} is no whole Darwin Core archive", do="ask for the file again") from error
    core, extensions = archive.core, list(archive.extensions)
    occurrences = next((d for d in extensions if _last_word(d.type).lower() == "occurrence"), None)
    main = _open_part(folder, file, core)
    if _last_word(core.type).lower() == "event" and occurrences is not None:
        return [_joined(main, core, _open_part(folder, file, occurrences), occurrences)]
    if not extensions:
        return [main]
    unused = ", ".join(d.file_location for d in extensions)
    told = Problem(
        0,
        "",
        unused,
        "extension",
        NOTE,
        f"The records are in {core.file_location}; {unused} adds to them and was not read.",
    )
    return [replace(main, problems=(*main.problems, told))]


def _open_part(folder: Path, file: str, part: DataFileDescriptor) -> RawTable:
    path = folder / part.file_location.strip()
    if folder.resolve() not in path.resolve().parents or not path.is_file():
        raise FileError(
            f"{file} names a table that is not in it", found=part.file_location, do="ask for the file again"
        )
    headers = _headers(part)
    raw = delimited_with(
        path,
        f"{file}: {path.name}",
        folder,
        delimiter=part.fields_terminated_by,
        quote=part.fields_enclosed_by or "",
        headers=headers,
        header_lines=int(part.lines_to_ignore or 0),
    )
    constants = [
        (_last_word(f["term"]), f["default"]) for f in part.fields if f["index"] is None and f["default"] is not None
    ]
    defaults = {int(f["index"]): f["default"] for f in part.fields if f["index"] is not None and f["default"]}
    return _with_constants(raw, constants, defaults)


def _headers(part: DataFileDescriptor) -> list[str]:
    """Headers by the description; columns it says nothing about are named by their number."""
    named = {int(f["index"]): _last_word(f["term"]) for f in part.fields if f["index"] is not None}
    key = part.id_index if part.represents_corefile else part.coreid_index
    width = max([*named, int(key or 0)]) + 1
    return [named.get(i, "id" if i == key else f"column {i + 1}") for i in range(width)]


def _with_constants(raw: RawTable, constants: Sequence[tuple[str, str]], defaults: Mapping[int, str]) -> RawTable:
    """A table with further columns that hold one value in every row, and with values for empty cells."""
    if not constants and not defaults:
        return raw
    width = len(raw.headers)

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        inner = [i for i in wanted if i < width] or [0]
        problems = raw.load(connection, f"{name}_varying", inner)
        cells = [
            f"coalesce(nullif(trim(c{i}), ''), {text_to_sql(defaults[i])}) as c{i}" if i in defaults else f"c{i}"
            for i in inner
        ]
        fixed = [f"{text_to_sql(value)} as c{width + i}" for i, (_, value) in enumerate(constants)]
        connection.execute(
            f'create or replace view {name} as select "row", {", ".join([*cells, *fixed])} from {name}_varying'
        )
        return problems

    values = tuple(value for _, value in constants)
    padded = tuple(
        (*(cell.strip() or defaults.get(i, "") for i, cell in enumerate((*row, *[""] * (width - len(row))))), *values)
        for row in raw.sample
    )
    return replace(raw, headers=(*raw.headers, *(term for term, _ in constants)), sample=padded, load=load)


def _joined(events: RawTable, core: DataFileDescriptor, finds: RawTable, extension: DataFileDescriptor) -> RawTable:
    """Occurrences with the cells of the event each belongs to, for what the occurrence does not say itself."""
    width = len(finds.headers)
    extra = [i for i, header in enumerate(events.headers) if header not in finds.headers]
    both = {i: events.headers.index(header) for i, header in enumerate(finds.headers) if header in events.headers}
    event_key, find_key = int(core.id_index), int(extension.coreid_index)

    def load(connection: duckdb.DuckDBPyConnection, name: str, wanted: Sequence[int]) -> list[Problem]:
        problems = finds.load(connection, f"{name}_finds", sorted({find_key, *(i for i in wanted if i < width)}))
        chosen = [extra[i - width] if i >= width else both[i] for i in wanted if i >= width or i in both]
        lost = events.load(connection, f"{name}_events", sorted({event_key, *chosen}))
        own = [
            f"case when {is_blank(f'f.c{i}')} then coalesce(e.c{both[i]}, '') else f.c{i} end as c{i}"
            if i in both
            else f"f.c{i} as c{i}"
            for i in wanted
            if i < width
        ]
        theirs = [f"coalesce(e.c{extra[i - width]}, '') as c{i}" for i in wanted if i >= width]
        first = (
            f'(select * from {name}_events qualify row_number() over (partition by c{event_key} order by "row") = 1)'
        )
        connection.execute(
            f"""create or replace view {name} as select f."row", {", ".join([*own, *theirs])}
                from {name}_finds f left join {first} e on f.c{find_key} = e.c{event_key}"""
        )
        return [
            *problems,
            *(
                problem._replace(row=0, sentence=f"Row {problem.row} of the events: {problem.sentence}")
                for problem in lost
            ),
        ]

    by_key = {row[event_key]: row for row in events.sample if len(row) > event_key}
    sample = tuple(
        (*row, *(event[i] if i < len(event) else "" for i in extra))
        for row in finds.sample
        if len(row) > find_key and (event := by_key.get(row[find_key])) is not None
    )
    return replace(finds, headers=(*finds.headers, *(events.headers[i] for i in extra)), sample=sample, load=load)


def _last_word(term: str | None) -> str:
    """The name of a term without the address before it."""
    return re.split(r"[/#:]", term or "")[-1]
