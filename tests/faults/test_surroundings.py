"""Other languages, clocks, names and paths change nothing; two runs write the same bytes."""

from __future__ import annotations

import json
import os
import shutil
import time
from pathlib import Path

import pytest
from fault_runs import Runs, digests, make_area, write_records

#: Names that quoting, patterns, markup and templates stumble over.
ODD_NAMES = (
    "it's; 100% \"sure\".csv",
    "Åse & Bjørn – nattfly 🦋 {{ 7*7 }}.csv",
    "[draft] *2019?.csv",
    "<b>bold\\moths.csv",
)
#: Results whose bytes repeat; the others carry the moment they were written in themselves.
REPEATED = (".csv", ".html", ".tif")


def repeated(folder: Path) -> dict[str, str]:
    return {name: digest for name, digest in digests(folder).items() if name.endswith(REPEATED)}


def test_two_runs_write_the_same_bytes(area: Path, tmp_path: Path, runs: Runs) -> None:
    """Once with everything read anew and once from the cache, with other hashes of texts and another language."""
    assert runs("coverage", area).code == 0
    first = repeated(area / "maps")
    assert set(first) == {"coverage.html", "squares.csv", "problems.csv", "effort.tif"}
    assert runs("coverage", area).code == 0
    assert repeated(area / "maps") == first, "from the cache"
    for environment in (
        {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONHASHSEED": "1"},
        {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "PYTHONHASHSEED": "2"},
    ):
        folder = tmp_path / environment["LC_ALL"]
        folder.mkdir()
        other = Runs(folder, environment=environment)
        shutil.rmtree(area / ".gapmap")
        done = other("coverage", area, "--out", folder / "maps")
        other.close()
        assert done.code == 0, done.text
        assert repeated(folder / "maps") == first, environment


def test_names_in_turkish_are_not_folded_by_the_language(tmp_path: Path) -> None:
    """In Turkish the small letter of I has no dot; headers and references are read the same all the same."""
    area = make_area(tmp_path / "area", files=())
    text = "SPECIES,GRID REFERENCE,DATE,RECORDER\nISCHNURA ELEGANS,OQ 12 I,5 JULY 2001,İ. Işık\n"
    (area / "records" / "a.csv").write_text(text, encoding="utf-8")
    turkish = Runs(tmp_path, environment={"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8"})
    done = turkish("coverage", area)
    turkish.close()
    assert done.code == 0, done.text
    squares = (area / "maps" / "squares.csv").read_text(encoding="utf-8")
    assert "OQ12I" in squares, squares


def test_odd_names_of_files_and_folders(tmp_path: Path, runs: Runs) -> None:
    name = "Åse's \"moths\" 🦋 [1] {{ 7*7 }}"
    area = make_area(tmp_path / name.replace('"', "''"), name=name, files=ODD_NAMES)
    before = digests(area / "records")
    done = runs("coverage", area)
    assert done.code == 0, done.text
    assert digests(area / "records") == before
    problems = (area / "maps" / "problems.csv").read_text(encoding="utf-8")
    for file in ODD_NAMES:
        assert file.replace('"', '""') in problems, file
    page = (area / "maps" / "coverage.html").read_text(encoding="utf-8")
    assert "<b>bold" not in page
    assert "🦋" in page
    assert runs("coverage", area).code == 0, "a second time, from the cache"


def test_bare_files_with_odd_names(tmp_path: Path, runs: Runs) -> None:
    """One of them begins with a dash, and the folder is given by a pattern."""
    for number, file in enumerate(("-out.csv", *ODD_NAMES)):
        write_records(tmp_path / file, seed=number, rows=30)
    done = runs("coverage", "--out", tmp_path / "a b", "--", *(tmp_path / file for file in ODD_NAMES))
    assert done.code == 0, done.text
    done = runs("coverage", "--out", "maps here", "--", "-out.csv", folder=tmp_path)
    assert done.code == 0, done.text
    assert (tmp_path / "maps here" / "squares.csv").is_file()


@pytest.mark.parametrize("path", ["C:\\Users\\Åse\\records.csv", "\\\\server\\moths\\2019.xlsx", "records\\2019.csv"])
def test_a_path_from_windows_is_not_there(path: str, runs: Runs) -> None:
    said = runs("coverage", path).complaint()
    assert "There is no such file or folder" in said
    assert path in said


def test_rows_from_windows(area: Path, runs: Runs) -> None:
    """Line ends, byte order mark and backslashes of another system change no count."""
    assert runs("coverage", area).code == 0
    wanted = (area / "maps" / "squares.csv").read_bytes()
    for path in (area / "records").iterdir():
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert runs("coverage", area).code == 0
    assert (area / "maps" / "squares.csv").read_bytes() == wanted


def test_a_clock_set_back(area: Path, runs: Runs) -> None:
    """Everything in the folder is from years ahead, as after a clock was put right: results, cache and lock."""
    assert runs("coverage", area).code == 0
    wanted = repeated(area / "maps")
    for entry in (area / ".gapmap" / "cache").glob("*.json"):
        kept = json.loads(entry.read_text(encoding="utf-8"))
        entry.write_text(json.dumps({**kept, "read_on": "2199-01-01"}), encoding="utf-8")
    ahead = time.time() + 5 * 365 * 86_400
    for path in [*area.rglob("*")]:
        os.utime(path, (ahead, ahead))
    done = runs("coverage", area)
    assert done.code == 0, done.text
    assert repeated(area / "maps") == wanted


def test_a_date_ahead_of_the_clock_is_read_again_when_its_day_has_come(area: Path, runs: Runs) -> None:
    """A record of tomorrow is a doubt today; the cache does not keep that doubt for ever."""
    tomorrow = time.strftime("%d/%m/%Y", time.localtime(time.time() + 2 * 86_400))
    path = area / "records" / "second.csv"
    path.write_text(f"Species,Grid reference,Date\nLigia oceanica,OQ1234,{tomorrow}\n", encoding="utf-8")
    assert runs("coverage", area).code == 0
    assert "future date" in (area / "maps" / "problems.csv").read_text(encoding="utf-8")
    entries = [json.loads(one.read_text(encoding="utf-8")) for one in (area / ".gapmap" / "cache").glob("*.json")]
    assert sorted(entry["depends_on_today"] for entry in entries) == [False, True]
