"""What a curious person could read out of the files of an edition, and whether it holds what it must not.

``leaks(folder, words, squares)`` opens every file with other libraries than those that wrote it (a page through its
packed columns, a workbook with openpyxl, a GeoPackage as a database, a PDF with pdftotext) and names each file in
which one of the words, or a reference finer than it may be, stands.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
import zipfile
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import openpyxl
import pyarrow.parquet as pq

from gapmap.outputs.page.read import page_to_columns


def leaks(folder: Path, words: Iterable[str] = (), references: Iterable[str] = ()) -> list[str]:
    """One line for each word or reference found in a file below the folder; none when nothing leaks.

    Parameters
    ----------
    folder
        The edition.
    words
        Names of people, places and files; found in any case.
    references
        References of squares that must not be there; found written with or without blanks.
    """
    found = []
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        text = readable_text(path)
        plain, upper = text.casefold(), text.upper()
        found += [f"{word!r} stands in {path.name}" for word in words if word.casefold() in plain]
        found += [f"{name} stands in {path.name}" for name in references if re.search(_written(name), upper)]
    return found


def pairs_on_page(path: Path) -> set[tuple[str, str]]:
    """Species and square of everything a page says was found or may be found."""
    _, columns = page_to_columns(path.read_text(encoding="utf-8"))
    names, references = columns["species.name"], columns["reference"]
    squares = np.repeat(np.arange(len(references)), columns["found.count"])
    found = {(names[s], references[i]) for s, i in zip(columns["found.species"], squares, strict=True)}
    if "expected.count" in columns:
        squares = np.repeat(np.arange(len(references)), columns["expected.count"])
        found |= {(names[s], references[i]) for s, i in zip(columns["expected.species"], squares, strict=True)}
    return found


def readable_text(path: Path) -> str:
    """Everything that can be read in a file, packed or not; the file's own name with it."""
    raw = path.read_bytes().decode("utf-8", "replace")
    return "\n".join([path.name, raw, words_inside(path)])


def words_inside(path: Path) -> str:
    """What stands in a file that is packed; nothing for the other kinds."""
    ending = path.suffix.lower()
    reader = {".html": _page, ".xlsx": _workbook, ".gpkg": _database, ".zip": _archive, ".pdf": _pdf,
              ".parquet": _parquet}.get(ending)  # fmt: skip
    return reader(path) if reader else ""


def _written(reference: str) -> str:
    """A reference with or without blanks, but not as a part of a longer word."""
    letters = re.sub(r"\s", "", reference).upper()
    return r"(?<![A-Z0-9])" + r"\s?".join(map(re.escape, letters)) + r"(?![A-Z0-9])"


def _page(path: Path) -> str:
    text = path.read_text(encoding="utf-8")
    if 'id="packed"' not in text:
        return text
    facts, columns = page_to_columns(text)
    lists = {name: values if isinstance(values, list) else values.tolist() for name, values in columns.items()}
    return json.dumps([facts, lists], ensure_ascii=False)


def _workbook(path: Path) -> str:
    book = openpyxl.load_workbook(path)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    notes = [cell.comment.text for cell in cells if cell.comment]
    about = [str(getattr(book.properties, name)) for name in ("creator", "lastModifiedBy", "title", "description")]
    return "\n".join([*(str(cell.value) for cell in cells), *notes, *book.sheetnames, *about])


def _database(path: Path) -> str:
    with sqlite3.connect(path) as base:
        return "\n".join(base.iterdump())


def _archive(path: Path) -> str:
    with zipfile.ZipFile(path) as archive:
        return "\n".join(name + "\n" + archive.read(name).decode("utf-8", "replace") for name in archive.namelist())


def _pdf(path: Path) -> str:
    program = shutil.which("pdftotext")
    if program is None:
        raise RuntimeError("pdftotext is needed to search a PDF")
    return subprocess.run([program, str(path), "-"], capture_output=True, check=True).stdout.decode()


def _parquet(path: Path) -> str:
    table = pq.read_table(path)
    return f"{table.schema.metadata}\n{table.drop_columns(['geometry']).to_pylist()}"
