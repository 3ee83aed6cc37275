"""How much memory may be taken: what the machine has, within what this process is bounded to."""

from __future__ import annotations

import os
from pathlib import Path

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

#: Where Linux says how much memory a group of processes may take: version 2, then version 1.
_OF_GROUPS = ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes")


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
