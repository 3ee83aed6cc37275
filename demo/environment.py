"""Makes the project's own Python environment and installs the project into it. Standard library only."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent


def ready_python(extra: str) -> Path:
    """Return the Python of the project's environment, making the environment when it is missing or out of date.

    Parameters
    ----------
    extra
        Extra requirements of pyproject.toml to install as well (``test``), or an empty text.
    """
    folder = PROJECT / (f".venv-{extra}" if extra else ".venv")
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    stamp = folder / "made-from"
    wanted = hashlib.sha256((PROJECT / "pyproject.toml").read_bytes() + sys.version.encode()).hexdigest()
    if python.exists() and stamp.exists() and stamp.read_text() == wanted:
        return python
    if not (3, 11) <= sys.version_info[:2] <= (3, 13):
        sys.exit(f"gapmap needs Python 3.11, 3.12 or 3.13; this is {sys.version.split()[0]}.")
    print(f"Making the environment {folder.name} and installing gapmap (a few minutes, once) …", flush=True)
    venv.create(folder, with_pip=True, clear=True)
    target = f"{PROJECT}[{extra}]" if extra else str(PROJECT)
    subprocess.run(
        [python, "-m", "pip", "install", "--quiet", "--quiet", "--disable-pip-version-check", "--editable", target],
        check=True,
    )
    stamp.write_text(wanted)
    return python
