"""An area file that cannot be used is one sentence: which line, what was found, what to write instead."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gapmap.errors import SettingsError
from gapmap.settings import read_settings


@pytest.mark.parametrize(
    ("text", "line", "parts"),
    [
        ('[area]\nnam = "x"', 2, ["no setting area.nam"]),
        ("[area]\nsquare = 2", 2, ["area.square", "2", "quotation marks"]),
        ('[area]\n\nsquare = "3km"', 3, ["not a square size", "3km"]),
        ('[area]\nname = "x"\nclasses = "-2000, 1999-2010"', 3, ["overlap", "to 2000 and 1999–2010"]),
        ('[area]\nclasses = "2010-2001"', 2, ["ends before it starts"]),
        ('[area]\ngrid = "dutch"', 2, ["area.grid", "dutch", "write 'british'"]),
        ('[records]\nyear_pivot = "a"', 2, ["whole number"]),
        ('[records]\nmonth_first = "a.csv"', 2, ["list in square brackets"]),
        ("[records.columns]\nspecies = 3", 2, ["records.columns.species", "quotation marks"]),
        ('[records.columns]\nplace = "Site"\nspeceis = "X"', 3, ["no setting records.columns.speceis", "'species', 'vern"]),
        ("[thresholds]\nbegun_visits = 0", 2, ["1 or more"]),
        ("\n[thresholds]\npart_share = 0.8\nwell_share = 0.6", 2, ["part_share must stand below", "0.8", "0.6"]),
        ("[thresholds]\nwell_share = 0.95", 1, ["well_share must stand below full_share", "0.95", "0.9"]),
        ("[thresholds]\nstale_share = 0.8", 1, ["stale_share must stand below well_share"]),
        ("[thresholds]\nbegun_visits = 7", 1, ["begun_visits must stand below enough_visits", "7", "6"]),
        ('[publish]\nrecorder_names = "yes please"', 2, ["true or false"]),
        ('[visits]\nprotected = [{squares = ["OR47"], months = "13"}]', 2, ["no months", "13"]),
        ("area = 3", 1, ["section of its own"]),
        ("[area]\nsquare = 2 km", 2, ["Found: square = 2 km", "straight quotation marks"]),
        ("[area]\nsquare = “2km”", 2, ["Found: square = “2km”", "straight quotation marks"]),
        ('[area]\nname = "A"\nname = "B"', 3, ["was set before", 'Found: name = "B"']),
        ('[area]\nboundary = "C:\\maps\\a.gpkg"', 2, ["write / in place of"]),
        ('[area]\nsquares = ["OR47A",\n"OR47B"\nname = "A"', 4, ["square bracket"]),
    ],
)
def test_each_fault_names_its_line(tmp_path: Path, text: str, line: int, parts: list[str]) -> None:
    path = tmp_path / "area.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingsError) as caught:
        read_settings(path)
    sentence = str(caught.value)
    assert f"area.toml, line {line}: " in sentence
    for part in parts:
        assert part in sentence
    assert "What to do: " in sentence
    for technical in ("Input should", "valid", "type", "parse", "None"):
        assert technical not in sentence


@pytest.mark.parametrize(
    ("option", "value", "part"),
    [
        ("--classes", "1-2", "a year or two years"),
        ("--classes", "2000 2010, 2011-", "a year or two years with a dash between them. Found: 2000 2010"),
        ("--classes", "0000-2000", "a year or two years"),
        ("--classes", ", ".join(map(str, range(1990, 2022))), "more than 31 date classes"),
        ("--square", "3km", "not a square size"),
        ("--grid", "dutch", "british"),
        ("--columns", "speceis=Species", "no such meaning for a column. Found: speceis"),
    ],
)
def test_an_option_that_cannot_be(
    records_file: Path, tmp_path: Path, gapmap: Callable[..., tuple[int, str, str]], option: str, value: str, part: str
) -> None:
    code, _, complained = gapmap("coverage", records_file, option, value, "--out", tmp_path / "out")
    assert code != 0
    assert part in complained
    assert len(complained.strip().splitlines()) == 1
