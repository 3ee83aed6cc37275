"""One record held against everything known, which is kept in the area's cache and found again by its digest.

The digest covers every file of the area that bears on the judgement. Deleting the cache loses nothing but time.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from datetime import date
from pathlib import Path

import pandas as pd

from gapmap import checks
from gapmap.checks.keep import FORM, find_known, keep_known
from gapmap.checks.known import Known
from gapmap.checks.told import judge_record
from gapmap.records.names.checklist import read_checklist
from gapmap.workflow.source import Source, open_source

__all__ = ["judge_kept", "keep", "open_source"]

#: Records up to which what is known is kept: about half a kilobyte for each.
MOST_KEPT = 300_000
_CACHE = Path(".gapmap") / "cache"
_CHUNK = 4_194_304


def judge_kept(source: Source, text: str) -> pd.Series | None:
    """Judge one record against what was kept; None when nothing fitting was.

    Raises
    ------
    GapmapError
        The text names no known species or no place.
    """
    path = _place(source)
    found = find_known(path) if path is not None and path.exists() else None
    return None if found is None else judge_record(found[0], text, found[1], checklist_of(source)).iloc[0]


def checklist_of(source: Source) -> pd.DataFrame | None:
    """The area's checklist; None without one."""
    path = source.folder / "lookups" / "checklist.csv" if source.folder else None
    return read_checklist(path) if path is not None and path.is_file() else None


def keep(source: Source, known: Known, people: pd.DataFrame) -> None:
    """Keep what is known for the next time; where it cannot be kept nothing happens."""
    path = _place(source)
    if path is None or len(known.evidence.x) > MOST_KEPT:
        return
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            keep_known(known, people, draft)
            for old in path.parent.glob("known-*"):
                old.unlink(missing_ok=True)
            os.replace(draft, path)
        finally:
            draft.unlink(missing_ok=True)


def _place(source: Source) -> Path | None:
    """Where what is known of these very files is kept; None without an area folder."""
    return None if source.folder is None else source.folder / _CACHE / f"known-{_digest(source, source.folder)}"


def _digest(source: Source, folder: Path) -> str:
    """Digest of everything that bears on the judgement: settings, day, the checks themselves, the area's files."""
    digest = hashlib.blake2b(digest_size=20)
    digest.update(json.dumps([FORM, date.today().isoformat(), source.settings.model_dump_json()]).encode())
    code = sorted(Path(place) for place in checks.__path__)
    for path in [*(file for place in code for file in sorted(place.glob("*.py"))), *_files(source, folder)]:
        digest.update(str(path.name).encode() + b"\0")
        with suppress(OSError), path.open("rb") as handle:
            while chunk := handle.read(_CHUNK):
                digest.update(chunk)
    return digest.hexdigest()


def _files(source: Source, folder: Path) -> list[Path]:
    """The area's files: records, lookups, decisions, rasters; not what was made from them."""
    made = {folder / "maps", folder / ".gapmap"}
    found = sorted(path for path in folder.rglob("*") if path.is_file() and not made.intersection(path.parents))
    return [*found, *(path for path in source.files if path not in found)]
