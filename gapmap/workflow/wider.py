"""What is known beyond the area's own records: those from around it, and the names on its checklist."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.coverage.tally import lists_and_finds
from gapmap.expected.newcomers import Seen, expect_newcomers
from gapmap.outputs.tables import label_squares
from gapmap.records.clean import read_records
from gapmap.records.names.checklist import read_checklist
from gapmap.records.table import Records
from gapmap.workflow.source import Source
from gapmap.workflow.stages import Counted


def newcomers(source: Source, counted: Counted) -> pd.DataFrame:
    """Species expected in the area and found in no square of it yet, ``best_square`` as a reference.

    Raises
    ------
    FileError
        A wider file that the area's settings name is not there or cannot be read.
    """
    lists, finds = counted.lists_and_finds()
    with_records = counted.effort["square"].to_numpy(np.int64)
    area = np.unique(with_records) if counted.squares is None else np.union1d(with_records, counted.squares)
    files = [path for name in source.settings.area.wider if (path := source.beside_area_file(name))]
    wider = [_seen(read_records(files, source.settings, folder=source.folder), counted)] if files else []
    named = with_checklist(counted.records.species, source.folder)
    found, own = counted.tally["species_id"].unique(), counted.records.species["species_id"]
    table = expect_newcomers(Seen(lists, finds, named), wider, area, found=found, recorded=own)
    placed = table["best_square"] >= 0
    packed = pd.DataFrame({"square": table.loc[placed, "best_square"]})
    references = label_squares(packed, {})["square"]
    best = pd.Series("", index=table.index, dtype="str")
    best[placed] = references.to_numpy()
    return table.assign(best_square=best).drop(columns=["species_id"])


def with_checklist(species: pd.DataFrame, folder: Path | None) -> pd.DataFrame:
    """The records' table of species, and after it those that only the area's checklist names."""
    listed = _checklist(folder)
    if listed is None:
        return species
    new = listed[~listed["name"].isin(species["name"])].drop_duplicates("name").reset_index(drop=True)
    first = int(species["species_id"].max()) + 1 if len(species) else 0
    new = new.assign(species_id=first + np.arange(len(new)), counts=new["rank"] == "species")
    return pd.concat([species, new[[name for name in species.columns if name in new]]], ignore_index=True)


def listed_names(folder: Path | None) -> list[str]:
    """The names on the area's checklist; none without one."""
    listed = _checklist(folder)
    return [] if listed is None else [str(name) for name in listed["name"]]


def _checklist(folder: Path | None) -> pd.DataFrame | None:
    path = folder / "lookups" / "checklist.csv" if folder else None
    return read_checklist(path) if path is not None and path.is_file() else None


def _seen(records: Records, counted: Counted) -> Seen:
    lists, finds = lists_and_finds(records, counted.side, counted.classes)
    return Seen(lists, finds, records.species)
