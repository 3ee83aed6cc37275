"""Whole commands as a person gives them, started from nothing."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
ODD_RECORD = "Oniscus asellus, OR467723, 12 May 2026"


def prepare() -> None:
    """Make the demo's area, unless it is there."""
    subprocess.run([sys.executable, "-c", "import make; make.ready()"], check=True, cwd=PROJECT / "demo")


def run(*words: str) -> dict[str, float]:
    """``gapmap`` with these words; raises when it fails."""
    subprocess.run(
        [sys.executable, "-m", "gapmap", *words], check=True, stdout=subprocess.DEVNULL, cwd=PROJECT,
        env={**os.environ, "PYTHONPATH": str(PROJECT)},
    )  # fmt: skip
    return {}


def demo(command: str, *options: str) -> dict[str, float]:
    """A command on the demo's area, results into a folder that goes."""
    area = PROJECT / "demo" / "area"
    words = [ODD_RECORD if option == "RECORD" else option for option in options]
    with tempfile.TemporaryDirectory() as folder:
        return run(command, str(area), *words, *(["--out", folder] if "--record" not in options else []))
