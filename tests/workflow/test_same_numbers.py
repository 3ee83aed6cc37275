"""The same number is the same in the tables and on the page of both editions of a report.

The records are counted once more here, from the rows as they are written and with plain pandas: a reference is sliced
into its digits (the National Grid's own rule: half of them easting, half northing), a date into its years. What a
square, a list and a visit are is the trade's common practice, as README.md tells it.
"""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest

from gapmap.cli.app import run
from gapmap.outputs.page.read import page_to_columns

SECRET, OPEN = "Armadillidium album", "Oniscus asellus"
CLASSES = ["all", "to 2000", "from 2001"]
NUMBERS = ["species", "records", "visits", "lists", "recorders", "last"]
#: Species, reference, date and recorder; SECRET is published in squares of 10 km.
ROWS = [
    (OPEN, "NT257731", "12/5/1998", "A. Marsh"), ("Porcellio scaber", "NT257731", "12/5/1998", "A. Marsh"),
    (OPEN, "NT252735", "12/5/1998", "A. Marsh"), (OPEN, "NT257731", "13/5/1998", "A. Marsh"),
    ("Glomeris marginata", "NT257731", "13/5/1998", "B. Holt"), (OPEN, "NT2573", "2005", "B. Holt"),
    ("Philoscia muscorum", "NT2573", "2005", "B. Holt"), (OPEN, "NT27", "1/6/2010", "B. Holt"),
    ("Julus scandinavius", "NT2573", "1985-1995", "B. Holt"), ("Glomeris marginata", "NT2773", "4/6/2012", "A. Marsh"),
    (SECRET, "NT2773", "4/6/2012", "A. Marsh"), (SECRET, "NT278738", "5/6/2013", "A. Marsh"),
    (OPEN, "NT297708", "6/6/2014", "C. Vane"), (SECRET, "NT297708", "6/6/2014", "C. Vane"),
    (OPEN, "NT297708", "7/6/2014", "C. Vane"), ("Glomeris marginata", "NT2970", "2014", "C. Vane"),
    ("Glomeris marginata", "NT297708", "8/6/2015", "A. Marsh; C. Vane"),
]  # fmt: skip


