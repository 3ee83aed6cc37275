"""The truth in files, for tests and benchmarks only: the toolkit never reads them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from island.fauna import HOURS, METHODS, NEVER, Fauna
from island.recorders import RECORDERS
from island.sheets import Sheet
from island.writing import ARCHIVE


def write_truth(
    folder: Path,
    fauna: Fauna,
    visits: pd.DataFrame,
    notes: pd.DataFrame,
    sheets: list[Sheet],
    mistakes: pd.DataFrame,
    odd: pd.DataFrame,
    archive_file: str,
) -> None:
    """Write presence, monads, species, visits, records (Parquet) and mistakes, odd_records (CSV) into the folder."""
    presence_table(fauna).to_parquet(folder / "presence.parquet", index=False)
    fauna.monads.to_parquet(folder / "monads.parquet", index=False)
    species_table(fauna).to_csv(folder / "species.csv", index=False, lineterminator="\n", float_format="%.4f")
    visits_table(visits, notes).to_parquet(folder / "visits.parquet", index=False)
    records_table(notes, sheets, archive_file).to_parquet(folder / "records.parquet", index=False)
    mistakes.to_csv(folder / "mistakes.csv", index=False, lineterminator="\n")
    odd.to_csv(folder / "odd_records.csv", index=False, lineterminator="\n")


def presence_table(fauna: Fauna) -> pd.DataFrame:
    """One row a species and monad where it ever lives: name, easting, northing, arrives, leaves (years), abundance."""
    kinds, monads = np.nonzero(fauna.arrives < NEVER)
    return pd.DataFrame(
        {
            "name": fauna.species["name"].to_numpy()[kinds],
            "easting": fauna.monads["easting"].to_numpy()[monads],
            "northing": fauna.monads["northing"].to_numpy()[monads],
            "arrives": fauna.arrives[kinds, monads],
            "leaves": fauna.leaves[kinds, monads],
            "abundance": np.round(fauna.abundance[kinds, monads], 4),
        }
    )


def species_table(fauna: Fauna) -> pd.DataFrame:
    """The facts, with how much of the chance to be found each month, hour and method gives."""
    months = pd.DataFrame(fauna.season, columns=[f"month_{month}" for month in range(1, 13)])
    hours = pd.DataFrame(fauna.hour, columns=list(HOURS))
    methods = pd.DataFrame(fauna.by_method, columns=[method.replace(" ", "_") for method in METHODS])
    return pd.concat([fauna.species, months, hours, methods], axis=1)


def visits_table(visits: pd.DataFrame, notes: pd.DataFrame) -> pd.DataFrame:
    """Every visit really made, those that found nothing too."""
    found = notes.groupby("visit_id").size().reindex(visits["visit_id"], fill_value=0).to_numpy()
    names = ["; ".join(RECORDERS[int(n)].name for n in people.split()) for people in visits["people"]]
    columns = ["visit_id", "easting", "northing", "method", "hour", "whole", "effort"]
    return visits[columns].assign(date=pd.to_datetime(visits["date"]), people=names, found=found)


def records_table(notes: pd.DataFrame, sheets: list[Sheet], archive_file: str) -> pd.DataFrame:
    """What stands behind each row of each file: the visit, the species that it really was, the true point and day."""
    parts = [
        pd.DataFrame(
            {
                "file": sheet.file,
                "sheet": sheet.name,
                "row": [sheet.row_number(i) for i in range(len(sheet.note))],
                "note": sheet.note,
            }
        )
        for sheet in sheets
    ]
    old = notes.index[notes["file"] == ARCHIVE]
    parts.append(
        pd.DataFrame({"file": archive_file, "sheet": "", "row": np.arange(len(old)) + 2, "note": old})
    )
    rows = pd.concat(parts, ignore_index=True)
    truth = notes[["visit_id", "true_name", "name", "easting", "northing", "side", "date", "date_kind"]]
    truth = truth.assign(date=pd.to_datetime(truth["date"])).rename(
        columns={"name": "written_name", "date": "true_date"}
    )
    return rows.join(truth, on="note").drop(columns="note")
