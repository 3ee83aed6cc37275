"""One run at a time in an area folder: two at once would leave a page from one and a table from the other.

The operating system holds the lock and drops it when the process ends, however it ends, so a lock never outlives
its run. In a folder that cannot be written to, or on a disk without locks, there is none.
"""

from __future__ import annotations

import errno
import os
import sys
import time
import weakref
from datetime import datetime
from pathlib import Path

from gapmap.errors import GapmapError

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

#: The file that is locked, in the area folder; what it says is for people.
LOCK_FILE = Path(".gapmap") / "lock"
#: Seconds to wait for another run to end before giving up.
PATIENCE_S = 3.0

#: On Windows the locked byte cannot be read by others, so it lies far behind the text.
_FAR_BYTE = 1_048_576
_BUSY = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)


class FolderLock:
    """Held while it is alive; see :func:`lock_folder`."""

    def __init__(self, handle: int) -> None:
        self._close = weakref.finalize(self, os.close, handle)

    @property
    def is_held(self) -> bool:
        """Whether it has not been released."""
        return self._close.alive

    def release(self) -> None:
        """Let others in; doing it twice does no harm."""
        self._close()


_held: weakref.WeakValueDictionary[Path, FolderLock] = weakref.WeakValueDictionary()


def lock_folder(folder: Path, patience_s: float = PATIENCE_S) -> FolderLock | None:
    """Keep other runs of gapmap out of an area folder for as long as the answer is kept.

    Parameters
    ----------
    folder
        The area folder.
    patience_s
        Seconds to wait for another run to end.

    Returns
    -------
    FolderLock or None
        The same one for the same folder within a process; None where nothing can be locked.

    Raises
    ------
    GapmapError
        Another run is at work in the folder.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as name:
    ...     lock = lock_folder(Path(name))
    ...     lock is lock_folder(Path(name))
    ...     lock.release()
    True
    """
    path = folder.resolve() / LOCK_FILE
    lock = _held.get(path)
    if lock is not None and lock.is_held:
        return lock
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError:
        return None
    try:
        is_locked = _locked_within(handle, patience_s)
    except OSError:
        os.close(handle)
        return None
    if not is_locked:
        os.close(handle)
        raise GapmapError(
            f"Another run of gapmap is at work in the folder {folder.resolve().name}",
            found=_said_by_holder(path),
            do="wait until it has finished, then give the command again",
        )
    _say_who(handle)
    lock = _held[path] = FolderLock(handle)
    return lock


def _locked_within(handle: int, patience_s: float) -> bool:
    """Whether the lock could be had in time."""
    give_up = time.monotonic() + patience_s
    while not _is_locked(handle):
        if time.monotonic() >= give_up:
            return False
        time.sleep(0.05)
    return True


def _is_locked(handle: int) -> bool:
    try:
        if sys.platform == "win32":
            os.lseek(handle, _FAR_BYTE, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in _BUSY:
            return False
        raise
    return True


def _say_who(handle: int) -> None:
    """Write down who holds the lock; it holds without that too, should the disk be full."""
    text = f"process {os.getpid()}, since {datetime.now():%H:%M on %d %B %Y}\n".encode()
    try:
        os.ftruncate(handle, 0)
        os.lseek(handle, 0, os.SEEK_SET)
        os.write(handle, text)
    except OSError:
        return


def _said_by_holder(path: Path) -> str | None:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip() or None
    except OSError:
        return None
