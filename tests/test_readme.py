"""Every command in README.md, run in a clean copy of the project as somebody new would run it."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parent.parent
#: The command that runs this test.
OURSELVES = "python tests/run.py"


def readme_commands() -> list[str]:
    text = (PROJECT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    in_blocks = [line for block in blocks for line in block.splitlines() if line.strip()]
    in_tables = re.findall(r"\| `(gapmap [^`]+)` \|", text)
    return [command for command in in_blocks + in_tables if command != OURSELVES]


def test_readme_names_the_two_commands_and_every_command() -> None:
    text = (PROJECT / "README.md").read_text(encoding="utf-8")
    assert OURSELVES in text
    assert "python demo/run.py" in text
    listed = subprocess.run([sys.executable, "-m", "gapmap", "--help"], capture_output=True, text=True, check=True)
    names = re.findall(r"^  ([a-z]+)  +\S", listed.stdout, re.MULTILINE)
    assert len(names) >= 10
    for name in names:
        assert f"gapmap {name}" in text, f"README.md does not mention gapmap {name}"


@pytest.mark.timeout(3000)
def test_every_command_runs_in_a_clean_copy(tmp_path: Path) -> None:
    copy = tmp_path / "gapmap"
    kept = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=PROJECT,
        capture_output=True,
        check=True,
    )
    for name in filter(None, kept.stdout.decode().split("\0")):
        if (PROJECT / name).is_file():
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(PROJECT / name, copy / name)
    scripts = copy / ".venv" / ("Scripts" if os.name == "nt" else "bin")
    environment = {**os.environ, "PATH": f"{scripts}{os.pathsep}{os.environ['PATH']}"}
    commands = readme_commands()
    assert commands[0] == "python demo/run.py", "the first command makes the environment"
    for command in commands:
        words = shlex.split(command)
        if words[0] == "python":
            words[0] = sys.executable
        done = subprocess.run(words, cwd=copy, env=environment, capture_output=True, text=True, check=False)
        assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
        assert "Traceback" not in done.stderr
    assert (copy / "maps" / "demo" / "coverage.html").exists() or list((copy / "maps").rglob("*.html"))
