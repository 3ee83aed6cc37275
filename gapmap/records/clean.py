"""From files to records and problems: nothing is dropped in silence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from pathlib import Path

import duckdb

from gapmap.errors import ColumnError, FileError, GapmapError
from gapmap.records.cache import cache_key, find_cleaned, keep_cleaned
from gapmap.records.database import drop_cells, open_database
from gapmap.records.files.headers import header_to_word, looks_like_header
from gapmap.records.files.raw import RawTable
from gapmap.records.files.read import open_file
from gapmap.records.memory import seldom_collecting
from gapmap.records.merge import merge_files
from gapmap.records.one_file import CleanFile, clean_file, file_without_records
from gapmap.records.problems import Problem, check_conservation
from gapmap.records.table import Records
from gapmap.records.verdicts import NOT_A_RECORD, NOTE
from gapmap.settings import Settings

#: Where cleaned files are kept in an area's folder.
CACHE = Path(".gapmap") / "cache"

_MOST_TOLD = 6

Progress = Callable[[float, str], None]


@seldom_collecting()
def read_records(
    files: Sequence[Path], settings: Settings, *, progress: Progress | None = None, folder: Path | None = None
) -> Records:
    """Read files of records into one clean table.

    Parameters
    ----------
    files
        The files, in the order their records are numbered.
    settings
        The area's settings; its grid, zones, columns and year pivot bear on the reading.
    progress
        Called with the fraction done (0 to 1) and a sentence.
    folder
        The area's folder: its lookups and decisions are used, and cleaned files are kept in its cache.

    Returns
    -------
    Records
        For every file, rows = records + problem rows + duplicates.

    Raises
    ------
    FileError
        No file can be read.
    ColumnError
        No file has the columns that are needed.
    """
    say = progress or _say_nothing
    if not files:
        raise FileError("There are no files to read", do="give one or more files of records")
    connection = open_database(files)
    cleaned = _clean_files(connection, files, settings, say, folder)
    say(0.8, "Joining the files")
    merged = merge_files(connection, cleaned, settings, folder)
    drop_cells(connection)
    check_conservation(merged.files)
    say(1.0, f"Read {int(merged.files['records'].sum()):,} records")
    remarks = (*merged.remarks, *_names_without_file(files, settings), *_headers_in_no_file(cleaned, settings))
    return Records(connection, merged.system, merged.files, merged.species, merged.people, remarks)


def shown_names(files: Sequence[Path]) -> list[str]:
    """Names of files as shown to people: the bare name, with as many of its folders as tell it from another file.

    Examples
    --------
    >>> shown_names([Path("a/one.csv"), Path("b/one.csv"), Path("b/two.csv")])
    ['a/one.csv', 'b/one.csv', 'two.csv']
    >>> shown_names([Path("x/a/one.csv"), Path("y/a/one.csv"), Path("b/one.csv")])
    ['x/a/one.csv', 'y/a/one.csv', 'b/one.csv']
    """
    paths = [path.absolute() for path in files]
    shown = {path: path.name for path in paths}
    for length in range(2, max((len(path.parts) for path in paths), default=0) + 1):
        times = Counter(shown.values())
        alike = [path for path, name in shown.items() if times[name] > 1]
        if not alike:
            break
        shown |= {path: "/".join(path.parts[-length:]) for path in alike}
    return [shown[path] for path in paths]


def _clean_files(
    connection: duckdb.DuckDBPyConnection, files: Sequence[Path], settings: Settings, say: Progress, folder: Path | None
) -> list[CleanFile]:
    cleaned: list[CleanFile] = []
    errors: list[GapmapError] = []
    today = date.today()
    cache = folder / CACHE if folder else None
    for position, (path, file) in enumerate(zip(files, shown_names(files), strict=True)):
        say(0.8 * position / len(files), f"Reading {file}")
        number = len(cleaned) + 1
        key = cache_key(path, file, settings) if cache else ""
        kept = find_cleaned(connection, cache, key, file, number, today) if cache and key else None
        if kept is None:
            kept, refused = _clean_tables(connection, path, file, number, settings, today)
            errors.extend(refused)
            if cache and key and not refused:
                kept = keep_cleaned(connection, cache, key, file, kept, today)
        cleaned.extend(kept)
    if len(errors) == len(cleaned):
        raise _nothing_read(errors)
    return cleaned


def _nothing_read(errors: Sequence[GapmapError]) -> GapmapError:
    """One sentence for files of which none could be used."""
    if len(errors) == 1:
        return errors[0]
    return FileError(
        f"None of the {len(errors)} files and sheets can be used",
        found="; ".join(error.what for error in errors[:_MOST_TOLD]) + ("; …" if len(errors) > _MOST_TOLD else ""),
        do=f"start with the first: {errors[0].do}" if errors[0].do else None,
    )


def _clean_tables(
    connection: duckdb.DuckDBPyConnection, path: Path, file: str, number: int, settings: Settings, today: date
) -> tuple[list[CleanFile], list[GapmapError]]:
    """The tables of one file, and what was wrong with those that could not be used."""
    cleaned: list[CleanFile] = []
    errors: list[GapmapError] = []
    for table in _tables(path, file):
        shown = table.file if isinstance(table, RawTable) else file
        try:
            if isinstance(table, FileError):
                raise table
            cleaned.append(clean_file(connection, table, number + len(cleaned), settings, today))
        except (FileError, ColumnError, OSError) as caught:
            error = caught if isinstance(caught, GapmapError) else _stopped(shown, caught)
            is_prose = isinstance(table, RawTable) and shown != file and looks_like_header(table.headers) < 2
            problem = _left_out(shown) if is_prose else _unreadable(error)
            cleaned.append(file_without_records(connection, shown, number + len(cleaned), problem))
            errors.append(error)
    if cleaned and len(errors) < len(cleaned):
        errors = [error for error in errors if not isinstance(error, ColumnError)]
    return cleaned, errors


def _names_without_file(files: Sequence[Path], settings: Settings) -> list[str]:
    """Files that the settings name and that are not there."""
    names = {path.name for path in files}
    return [
        f"The area file names {name} under {setting}, and there is no such file."
        for setting, named in (("month_first", settings.records.month_first), ("fill_down", settings.records.fill_down))
        for name in named
        if not any(name == own or name.startswith(f"{own}: ") or name.endswith(f"/{own}") for own in names)
    ]


def _headers_in_no_file(cleaned: Sequence[CleanFile], settings: Settings) -> list[str]:
    """Headers that were said to have a meaning and that stand in no file."""
    return [
        f"No file has a column headed {header}, which was said to be the {meaning.replace('_', ' ')}."
        for meaning, header in settings.records.columns.items()
        if header.strip()
        and not any(header_to_word(file.headers.get(meaning, "")) == header_to_word(header) for file in cleaned)
    ]


def _stopped(shown: str, error: OSError) -> FileError:
    what = f"{shown} could not be read to its end"
    return FileError(what, found=error.strerror, do="see that it is still there, then give the command again")


def _unreadable(error: GapmapError) -> Problem:
    what, found = error.what.rstrip(".") + ".", str(error.found or "")
    return Problem(0, "", found, "unreadable file", NOT_A_RECORD, what, f"{error.do}." if error.do else "")


def _left_out(shown: str) -> Problem:
    words = f"{shown} has no headers of a table of records, so it was left out."
    return Problem(0, "", "", "no table", NOTE, words, "If it holds records, give each column a header.")


def _tables(path: Path, file: str) -> Iterator[RawTable | FileError]:
    """Tables of a file, and what made the reading stop where it did."""
    try:
        yield from open_file(path, file)
    except FileError as error:
        yield error


def _say_nothing(fraction: float, sentence: str) -> None:
    """Progress that nobody watches."""
