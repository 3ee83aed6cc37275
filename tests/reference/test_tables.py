"""The program against the tables in data/, which were written by hand from the practice of the trade (no source)."""

from __future__ import annotations

import csv
from pathlib import Path

from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import unpack

TABLE = Path(__file__).resolve().parents[2] / "data" / "tetrad_letters.csv"


def test_every_tetrad_letter_stands_where_the_table_says() -> None:
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["letter"] for row in rows] == list("ABCDEFGHIJKLMNPQRSTUVWXYZ"), "no O"
    assert "".join(row["letter"] for row in rows if row["km_north"] == "6") == "DINTY"
    references = ["OR47" + row["letter"] for row in rows]
    squares = references_to_squares(references).squares
    _, side, easting, northing = unpack(squares)
    # OR lies 600 km east and 600 km north of the false origin.
    assert set(side.tolist()) == {2000}
    assert ((easting - 640_000) // 1000).tolist() == [int(row["km_east"]) for row in rows]
    assert ((northing - 670_000) // 1000).tolist() == [int(row["km_north"]) for row in rows]
    assert list(squares_to_references(squares)) == references
