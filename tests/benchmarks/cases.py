"""Many real cases for the backtest: records, square size, cut, and the part of the records that is looked at.

Whole data sets, single taxon groups, a third of the squares, twelve species, a block of twelve by twelve squares, one
list in eight: so that small areas, few records and changes in recording are all there. The invented island of the
demo comes last, where it has been made.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.coverage.tally import lists_and_finds
from gapmap.grid.squares import unpack
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import Settings
from gapmap.typed import text_to_classes

PROJECT = Path(__file__).resolve().parents[2]
OPEN_DATA = PROJECT.parent / "shared" / "data"
LADYBIRDS, EDINBURGH = OPEN_DATA / "be_ladybirds_utm1km.csv", OPEN_DATA / "edinburgh_2000_2016.csv"
ISLAND = PROJECT / "demo" / "area"
_FEWEST_BEFORE, _FEWEST_AFTER = 20, 10


@dataclass(frozen=True)
class Case:
    """Records of one case: ``family`` is the kind of case that its figures are averaged with."""

    name: str
    family: str
    lists: pd.DataFrame
    finds: pd.DataFrame
    species: pd.DataFrame
    until: int


def all_cases() -> Iterator[Case]:
    """Every case for which the records lie on this machine."""
    if EDINBURGH.exists():
        yield from _edinburgh()
    if LADYBIRDS.exists():
        yield from _ladybirds()
    if ISLAND.exists():
        yield from _island()


def one_case(path: Path, side: int, until: int, group: str = "") -> Case:
    """The case of one record file."""
    records = read(path)
    lists, finds = lists_and_finds(records, side, text_to_classes(f"-{until}, {until + 1}-"))
    species = records.species[records.species["group"] == group] if group else records.species
    return _case(f"{path.stem} {group}".strip(), "file", lists, finds, species, until)


def read(path: Path) -> Records:
    """Read a record file; the ladybirds lie in two zones of the universal grid."""
    area = {"grid": "utm", "zones": ["31U", "32U"]} if path == LADYBIRDS else {}
    return read_records([path], Settings.model_validate({"area": area}))


def _case(name: str, family: str, lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame, until: int) -> Case:
    placed = lists[lists["square"] >= 0]
    own = finds[finds["species_id"].isin(species["species_id"]) & finds["list_id"].isin(placed["list_id"])]
    return Case(name, family, placed[placed["list_id"].isin(own["list_id"])], own, species, until)


def _enough(case: Case) -> bool:
    year = case.lists["year"]
    before, after = (year > 0) & (year <= case.until), year > case.until
    return bool(before.sum() >= _FEWEST_BEFORE and after.sum() >= _FEWEST_AFTER)


def _edinburgh() -> Iterator[Case]:
    records = read(EDINBURGH)
    for side in (1_000, 2_000, 5_000):
        lists, finds = lists_and_finds(records, side, text_to_classes("-2008, 2009-"))
        groups = ["", *sorted(records.species["group"].unique())] if side < 5_000 else ["", "Butterfly"]
        for group in groups:
            species = records.species[records.species["group"] == group] if group else records.species
            family = {"": "Edinburgh, all groups", "Butterfly": "Edinburgh, butterflies"}.get(
                group, "Edinburgh, other single groups"
            )
            for until in (2005, 2008, 2011):
                case = _case(f"{group or 'all groups'}, {side // 1000} km", family, lists, finds, species, until)
                if _enough(case):
                    yield case


def _ladybirds() -> Iterator[Case]:
    records = read(LADYBIRDS)
    generator = np.random.default_rng(3)
    for side in (2_000, 5_000, 10_000, 20_000):
        lists, finds = lists_and_finds(records, side, text_to_classes("-2009, 2010-"))
        lists = lists[lists["square"] >= 0]
        for until in (1999, 2004, 2009, 2014) if side > 2_000 else (2004, 2009):
            name = f"ladybirds, {side // 1000} km"
            yield _case(name, "ladybirds, whole", lists, finds, records.species, until)
        for until in (2004, 2009) if side > 2_000 else ():
            for number in range(2):
                yield from _parts_of(records, lists, finds, side, until, number, generator)


def _parts_of(
    records: Records,
    lists: pd.DataFrame,
    finds: pd.DataFrame,
    side: int,
    until: int,
    number: int,
    generator: np.random.Generator,
) -> Iterator[Case]:
    squares = lists["square"].unique()
    _, _, easting, northing = (np.asarray(part) for part in unpack(lists["square"].to_numpy()))
    third = lists["square"].isin(generator.choice(squares, len(squares) // 3, replace=False)).to_numpy()
    middle = generator.integers(len(lists))
    block = (abs(easting - easting[middle]) < 6 * side) & (abs(northing - northing[middle]) < 6 * side)
    thin = lists["list_id"].isin(generator.choice(lists["list_id"], len(lists) // 8, replace=False)).to_numpy()
    for part, rows in (("a third of the squares", third), ("a block", block), ("one list in eight", thin)):
        name = f"ladybirds, {side // 1000} km, {part} {number + 1}"
        yield _case(name, "ladybirds, parts", lists[rows], finds, records.species, until)
    few = records.species.sample(12, random_state=number)
    yield _case(
        f"ladybirds, {side // 1000} km, twelve species {number + 1}", "ladybirds, parts", lists, finds, few, until
    )


def _island() -> Iterator[Case]:
    records = read_records(sorted((ISLAND / "records").iterdir()), Settings())
    lists, finds = lists_and_finds(records, 2_000, text_to_classes("-1999, 2000-"))
    for until in (1999, 2009, 2018):
        yield _case(
            "the demo's island, 2 km",
            "invented island",
            lists,
            finds,
            records.species[records.species["counts"]],
            until,
        )
