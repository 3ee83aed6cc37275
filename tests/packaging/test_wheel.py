"""The wheel and the source archive hold everything the program reads, and the wheel runs from an empty environment."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

PROJECT = Path(__file__).resolve().parents[2]
BUILD = "from hatchling.build import build_sdist, build_wheel; import sys; build_wheel(sys.argv[1]); build_sdist(sys.argv[1])"


def tracked(folder: str) -> set[str]:
    """Files of a folder that are kept under version control."""
    done = subprocess.run(["git", "ls-files", "-z", folder], cwd=PROJECT, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip("the project is not under version control here")
    return {name for name in done.stdout.split("\0") if name and (PROJECT / name).is_file()}


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("hatchling", reason="hatchling builds the wheel")
    folder = tmp_path_factory.mktemp("built")
    subprocess.run([sys.executable, "-c", BUILD, str(folder)], cwd=PROJECT, check=True, capture_output=True)
    return folder


def test_the_wheel_holds_every_file_of_the_package(built: Path) -> None:
    [wheel] = built.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    missing = tracked("gapmap") - names
    assert not missing
    assert "gapmap/workflow/new_area.toml" in names
    assert any(name.startswith("gapmap/outputs/page/files/") for name in names)


def test_the_source_archive_holds_what_is_needed_to_test_it(built: Path) -> None:
    [archive] = built.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        names = {name.split("/", 1)[1] for name in opened.getnames() if "/" in name}
    wanted = tracked("gapmap") | tracked("demo") | tracked("tests") | {"README.md", "LICENSE", "pyproject.toml"}
    assert not wanted - names


def test_the_wheel_runs_by_itself(built: Path, tmp_path: Path) -> None:
    """Unpacked far from the project; the dependencies are those of this environment."""
    [wheel] = built.glob("*.whl")
    site = tmp_path / "site"
    zipfile.ZipFile(wheel).extractall(site)
    environment = {**os.environ, "PYTHONPATH": str(site)}
    words = [sys.executable, "-c", "import gapmap, sys; print(gapmap.__file__)"]
    where = subprocess.run(words, cwd=tmp_path, env=environment, capture_output=True, text=True, check=True).stdout
    assert where.strip().startswith(str(site))
    area = tmp_path / "area"
    rows = "Species,Grid reference,Date,Recorder\nLigia oceanica,OQ1234,5 July 2001,A. Holt\n"
    for words in (["new", str(area)], ["coverage", str(area)]):
        done = subprocess.run(
            [sys.executable, "-m", "gapmap", *words], cwd=tmp_path, env=environment, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        (area / "records" / "a.csv").write_text(rows, encoding="utf-8")
    page = (area / "maps" / "coverage.html").read_text(encoding="utf-8")
    assert page.rstrip().endswith("</html>")
    assert "OQ13H" in (area / "maps" / "squares.csv").read_text(encoding="utf-8"), "the tetrad of OQ1234"


def test_every_dependency_has_a_lower_bound() -> None:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [line for lines in project["optional-dependencies"].values() for line in lines]
    assert [line for line in project["dependencies"] + extras if ">=" not in line] == []
