"""Makes the invented island and draws its maps.

python demo/run.py

Makes its own environment, installs gapmap into it, makes the island (demo/area) and draws it into maps/.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from environment import PROJECT, ready_python

AREA = PROJECT / "demo" / "area"
MAPS = PROJECT / "maps"


def main() -> int:
    """Do every step in turn; return the first failure's exit code."""
    python = ready_python("")
    gapmap = python.with_name("gapmap.exe" if python.suffix == ".exe" else "gapmap")
    for step in (
        [python, PROJECT / "demo" / "make.py"],
        [gapmap, "coverage", AREA, "--out", MAPS / "demo"],
        [gapmap, "report", AREA, "--out", MAPS / "demo"],
    ):
        print("$ " + " ".join(_short(word) for word in step), flush=True)
        code = subprocess.run([str(word) for word in step], cwd=PROJECT, check=False).returncode
        if code:
            return code
    print(f"\nThe island is invented. Open {_short(MAPS / 'demo' / 'private' / 'index.html')} in any browser,")
    print(f"and {_short(MAPS / 'demo' / 'public' / 'index.html')}, which is what everybody else would get.")
    return 0


def _short(word: str | Path) -> str:
    path = Path(word)
    return str(path.relative_to(PROJECT)) if path.is_absolute() and path.is_relative_to(PROJECT) else str(word)


if __name__ == "__main__":
    sys.exit(main())
