"""A species as a person names it on the command line."""

from __future__ import annotations

import difflib

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
    raise GapmapError(
        "There is no record of a species of that name", found=text,
        do=f"did you mean {', '.join(near)}?" if (near := _names_like(species, wanted)) else
        "write the scientific name as in the records",
    )  # fmt: skip


def _names_like(species: pd.DataFrame, wanted: str) -> list[str]:
    """Five names that hold what was written; otherwise those it may be a slip of the pen for."""
    by_lower = {name.lower(): name for name in species["name"]}
    near = [name for lower, name in by_lower.items() if wanted in lower][:5]
    return near or [by_lower[lower] for lower in difflib.get_close_matches(wanted, by_lower, n=5, cutoff=0.8)]
