"""A small invented coast in the sea squares OQ and OR, with recorders who go out on known days."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pytest

from gapmap.columns import FILES, PEOPLE, RECORDS, SPECIES
from gapmap.grid.systems import system_named
from gapmap.records.table import Records

#: South-west corner of OR47: easting, northing in metres.
OR47 = 640_000, 670_000
Row = Mapping[str, Any]
MakeRecords = Callable[..., Records]


def a_row(species: str, east: int, north: int, day: str = "2015-06-15", people: int = 0, **others: Any) -> dict[str, Any]:
    """One record; east and north in metres from the corner of OR47; a day, or a year such as ``2015``."""
    year_only = len(day) == 4
    return {
        "species": species, "easting": OR47[0] + east, "northing": OR47[1] + north, "precision_m": 100, "people_id": people,
        "date_from": f"{day}-01-01" if year_only else day, "date_to": f"{day}-12-31" if year_only else day,
        "date_kind": "year" if year_only else "day", **others,
    }


def make_records(rows: Sequence[Row], checklist: Mapping[str, Mapping[str, str]] | None = None) -> Records:
    """Cleaned records from rows, in their order; the checklist gives facts such as difficulty by species."""
    checklist = checklist or {}
    given = pd.DataFrame(list(rows))
    names = sorted({*(given["species"] if len(given) else ()), *checklist})
    frame = RECORDS.empty().reindex(range(len(given)))
    for column in RECORDS.columns:
        blank = {"text": "", "yes_no": False, "whole": 1}.get(column.kind, "")
        values = given[column.name].fillna(blank) if column.name in given else blank
        frame[column.name] = pd.Series(values, index=frame.index) if len(given) else frame[column.name]
    if len(given):
        frame["species_id"] = [names.index(name) for name in given["species"]]
        frame["record_id"], frame["source_row"] = np.arange(1, len(given) + 1), np.arange(2, len(given) + 2)
        frame["date_from"], frame["date_to"] = pd.to_datetime(given["date_from"]), pd.to_datetime(given["date_to"])
        same_list = ["easting", "northing", "date_from", "date_to", "people_id"]
        frame["list_id"] = frame.groupby(same_list).ngroup()
        frame["is_visit"] = frame["date_from"] == frame["date_to"]
    species = SPECIES.empty().reindex(range(len(names)))
    species = species.assign(species_id=range(len(names)), name=names, counts=True, rank="species", sensitive_m=0)
    for column in ("vernacular", "group", "difficulty", "months", "time_of_day"):
        species[column] = [checklist.get(name, {}).get(column, "") for name in names]
    people = PEOPLE.empty().reindex(range(9)).assign(
        people_id=range(9), names=["", *(f"Recorder {letter}" for letter in "ABCDEFGH")], size=1)
    files = FILES.empty().reindex(range(1)).assign(file_id=1, file="coast.csv", rows=len(given))
    connection = duckdb.connect()
    connection.register("given", frame[RECORDS.names])
    connection.execute("create table records as select *, 'coast.csv:' || source_row as record_key from given")
    return Records(connection, system_named("british"), files, species, people)


def coast(seed: int = 5) -> list[dict[str, Any]]:
    """About 1,500 records: six recorders, each with ground of their own, on eight days, ten finds a day.

    ``Oniscus asellus`` and four others live everywhere; ``Rare one`` in few places.
    """
    random = np.random.default_rng(seed)
    common = ["Armadillidium vulgare", "Lithobius forficatus", "Oniscus asellus", "Philoscia muscorum", "Porcellio scaber"]
    rows = []
    for people in range(1, 7):
        home = random.integers(0, 20_000, 2) + np.array([(people % 3) * 20_000, (people // 3) * 15_000 - 20_000])
        for outing in range(8):
            start = home + random.integers(-4_000, 4_000, 2)
            day = f"{2008 + outing}-{random.integers(4, 10):02d}-{random.integers(13, 28):02d}"
            for _ in range(6):
                spot = (start + random.integers(-1_500, 1_500, 2)) // 100 * 100
                for name in random.permutation(common)[:5]:
                    rows.append(a_row(str(name), int(spot[0]), int(spot[1]), day, people))
    return rows


@pytest.fixture
def records_of() -> MakeRecords:
    """Cleaned records from rows."""
    return make_records


@pytest.fixture
def row() -> Callable[..., dict[str, Any]]:
    """One record by hand."""
    return a_row


@pytest.fixture
def coast_rows() -> list[dict[str, Any]]:
    """The rows of the invented coast."""
    return coast()
