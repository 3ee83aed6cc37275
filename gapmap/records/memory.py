"""How much memory may be taken, and how often Python looks for what is no longer used."""

from __future__ import annotations

import ctypes
import gc
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

#: Where Linux says how much memory a group of processes may take: version 2, then version 1.
_OF_GROUPS = ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes")

#: ``M_ARENA_MAX`` of glibc's malloc.h, and how many arenas there may be.
_ARENA_MAX, _ARENAS = -8, 2

#: New objects after which Python looks for rings of unused ones. Its own number, hundreds, is for programs that make
#: few: while thousands of names are read it looks through everything again and again, and finds nothing.
_NEW_OBJECTS = 100_000


def keep_few_arenas() -> None:
    """Let the C library's allocator keep no more than two arenas, before any thread asks for memory.

    Each thread's arena keeps what the thread has freed; with two, a report of the demo takes a tenth less memory and
    no more time. Nothing happens where the allocator is another one than glibc's.

    Examples
    --------
    >>> keep_few_arenas()
    """
    with suppress(AttributeError, OSError, TypeError):  # no mallopt; no library to be asked (Windows)
        ctypes.CDLL(None).mallopt(_ARENA_MAX, _ARENAS)


@contextmanager
def seldom_collecting() -> Iterator[None]:
    """Let Python look for unused objects seldom for a while: a third of the time of reading names and people.

    Examples
    --------
    >>> before = gc.get_threshold()
    >>> with seldom_collecting():
    ...     inside = gc.get_threshold()
    >>> inside[0] > before[0], gc.get_threshold() == before
    (True, True)
    """
    before = gc.get_threshold()
    gc.set_threshold(max(before[0], _NEW_OBJECTS) if before[0] else 0, *before[1:])
    try:
        yield
    finally:
        gc.set_threshold(*before)


def memory_to_be_had() -> float:
    """Bytes that may be taken at most; infinite where the system does not say.

    That is the least of the machine's memory, what the group of processes may take (a container's share, say), and what
    is left of this process' bounded address space (``ulimit -v``).

    Examples
    --------
    >>> memory_to_be_had() > 0
    True
    """
    return min(_of_machine(), _of_group(), _of_address_space())


def _of_machine() -> float:
    try:
        return float(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
    except (AttributeError, OSError, ValueError):
        return float("inf")


def _of_group() -> float:
    for place in _OF_GROUPS:
        words = _words(Path(place))
        if words and words[0].isdecimal():
            return float(words[0])
    return float("inf")


def _of_address_space() -> float:
    if resource is None:
        return float("inf")
    bound, _ = resource.getrlimit(resource.RLIMIT_AS)
    if bound == resource.RLIM_INFINITY:
        return float("inf")
    pages = _words(Path("/proc/self/statm"))
    taken = int(pages[0]) * resource.getpagesize() if pages else 0
    return max(float(bound - taken), 0.0)


def _words(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="ascii").split()
    except OSError:
        return []