@pytest.fixture(scope="module")
def maps(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Both editions, written once for all tests here."""
    area = tmp_path_factory.mktemp("same") / "area"
    (area / "records").mkdir(parents=True)
    (area / "area.toml").write_text(
        f'[area]\nclasses = "-2000, 2001-"\n[publish]\nsensitive = {{ "{SECRET}" = "10km" }}\n', encoding="utf-8"
    )
    lines = [",".join(row) for row in (("species", "reference", "date", "recorder"), *ROWS)]
    (area / "records" / "a.csv").write_text("\n".join(lines), encoding="utf-8")
    assert run(["report", str(area)]) == 0
    return area / "maps"


def told(edition: str) -> pd.DataFrame:
    """The rows with their tetrad (of kilometres, by twos), their years and their list; a place too coarse has none."""
    frame = pd.DataFrame(ROWS, columns=["species", "reference", "date", "recorder"])
    digits = frame["reference"].str[2:]
    half = digits.str.len() // 2
    parts = pd.DataFrame([(text[:n], text[n:]) for text, n in zip(digits, half, strict=True)]).astype(int)
    frame[["easting", "northing"]] = parts.mul(10 ** (5 - half), axis=0) // 2000
    hidden = (frame["species"] == SECRET) & (edition == "public")
    frame["is_placed"] = (half > 1) & ~hidden
    years = frame["date"].str.extract(r"(?:(\d{4})-)?(\d{4})$")
    frame["from"], frame["to"] = years[0].fillna(years[1]).astype(int), years[1].astype(int)
    frame["list"] = (frame["date"] + frame["recorder"]).where(frame["from"] == frame["to"])
    frame["visit"] = frame["list"].where(frame["date"].str.contains("/"))
    return frame


def by_hand(edition: str) -> dict[tuple[int, int, str], list[int]]:
    """NUMBERS and the first year of every square and class with a record."""
    frame, counted = told(edition), {}
    for label, rows in zip(CLASSES, (frame, frame[frame["to"] <= 2000], frame[frame["from"] > 2000]), strict=True):
        for (easting, northing), own in rows[rows["is_placed"]].groupby(["easting", "northing"]):
            unique = own[["species", "visit", "list", "recorder"]].nunique()
            counted[easting, northing, label] = [
                unique["species"], len(own), unique["visit"], unique["list"], unique["recorder"], own["to"].max(),
                own["from"].min(),
            ]  # fmt: skip
    return counted


def of_table(table: pd.DataFrame) -> dict[tuple[int, int, str], list[int]]:
    """The same out of a table of squares; the corner of NT lies 300 km east and 600 km north of the origin."""
    found = table[table["records"] > 0]
    keys = zip((found["easting"] - 300_000) // 2000, (found["northing"] - 600_000) // 2000, found["date_class"], strict=True)
    return dict(zip(keys, found[[*NUMBERS, "first"]].astype(int).to_numpy().tolist(), strict=True))


def layers(path: Path) -> pd.DataFrame:
    return pd.concat([gpd.read_file(path, layer=name) for name in gpd.list_layers(path)["name"]])


@pytest.mark.parametrize("edition", ["private", "public"])
def test_every_table_and_the_page_count_the_same(maps: Path, edition: str) -> None:
    expected, folder = by_hand(edition), maps / edition
    table = pd.read_csv(folder / "squares.csv")
    assert of_table(table) == expected
    if edition == "public":
        assert of_table(pd.read_excel(folder / "squares.xlsx", sheet_name="squares", engine="openpyxl")) == expected
        assert of_table(gpd.read_parquet(folder / "squares.parquet")) == expected
        assert of_table(layers(folder / "squares.gpkg")) == expected
    facts, columns = page_to_columns((folder / "area.html").read_text(encoding="utf-8"))
    places = table.drop_duplicates("square").set_index("square")[["easting", "northing"]]
    for place, label in enumerate(CLASSES):
        page = pd.DataFrame({name: columns[f"effort.{place}.{name}"] for name in NUMBERS}).assign(
            date_class=label, first=0, square=columns["reference"][: facts["squares"]]
        )
        own = of_table(page.join(places, on="square"))
        assert {key: numbers[:-1] for key, numbers in own.items()} == {
            key: numbers[:-1] for key, numbers in expected.items() if key[2] == label
        }
    assert sorted(columns["effort.first"]) == sorted(numbers[-1] for key, numbers in expected.items() if key[2] == "all")


@pytest.mark.parametrize("edition", ["private", "public"])
def test_what_is_placed_and_what_is_too_coarse_are_all_records(maps: Path, edition: str) -> None:
    frame = told(edition)
    facts, columns = page_to_columns((maps / edition / "area.html").read_text(encoding="utf-8"))
    assert facts["too_coarse"] == (~frame["is_placed"]).sum() == columns["coarse.records"].sum()
    assert columns["effort.0.records"].sum() + facts["too_coarse"] == len(ROWS)
    lists = frame[frame["is_placed"]].dropna(subset="list").drop_duplicates(["easting", "northing", "list"])
    by_year = lists.groupby("to").size().to_dict()
    assert dict(zip(columns["lists.year"].tolist(), columns["lists.count"].tolist(), strict=True)) == by_year
    if edition == "public":
        growth = pd.read_excel(maps / edition / "squares.xlsx", sheet_name="growth", engine="openpyxl").set_index("year")
        assert growth.loc[growth["lists"] > 0, "lists"].to_dict() == by_year
        with zipfile.ZipFile(maps / edition / "records.zip") as archive, archive.open("occurrence.txt") as file:
            names = pd.read_csv(file, sep="\t")["scientificName"]
        assert names.value_counts().to_dict() == frame["species"].value_counts().to_dict()


@pytest.mark.parametrize("edition", ["private", "public"])
def test_an_index_names_what_is_there_and_nothing_else(maps: Path, edition: str) -> None:
    text = (maps / edition / "index.html").read_text(encoding="utf-8")
    there = {path.name for path in (maps / edition).iterdir()} - {"index.html"}
    assert set(re.findall(r'href="([^"#:]+)"', text)) == there
