"""Any file that people send, opened as raw tables of text."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from gapmap.errors import FileError
from gapmap.records.files.archives import check_archive, open_archive
from gapmap.records.files.delimited import open_delimited
from gapmap.records.files.layers import LAYERS, MARKS, open_layers
from gapmap.records.files.parquet import PARQUET_MARK, open_parquet
from gapmap.records.files.raw import RawTable
from gapmap.records.files.workbooks import open_workbook

_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
#: First bytes of files that hold no table gapmap can read, and what they are.
_NO_TABLES = {
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x1f\x8b": "a compressed file",
    b"Rar!": "an archive",
    b"7z\xbc\xaf": "an archive",
    b"BZh": "a compressed file",
    b"\xfd7zXZ": "a compressed file",
    b"MZ": "a program",
    b"{\\rtf": "a letter",
}
#: First folders in packed documents that are no workbooks.
_DOCUMENTS = {"word/": "a letter of a word processor", "ppt/": "slides"}
_INSTEAD = "ask for a CSV file or a workbook"


def open_file(path: Path, file: str, *, is_inside: bool = False) -> Iterator[RawTable]:
    """Open a file of records, whatever it is.

    Parameters
    ----------
    path
        The file.
    file
        Its name as shown to people.
    is_inside
        Whether it lay in an archive: then it may not be one itself.

    Yields
    ------
    RawTable
        One for each sheet, layer or table in it, to be loaded before the next is asked for: what was unpacked or
        copied goes when the last has been yielded.

    Raises
    ------
    FileError
        The file cannot be read, is not what its name says, or is dangerous to open.
    """
    head = _first_bytes(path, file)
    ending = path.suffix.lower()
    if head.startswith(b"PK\x03\x04") and not _is_workbook(path, file):
        if is_inside:
            raise FileError(
                f"{file} is another archive inside the first", do="unpack it and give the tables themselves"
            )
        with TemporaryDirectory(prefix="gapmap-") as folder:
            for inside in open_archive(path, file, Path(folder)):
                if isinstance(inside, RawTable):
                    yield inside
                else:
                    yield from open_file(*inside, is_inside=True)
    elif head.startswith((b"PK\x03\x04", _OLD_WORKBOOK)):
        yield from open_workbook(path, file, is_zip=head.startswith(b"PK"))
    elif head.startswith(PARQUET_MARK):
        yield from open_parquet(path, file)
    elif head.startswith(b"SQLite format 3") or ending in LAYERS:
        yield from open_layers(path, file)
    else:
        with TemporaryDirectory(prefix="gapmap-") as folder:
            yield from open_delimited(path, file, Path(folder))


def _first_bytes(path: Path, file: str) -> bytes:
    if path.is_dir():
        raise FileError(f"{file} is a folder", do="give the files in it")
    try:
        with path.open("rb") as handle:
            head = handle.read(512)
    except FileNotFoundError as error:
        raise FileError(f"{file} cannot be found", do="check its name and folder") from error
    except OSError as error:
        raise FileError(f"{file} cannot be opened", found=error.strerror, do="check that you may read it") from error
    if not head:
        raise FileError(f"{file} is empty", do="ask for the file again")
    what = next((what for start, what in _NO_TABLES.items() if head.startswith(start)), None)
    if head.lstrip()[:100].lower().startswith((b"<!doctype html", b"<html", b"<?xml")) and not _is_layer(head):
        what = "a web page or other marked-up text"
    if b"<!DOCTYPE" in head and _is_layer(head):
        raise FileError(f"{file} is dangerous to read", found="a document type", do="do not open it")
    if what is not None:
        raise FileError(f"{file} is no table", found=what, do=_INSTEAD)
    if (
        path.suffix.lower() in (".xlsx", ".ods", ".xls", ".xlsb")
        and not head.startswith((b"PK", _OLD_WORKBOOK))
        and b"\0" in head
    ):
        raise FileError(f"{file} is damaged or is no workbook", do="ask for the file again")
    return head


def _is_layer(head: bytes) -> bool:
    return any(mark in head.lower() for mark in MARKS)


def _is_workbook(path: Path, file: str) -> bool:
    names = check_archive(path, file)
    document = next((what for part, what in _DOCUMENTS.items() if any(name.startswith(part) for name in names)), None)
    if document is not None:
        raise FileError(f"{file} is no table", found=document, do=_INSTEAD)
    return any(name in names for name in ("xl/workbook.xml", "xl/workbook.bin", "content.xml", "[Content_Types].xml"))
