"""Positions of several grid systems brought into the plane of the map."""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import pandas as pd

from gapmap.grid.systems import UTM_NORTH, System, system_of
from gapmap.records.lookups import AT_ONCE
from gapmap.records.one_file import CleanFile
from gapmap.records.places.positions import POSITION, bring_over


def bring_into_one_plane(
    connection: duckdb.DuckDBPyConnection, cleaned: Sequence[CleanFile], system: System
) -> tuple[str, ...]:
    """Bring positions of other systems into the map's; zones of UTM stay as they are beside each other.

    Returns
    -------
    tuple of str
        What was brought over and what could not be. The relation ``moved`` holds each position beside its own_ one.
    """
    is_foreign = f"system <> {system.key}" + (f" and system <= {UTM_NORTH}" if system.key > UTM_NORTH else "")
    keys = ", ".join(POSITION)
    with_foreign = [file for file in cleaned if any(_is_foreign(key, system) for key in file.systems)]
    union = " union all ".join(
        f"select {keys} from {file.rows} where {f'is_kept and {is_foreign}' if file in with_foreign else 'false'}"
        for file in cleaned
    )
    connection.execute(
        f"create or replace temp table foreign_places as select {keys}, count(*) as records from ({union}) group by all"
    )
    columns = ", ".join(
        [
            *(f"{name} {kind}" for name, kind in POSITION.items()),
            *(f"own_{name} {kind}" for name, kind in POSITION.items()),
        ]
    )
    connection.execute(f"create or replace temp table moved ({columns}, records bigint)")
    start, found = 0, True
    while found:
        places = connection.execute(
            f"select * from foreign_places where rowid >= {start} and rowid < {start + AT_ONCE}"
        ).df()
        found, start = len(places) == AT_ONCE, start + AT_ONCE
        if len(places):
            own = places.rename(columns={name: f"own_{name}" for name in POSITION})
            connection.register("brought", pd.concat([bring_over(places[list(POSITION)], system.key), own], axis=1))
            connection.execute("insert into moved select * from brought where system > 0")
            connection.unregister("brought")
    counted = connection.execute(
        "select own_system, sum(records)::bigint from moved group by own_system order by own_system"
    ).fetchall()
    left = connection.execute(
        f"""select f.system, sum(f.records)::bigint from foreign_places f anti join moved m
            on {" and ".join(f"f.{name} = m.own_{name}" for name in POSITION)} group by f.system order by f.system"""
    ).fetchall()
    return (
        *(
            f"{_in_words(records)} given in the {system_of(key).title} {'was' if records == 1 else 'were'} "
            f"brought into the {system.title} as {'a point' if records == 1 else 'points'}."
            for key, records in counted
        ),
        *(
            f"{_in_words(records)} in the {system_of(key).title} {'lies' if records == 1 else 'lie'} outside the "
            f"{system.title} and {'stays in its' if records == 1 else 'stay in their'} own grid."
            for key, records in left
        ),
    )


def _in_words(records: int) -> str:
    return f"{records:,} record" + ("" if records == 1 else "s")


def _is_foreign(key: int, system: System) -> bool:
    return key != system.key and not (key > UTM_NORTH and system.key > UTM_NORTH)
