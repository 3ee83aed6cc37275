"""Records by hand: a small table in DuckDB, one row a find, so that every count can be checked by eye."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import Any

import duckdb
import pandas as pd
import pytest

from gapmap.columns import FILES, PEOPLE, RECORDS
from gapmap.grid.systems import system_named
from gapmap.records.table import Records

#: South-west corner of the empty sea square OQ.
OQ_EASTING, OQ_NORTHING = 500_000, 600_000
MakeRecords = Callable[..., Records]


def _dates(text: str) -> tuple[date | None, date | None, str]:
    """'2001-05-03', '2001-05', '2001', '1990/2005', '/1950' or ''."""
    if "/" in text:
        first, last = text.split("/")
        return (_dates(first)[0] if first else None), (_dates(last)[1] if last else None), "years"
    if not text:
        return None, None, "unknown"
    parts = [int(part) for part in text.split("-")]
    if len(parts) == 3:
        return date(*parts), date(*parts), "day"
    if len(parts) == 2:
        start = date(*parts, 1)
        end = date(start.year + start.month // 12, start.month % 12 + 1, 1)
        return start, date.fromordinal(end.toordinal() - 1), "month"
    return date(parts[0], 1, 1), date(parts[0], 12, 31), "year"


def make_records(rows: Iterable[Sequence[Any]], others: Sequence[int] = ()) -> Records:
    """Records of rows (species, easting, northing, precision, dates, people, and a dict of anything else).

    Eastings and northings are metres from the corner of OQ; ``others`` are species that do not count.
    """
    table = []
    keys: dict[tuple[object, ...], int] = {}
    for number, row in enumerate(rows, start=1):
        species, easting, northing, precision, dates, people, *more = row
        extra = more[0] if more else {}
        date_from, date_to, kind = _dates(dates)
        known = date_from is not None and date_to is not None and (date_to - date_from).days <= 366
        key = (easting, northing, precision, dates, people)
        entry = {column.name: "" for column in RECORDS.columns} | {
            "record_id": number, "file_id": 1, "source_row": number + 1, "species_id": species, "system": 1,
            "easting": OQ_EASTING + easting, "northing": OQ_NORTHING + northing, "precision_m": precision,
            "is_point": False, "date_from": date_from, "date_to": date_to, "date_kind": kind,
            "people_id": people, "list_id": keys.setdefault(key, len(keys)) if known else -1,
            "is_visit": known and (date_to - date_from).days <= 1,
        }
        table.append(entry | extra)
    frame = pd.DataFrame(table, columns=RECORDS.names) if table else RECORDS.empty()
    frame["date_from"] = pd.to_datetime(frame["date_from"]).astype("datetime64[s]")
    frame["date_to"] = pd.to_datetime(frame["date_to"]).astype("datetime64[s]")
    connection = duckdb.connect()
    connection.register("frame", frame)
    texts = ", ".join(f'"{one.name}"::varchar as "{one.name}"' for one in RECORDS.columns if one.kind == "text")
    connection.execute(f"create table records as select * replace ({texts}) from frame")
    connection.execute("create table problems (file text)")
    ids = sorted({int(one) for one in frame["species_id"]})
    species = pd.DataFrame({
        "species_id": ids, "name": [f"Species {one}" for one in ids], "vernacular": "", "group": "",
        "rank": "species",
        "counts": [one not in others for one in ids], "difficulty": "", "months": "", "time_of_day": "",
        "sensitive_m": 0,
    })
    species["counts"] = species["counts"].astype(bool)
    return Records(connection, system_named("british"), FILES.empty(), species, PEOPLE.empty())


@pytest.fixture(name="make_records")
def _make_records() -> MakeRecords:
    return make_records
