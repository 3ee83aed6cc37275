"""Records that look like real recording, any number of them, the same for the same seed; everything is invented.

Outings by a power law over sites and over recorders (who have four companions each), lists of one to many species by a power law over species, places
in the empty sea squares OQ and OR at mixed precision, dates to the day and vaguer, and a few cells nobody can read.

    python tests/benchmarks/lookalike.py 1000000 records.csv
    python tests/benchmarks/lookalike.py 100000000 records.parquet
"""

from __future__ import annotations

import sys
from pathlib import Path

import duckdb
import numpy as np

SPECIES, RECORDERS, SITES = 700, 3_000, 60_000
SEED = 20_261

#: Syllables of invented names.
_GENUS = ("Ar", "Bel", "Cor", "Dra", "Em", "Fal", "Gly", "Hor", "Is", "Lam", "Mer", "Nor", "Ost", "Por", "Tri")
_MIDDLE = ("and", "eth", "ill", "on", "ur", "ax", "ib", "om", "ent", "ast")
_END = ("ia", "us", "um", "ella", "is", "ops")
_EPITHET = ("alb", "nigr", "palustr", "silv", "marin", "pusill", "grand", "hirt", "punct", "vari", "lent", "rapid")
_SURNAME = ("Ash", "Beck", "Carr", "Dale", "Ellis", "Fenn", "Garth", "Holt", "Ings", "Keld", "Lund", "Marsh", "Ness")
_SURNAME_END = ("", "er", "ley", "man", "ton", "wick", "by", "worth", "ham", "croft")


def species_names(count: int = SPECIES) -> list[str]:
    """Distinct invented two-word names."""
    lot = np.random.default_rng(SEED)
    names: dict[str, None] = {}
    while len(names) < count:
        genus = lot.choice(_GENUS) + lot.choice(_MIDDLE) + lot.choice(_END)
        names[f"{genus} {lot.choice(_EPITHET)}{lot.choice(('us', 'a', 'ensis', 'icola', 'ata'))}"] = None
    return list(names)


def recorder_names(count: int = RECORDERS) -> list[str]:
    """Distinct invented names, an initial or two and a surname."""
    lot = np.random.default_rng(SEED + 1)
    names: dict[str, None] = {}
    while len(names) < count:
        initials = " ".join(f"{chr(65 + letter)}." for letter in lot.integers(0, 26, lot.integers(1, 3)))
        names[f"{initials} {lot.choice(_SURNAME)}{lot.choice(_SURNAME_END)}"] = None
    return list(names)


def write_lookalike(path: Path, rows: int, seed: int = SEED) -> None:
    """Write so many records as CSV or, by the file's ending, as Parquet.

    Parameters
    ----------
    path
        The file to write.
    rows
        How many records.
    seed
        The same seed gives the same file.
    """
    connection = duckdb.connect(config={"threads": 2, "memory_limit": "1500MB", "preserve_insertion_order": True})
    connection.execute(f"set temp_directory = '{path.parent}'")
    connection.execute("create table species as select * from (select unnest($1) as name, unnest($2) as number)",
                       [species_names(), list(range(SPECIES))])  # fmt: skip
    connection.execute("create table recorders as select * from (select unnest($1) as name, unnest($2) as number)",
                       [recorder_names(), list(range(RECORDERS))])  # fmt: skip
    outings = max(rows // 8, 1)
    connection.execute(outings_sql(outings, seed))
    kind = "format parquet, row_group_size 1000000" if path.suffix == ".parquet" else "format csv, header"
    connection.execute(f"copy ({rows_sql(rows, outings, seed)}) to '{path}' ({kind})")
    connection.close()


def outings_sql(outings: int, seed: int) -> str:
    """SQL for the table of outings: site, day, recorders, each written as a person writes it."""
    return f"""
    create table outings as
    with drawn as (
        select i, {_chance("i", seed)} as a, {_chance("i", seed + 1)} as b, {_chance("i", seed + 2)} as c,
            {_chance("i", seed + 3)} as d, {_chance("i", seed + 4)} as e, {_chance("i", seed + 5)} as f
        from range({outings}) t(i)),
    placed as (
        select i, b, c, d, e, f, floor({SITES} * a * a * a)::bigint as site,
            (date '1965-01-01' + (22200 * sqrt(b))::integer) as day,
            floor({RECORDERS} * pow(c, 4))::integer as first_number,
            (hash(floor({RECORDERS} * pow(c, 4)) * 4 + (f * 4000)::integer % 4) % {RECORDERS})::integer as second_number
        from drawn),
    metres as (
        select *, (hash(site + {seed}) % 100000)::integer as east, (hash(site + {seed + 9}) % 100000)::integer as north,
            case when hash(site + {seed + 10}) % 2 = 0 then 'OQ' else 'OR' end as letters
        from placed)
    select i as number,
        case
            when d < 0.04 then letters || (east // 10000) || (north // 10000)
            when d < 0.10 then letters || (east // 10000) || (north // 10000) ||
                'ABCDEFGHIJKLMNPQRSTUVWXYZ'[1 + 5 * (east % 10000 // 2000) + north % 10000 // 2000]
            when d < 0.55 then letters || lpad((east // 1000)::varchar, 2, '0') || lpad((north // 1000)::varchar, 2, '0')
            when d < 0.95 then letters || lpad((east // 100)::varchar, 3, '0') || lpad((north // 100)::varchar, 3, '0')
            when d < 0.997 then letters || lpad((east // 10)::varchar, 4, '0') || lpad((north // 10)::varchar, 4, '0')
            else 'near the church' end as reference,
        case
            when e < 0.86 then strftime(day, '%d/%m/%Y')
            when e < 0.91 then strftime(day, '%B %Y')
            when e < 0.97 then strftime(day, '%Y')
            when e < 0.99 then (year(day) - 3) || '-' || year(day)
            when e < 0.997 then ''
            else '31/02/' || year(day) end as date,
        one.name || case when f < 0.15 then ' & ' || two.name else '' end as recorder
    from metres
    join recorders one on one.number = first_number
    join recorders two on two.number = second_number
    order by i
    """


def rows_sql(rows: int, outings: int, seed: int) -> str:
    """SQL for the rows of the file: an outing's list is as long as the lot gives it rows, eight on average."""
    return f"""
    with drawn as (
        select i, floor({outings} * ((i + 6 * {_chance("i // 5", seed + 20)}) / {rows + 6}))::bigint as outing,
            floor({SPECIES} * pow({_chance("i", seed + 21)}, 2.5))::integer as species
        from range({rows}) t(i))
    select s.name as "Species", o.reference as "Grid reference", o.date as "Date", o.recorder as "Recorder"
    from drawn join outings o on drawn.outing = o.number join species s on drawn.species = s.number
    order by i
    """


def _chance(expression: str, seed: int) -> str:
    """SQL for a number from 0 up to 1, the same for the same expression and seed."""
    return f"((hash({expression} + {seed * 1_000_003}) >> 11) / 9007199254740992.0)"


if __name__ == "__main__":
    write_lookalike(Path(sys.argv[2]), int(sys.argv[1]))
