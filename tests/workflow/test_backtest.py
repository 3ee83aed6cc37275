"""What ``gapmap backtest`` asks about is what ``gapmap expected`` tells: species, in squares of the area."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

Run = Callable[..., tuple[int, str, str]]


def test_neither_genera_nor_squares_outside_the_area_are_asked_about(gapmap: Run, area_folder: Path) -> None:
    """A genus is recorded in half of the squares, and one species by a slip of the reference far away."""
    rows = [f"Lithobius sp.,OR47{tetrad},{day:02d}/05/2001,A. Marsh" for tetrad in "ABF" for day in range(1, 9)]
    rows += [f"Oniscus asellus,SU12A,{day:02d}/05/{year},A. Marsh" for day in (1, 2) for year in (2001, 2015)]
    (area_folder / "records" / "more.csv").write_text(
        "Species,Grid ref,Date,Recorder\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    own = ", ".join(f'"OR47{tetrad}"' for tetrad in "ABFGKL")
    settings = area_folder / "area.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[area]", f"[area]\nsquares = [{own}]", 1), encoding="utf-8")
    code, _, err = gapmap("backtest", area_folder, "--until", "2010")
    assert code == 0, err
    with (area_folder / "maps" / "backtest.csv").open(encoding="utf-8-sig", newline="") as file:
        table = list(csv.DictReader(file))
    assert table
    assert {row["square"] for row in table} <= {f"OR47{tetrad}" for tetrad in "ABFGKL"}
    assert not [row["species"] for row in table if row["species"].startswith("Lithobius") and "forf" not in row["species"]]
    code, _, err = gapmap("expected", area_folder, "--species", "Lithobius")
    assert code != 0
    assert "does not count as a species of its own" in err
