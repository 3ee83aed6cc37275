"""Writing down what was decided about a record: one line more in ``decisions.csv``, never one fewer."""

from __future__ import annotations

import csv
import io
import os
from datetime import datetime
from pathlib import Path

from gapmap.errors import FileError, GapmapError
from gapmap.records.decisions import DECISION_COLUMNS, text_to_status
from gapmap.records.own_lists import harmless


def write_decision(path: Path, record: str, decision: str, *, reason: str, who: str, when: datetime) -> None:
    """Add one decision to the end of the file; earlier ones stay, and the last about a record counts.

    Parameters
    ----------
    path
        ``decisions.csv`` in the area's folder; it is started when it is not there.
    record
        ``record_key`` of the record, as the queue shows it.
    decision
        accepted, not accepted or awaiting.
    reason, who
        Why, and who decided: both are wanted.
    when
        Date and time of the decision.

    Raises
    ------
    GapmapError
        The decision is none of the three, or the reason or the name is missing.
    FileError
        The file cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "decisions.csv"
    ...     when = datetime(2026, 5, 12, 9, 30)
    ...     write_decision(file, "a.csv:2", "accepted", reason="voucher seen", who="B. Holt", when=when)
    ...     print(file.read_text(encoding="utf-8"))
    record,decision,reason,who,when
    a.csv:2,accepted,voucher seen,B. Holt,2026-05-12T09:30:00
    <BLANKLINE>
    """
    status = text_to_status(decision)
    if not status:
        raise GapmapError("This is not a decision", found=decision, do='write accepted, "not accepted" or awaiting')
    for word, text in (("record", record), ("reason", reason), ("name of who decided", who)):
        if not text.strip():
            raise GapmapError(f"A decision needs a {word}", do=f"give the {word} too")
    cells = dict(zip(DECISION_COLUMNS, (record, status, reason, who, when.isoformat(timespec="seconds")), strict=True))
    try:
        _append(path, [harmless(" ".join(cell.split())) for cell in cells.values()])
    except OSError as error:
        raise FileError(
            f"{path.name} cannot be written", found=error.strerror, do="close it elsewhere and try again"
        ) from error


def _append(path: Path, cells: list[str]) -> None:
    """One write at the end of the file, so that two people at once lose nothing."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if not path.exists() or path.stat().st_size == 0:
        writer.writerow(DECISION_COLUMNS)
    elif not _ends_with_newline(path):
        text.write("\n")
    writer.writerow(cells)
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        os.write(handle, text.getvalue().encode("utf-8"))
        os.fsync(handle)
    finally:
        os.close(handle)


def _ends_with_newline(path: Path) -> bool:
    with path.open("rb") as handle:
        handle.seek(-1, os.SEEK_END)
        return handle.read(1) == b"\n"
