"""A species as a person names it on the command line."""

from __future__ import annotations

import pandas as pd

from gapmap.errors import GapmapError


def find_species(species: pd.DataFrame, text: str) -> int:
    """The number of the species that a person names, scientifically or in everyday words.

    Parameters
    ----------
    species
        columns.SPECIES.
    text
        The name, in any case.

    Raises
    ------
    GapmapError
        None or several have that name.
    """
    wanted = " ".join(text.split()).lower()
    for column in ("name", "vernacular"):
        rows = species.index[species[column].str.lower() == wanted]
        if len(rows) == 1:
            return int(species.loc[rows[0], "species_id"])
        if len(rows) > 1:
            meant = " or ".join(species.loc[rows, "name"])
            raise GapmapError("Several species have that name", found=text, do=f"write {meant}")
    near = species.loc[species["name"].str.lower().str.contains(wanted, regex=False), "name"].head(5)
    raise GapmapError(
        "There is no record of a species of that name", found=text,
        do=f"did you mean {', '.join(near)}?" if len(near) else "write the scientific name as in the records",
    )  # fmt: skip
