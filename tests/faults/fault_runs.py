"""A small area folder, and runs of ``gapmap`` on it that can be killed."""

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import subprocess
import sys
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
#: The long mode kills fifty times a command instead of a few.
IS_LONG = os.environ.get("GAPMAP_FAULTS") == "long"


@dataclass(frozen=True)
class Run:
    """How a run ended: exit code (minus the signal when it was killed) and everything it printed."""

    code: int
    text: str

    def complaint(self) -> str:
        """The sentence of a run that refused; never a traceback."""
        assert self.code == 2, f"exit code {self.code}: {self.text}"
        assert "Traceback" not in self.text
        lines = [line for line in self.text.splitlines() if line.startswith("gapmap: ")]
        assert len(lines) == 1, self.text
        return lines[0]


class Runs:
    """Starts runs one after the other."""

    def __init__(self, folder: Path, python_words: tuple[str, ...] = (), environment: Mapping[str, str] | None = None):
        self.output = folder / "output.txt"
        self.server = subprocess.Popen(
            [sys.executable, *python_words, str(Path(__file__).parent / "forks.py")], cwd=PROJECT, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(PROJECT), "PYTHONHASHSEED": "0", **(environment or {})},
        )  # fmt: skip
        assert self._line() == "ready"

    def __call__(
        self, *words: object, kill_after: float | None = None, folder: Path = PROJECT, **environment: str
    ) -> Run:
        """Run to the end, or kill it some seconds after its start."""
        asked = {
            "words": [str(word) for word in words], "output": str(self.output), "environment": environment,
            "folder": str(folder),
        }  # fmt: skip
        assert self.server.stdin
        self.server.stdin.write(json.dumps(asked) + "\n")
        self.server.stdin.flush()
        pid = json.loads(self._line())["pid"]
        timer = threading.Timer(kill_after, _kill, [pid]) if kill_after is not None else None
        if timer:
            timer.start()
        code = json.loads(self._line())["code"]
        if timer:
            timer.cancel()
            timer.join()
        return Run(code, self.output.read_text(encoding="utf-8", errors="replace"))

    def _line(self) -> str:
        assert self.server.stdout
        return self.server.stdout.readline().strip()

    def close(self) -> None:
        """End the server."""
        assert self.server.stdin
        assert self.server.stdout
        self.server.stdin.close()
        self.server.wait(timeout=30)
        self.server.stdout.close()


def _kill(pid: int) -> None:
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def make_area(folder: Path, name: str = "Two tetrads", files: tuple[str, ...] = ("first.csv", "second.csv")) -> Path:
    """An area folder: settings, records of two seasons, no lookups."""
    (folder / "records").mkdir(parents=True)
    title = name.replace("\\", "\\\\").replace('"', '\\"')
    text = f'[area]\nname = "{title}"\nsquare = "2km"\nclasses = "-2009, 2010-"\ngrid = "british"\n'
    (folder / "area.toml").write_text(text, encoding="utf-8")
    for number, file in enumerate(files):
        write_records(folder / "records" / file, seed=number)
    return folder


def write_records(path: Path, seed: int = 0, rows: int = 300) -> None:
    """Invented records in the sea square OQ, a few of them too coarse, undated or unreadable."""
    lot = random.Random(seed)
    species = ["Oniscus asellus", "Porcellio scaber", "Philoscia muscorum", "Trichoniscus pusillus", "Ligia oceanica"]
    lines = ["Species,Grid reference,Date,Recorder"]
    for _ in range(rows):
        reference = lot.choice(["OQ{:02d}{:02d}", "OQ{:03d}{:03d}"]).format(lot.randint(10, 30), lot.randint(10, 30))
        reference = lot.choice([reference] * 20 + ["OQ12", "here"])
        day = f"{lot.randint(1, 28)}/{lot.randint(4, 10)}/{lot.randint(2000, 2020)}"
        day = lot.choice([day] * 15 + [day[-4:], "last summer"])
        lines.append(f"{lot.choice(species)},{reference},{day},{lot.choice(['A. Holt', 'B. Fenn', 'C. Marsh'])}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def digests(folder: Path) -> dict[str, str]:
    """Every file under a folder, with a digest of its bytes."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
