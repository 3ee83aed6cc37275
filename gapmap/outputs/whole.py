"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from gapmap.errors import OutputError

#: Letters of a word at most: a file's name takes 255 bytes, of which a letter may take four.
_LONGEST = 60
#: Names that Windows keeps for devices, whatever ending follows.
_DEVICES = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a neighbour of ``path`` to write to, and put it in place when the block ends well.

    Until the block ends, the file at ``path`` is the old one; if the block fails, it stays the old one and
    nothing is left beside it.

    Parameters
    ----------
    path
        Where the finished file is to stand. Missing folders are made.

    Yields
    ------
    Path
        A name beside ``path`` with the same ending, hidden, unique to this process.

    Raises
    ------
    OutputError
        The folder cannot be made or written to, or the disk is full.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     with whole_file(Path(folder) / "note.txt") as draft:
    ...         _ = draft.write_text("all of it")
    ...     (Path(folder) / "note.txt").read_text()
    'all of it'
    """
    draft = path.parent / f".{path.stem}.{os.getpid()}.draft{path.suffix}"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield draft
        with draft.open("rb+") as written:
            os.fsync(written.fileno())
        os.replace(draft, path)
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(
            f"{path.name} could not be written to {path.parent}",
            found=reason,
            do="close programs that have the file open, free some space, or choose another folder with --out",
        ) from error
    finally:
        with suppress(OSError):
            draft.unlink(missing_ok=True)


def clear_drafts(folder: Path) -> None:
    """Remove what killed runs left half written; only while no other run can be writing there.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     _ = (Path(folder) / ".squares.4242.draft.csv").write_text("half of i")
    ...     clear_drafts(Path(folder))
    ...     list(Path(folder).iterdir())
    []
    """
    for draft in folder.rglob(".*.draft*"):
        with suppress(OSError):
            draft.unlink()


def file_word(text: str) -> str:
    """Turn any text into a word that is safe as part of a file name on every system.

    Examples
    --------
    >>> file_word("Oniscus asellus"), file_word("../../odd|name?"), file_word("")
    ('oniscus-asellus', 'odd-name', 'unnamed')
    >>> file_word("Zoë Łuczak"), file_word("Ирина"), file_word("Con")
    ('zoe-łuczak', 'ирина', 'con-')
    """
    letters = unicodedata.normalize("NFKD", text)
    plain = "".join(letter for letter in letters if not unicodedata.combining(letter)).lower()
    word = re.sub(r"[\W_]+", "-", plain).strip("-")[:_LONGEST] or "unnamed"
    return f"{word}-" if word in _DEVICES else word
