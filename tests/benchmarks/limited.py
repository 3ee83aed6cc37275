"""Records to tally and effort in a bounded address space: does the work spill to the disk rather than die?

The bound (``ulimit -v``, set before the program starts) counts everything that is mapped. Allocators like to map two
gigabytes in reserve, which are no memory; they are told not to (RESERVE_NOTHING).

    python tests/benchmarks/limited.py 10000000 6          ten million look-alike rows within 6 GB
    python tests/benchmarks/limited.py records.parquet 6   a file of them that is there already
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from lookalike import write_lookalike

HERE = Path(__file__).resolve().parent
GB = 1_000_000_000
RESERVE_NOTHING = {"MALLOC_ARENA_MAX": "1", "ARROW_DEFAULT_MEMORY_POOL": "system"}


def main() -> int:
    """Run once and print how it ended; 0 when it came to its end."""
    what, bound = sys.argv[1], float(sys.argv[2])
    with tempfile.TemporaryDirectory(prefix="gapmap-limited-") as folder:
        path = Path(what)
        if what.isdigit():
            path = Path(folder) / "records.parquet"
            write_lookalike(path, int(what))
        spill = Path(folder) / "temporary"
        spill.mkdir()
        start = time.monotonic()
        process = subprocess.Popen(
            [sys.executable, str(HERE / "measured.py"), "whole_path:gapmap_all", str(path.resolve())], cwd=HERE,
            env={**os.environ, **RESERVE_NOTHING, "PYTHONPATH": str(HERE.parents[1]), "TMPDIR": str(spill)}, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=lambda: set_bound(bound),
        )  # fmt: skip
        most = {"mapped": 0.0, "resident": 0.0, "on disk": 0.0}
        while process.poll() is None:
            most = {name: max(most[name], now) for name, now in (mapped(process.pid) | on_disk(spill)).items()}
            time.sleep(0.5)
        said, complaint = process.communicate()
        seconds = time.monotonic() - start
    peaks = ", ".join(f"{name} {size / GB:.2f} GB" for name, size in most.items())
    print(f"{path.name}, bound {bound} GB: ended with {process.returncode} after {seconds:.0f} s; at most {peaks}")
    print(said or complaint[-2_000:])
    return process.returncode


def set_bound(gigabytes: float) -> None:
    """Bound the address space of this process and of those it starts; 0 leaves it unbounded."""
    if gigabytes:
        resource.setrlimit(resource.RLIMIT_AS, (int(gigabytes * GB), int(gigabytes * GB)))


def mapped(process: int) -> dict[str, float]:
    """Bytes of address space and of memory that a process has held at most so far; nothing once it has ended."""
    try:
        lines = Path(f"/proc/{process}/status").read_text(encoding="utf-8").splitlines()
    except OSError:
        lines = []
    found = {line.split(":")[0]: int(line.split()[1]) * 1024.0 for line in lines if line.startswith(("VmPeak", "VmHWM"))}
    return {"mapped": found.get("VmPeak", 0.0), "resident": found.get("VmHWM", 0.0)}


def on_disk(folder: Path) -> dict[str, float]:
    """Bytes of all files under a folder in which files come and go."""
    total = 0.0
    for path in folder.rglob("*"):
        try:
            total += path.stat().st_size
        except OSError:
            continue
    return {"on disk": total}


if __name__ == "__main__":
    sys.exit(main())
