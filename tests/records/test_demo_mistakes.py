"""The invented island's seeded mistakes, whose answers are known (demo/README.md): all found, nobody accused wrongly."""

from __future__ import annotations

import shutil
import sys
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import read_settings

DEMO = Path(__file__).resolve().parents[2] / "demo"
if str(DEMO) not in sys.path:
    sys.path.insert(0, str(DEMO))

#: What has to be said about each kind of seeded mistake: any of these codes, in its own row.
CODES = {
    "again at 10 km": {"nested duplicate"},
    "also in the society's file": {"duplicate"},
    "count that cannot be": {"count cannot be"},
    "date before 1600": {"date before 1600"},
    "date in the future": {"future date"},
    "date missing": {"no date"},
    "date that cannot be": {"impossible date"},
    "decimal point left out": {"coordinates"},
    "end before start": {"date ends first"},
    "latitude and longitude exchanged": {"outside the grid"},
    "latitude missing": {"coordinates"},
    "letters of a square far away": {"outside the area"},
    "minutes read as decimals": {"outside the area"},
    "month before day": {"month before day"},
    "name abbreviated": {"not on the checklist"},
    "name missing": {"no species"},
    "name misspelt": {"not on the checklist"},
    "name uncertain": {"uncertain name"},
    "name unknown": {"not on the checklist", "not a species"},
    "place and reference disagree": {"place disagrees"},
    "reference in the sea": {"outside the area", "in the sea"},
    "reference missing": {"no place"},
    "reference with an odd number of digits": {"odd-digits"},
    "reference with letters that cannot be": {"letter-i"},
    "row twice": {"duplicate"},
    "sign of the longitude": {"outside the area"},
    "tetrad letter on the wrong length": {"suffix-length"},
    "tetrad letter that cannot be": {"tetrad-letter"},
    "uncertainty that cannot be": {"uncertainty"},
    "year in two figures": {"two-digit year"},
}


@pytest.fixture(scope="module")
def read_area(tmp_path_factory: pytest.TempPathFactory) -> Records:
    """The area's files, read anew."""
    import make  # type: ignore[import-not-found]

    area = tmp_path_factory.mktemp("island") / "area"
    shutil.copytree(make.ready(), area, ignore=shutil.ignore_patterns(".gapmap", "maps"))
    files = sorted((area / "records").iterdir())
    return read_records(files, read_settings(area / "area.toml"), folder=area)


@pytest.fixture(scope="module")
def problems(read_area: Records) -> pd.DataFrame:
    """All problems of the area's files, with the file and sheet as the truth names them."""
    found = read_area.problems()
    parts = found["file"].str.partition(": ")
    return found.assign(file=parts[0], sheet=parts[2].where(parts[0].str.endswith(".xlsx"), ""))


def seeded(name: str) -> pd.DataFrame:
    truth = pd.read_csv(DEMO / "truth" / name, keep_default_na=False)
    return truth.assign(sheet=truth["sheet"].astype(str).where(truth["file"].str.endswith(".xlsx"), ""))


def found_mistakes(problems: pd.DataFrame) -> tuple[int, pd.DataFrame]:
    """How many seeded mistakes are said in their own rows, and those that are not."""
    mistakes = seeded("mistakes.csv")
    said: dict[tuple[str, str, int], set[str]] = defaultdict(set)
    for key, code in zip(rows_of(problems), problems["code"], strict=True):
        said[key].add(code)
    seen = zip(rows_of(mistakes), mistakes["kind"], strict=True)
    is_found = [bool(said[key] & CODES[kind]) for key, kind in seen]
    return sum(is_found), mistakes[[not found for found in is_found]]


def wrongly_accused(problems: pd.DataFrame) -> pd.DataFrame:
    """Accusations of rows that nothing was done to."""
    bad = {key for name in ("mistakes.csv", "odd_records.csv") for key in rows_of(seeded(name))}
    accusing = problems[problems["severity"].isin(["doubt", "not a record"])]
    return accusing[[key not in bad for key in rows_of(accusing)]]


def test_every_seeded_mistake_is_said(problems: pd.DataFrame) -> None:
    mistakes = seeded("mistakes.csv")
    assert set(mistakes["kind"]) == set(CODES)
    found, missed = found_mistakes(problems)
    assert missed.empty, f"{found} of {len(mistakes)} found; missed:\n{missed.to_string()}"


def test_no_good_row_is_accused(problems: pd.DataFrame) -> None:
    wrongly = wrongly_accused(problems)
    assert wrongly.empty, f"{len(wrongly)} accusations hit good rows:\n{wrongly.to_string()}"


def test_both_counts_are_reported(
    read_area: Records, problems: pd.DataFrame, record_property: Callable[[str, object], None]
) -> None:
    """``pytest -rP`` shows the line; the counts also go into a JUnit report."""
    seeds, rows = len(seeded("mistakes.csv")), int(read_area.files["rows"].sum())
    odd = len(seeded("odd_records.csv"))
    found, accused = found_mistakes(problems)[0], len(set(rows_of(wrongly_accused(problems))))
    record_property("seeded mistakes found", f"{found} of {seeds}")
    record_property("good rows accused", f"{accused} of {rows - seeds - odd}")
    print(f"{found} of {seeds} seeded mistakes found; {accused} of {rows - seeds - odd:,} good rows accused")
    assert (found, accused) == (seeds, 0)
    assert seeds >= 100
    assert rows > 100 * seeds


def rows_of(frame: pd.DataFrame) -> list[tuple[str, str, int]]:
    return list(zip(frame["file"], frame["sheet"], frame["row"], strict=True))


@pytest.mark.parametrize("severity", ["doubt", "not a record"])
def test_every_accusation_has_a_sentence_and_a_way_out(problems: pd.DataFrame, severity: str) -> None:
    accusing = problems[problems["severity"] == severity]
    assert (accusing["sentence"].str.endswith(".")).all()
    without = accusing[accusing["suggestion"] == ""]
    assert set(without["code"]) <= {"impossible date"}, without.to_string()
