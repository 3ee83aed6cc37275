"""How much of each species a visit finds by each method, for lists that tell one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.expected.ratios import beyond_the_first, drawn_to_group
from gapmap.expected.seasons import FEW_LISTS

Numbers = npt.NDArray[np.float64]

#: Columns of the table.
COLUMNS = ("species_id", "method", "lists", "finds", "rate", "activity", "can_say")


@dataclass(frozen=True)
class Methods:
    """Methods that lists tell, M, against K species.

    Parameters
    ----------
    names
        M methods in small letters, without those that tell none.
    lists, finds
        M × K: lists about the species' group, and those of them that hold it.
    share
        M × K: what a visit by this method finds of it, against a visit by the average of all methods.
    """

    names: list[str]
    lists: Numbers
    finds: Numbers
    share: Numbers


def find_methods(lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame) -> Methods:
    """Compare the methods, species by species.

    Parameters
    ----------
    lists, finds
        As in columns.LISTS and columns.FINDS; lists that tell no method say nothing here.
    species
        As in columns.SPECIES; the rows to answer for.

    Examples
    --------
    >>> lists = pd.DataFrame({"list_id": range(40), "method": ["sieving", "sweeping"] * 20})
    >>> finds = pd.DataFrame({"list_id": [*range(40), *range(0, 40, 2)], "species_id": [0] * 40 + [1] * 20})
    >>> species = pd.DataFrame({"species_id": [0, 1], "group": ["woodlouse", "woodlouse"]})
    >>> told = find_methods(lists, finds, species)
    >>> told.names, bool(told.share[0, 1] > 3 * told.share[1, 1])
    (['sieving', 'sweeping'], True)
    """
    method = lists["method"].fillna("").astype(str).str.strip().str.lower().to_numpy()
    names = sorted(set(method.tolist()) - {""})
    code = pd.Index(["", *names]).get_indexer(pd.Index(method))
    kinds = species["species_id"].to_numpy(np.int64)
    of_list = pd.Index(lists["list_id"]).get_indexer(pd.Index(finds["list_id"]))
    column = pd.Index(kinds).get_indexer(pd.Index(finds["species_id"]))
    kept = (of_list >= 0) & (column >= 0)
    of_list, column = of_list[kept], column[kept]
    shape = (len(names) + 1, len(kinds))
    found, made, share = np.zeros(shape), np.zeros(shape), np.ones(shape)
    np.add.at(found, (code[of_list], column), 1.0)
    _, group_of = np.unique(species["group"].fillna("").astype(str).to_numpy(), return_inverse=True)
    for group in np.unique(group_of[column]):
        members = np.flatnonzero(group_of == group)
        about, length = np.unique(of_list[group_of[column] == group], return_counts=True)
        of_group, held = (
            np.bincount(code[about], part, minlength=shape[0]).astype(np.float64)
            for part in (np.ones(len(about)), length)
        )
        made[:, members] = of_group[:, None]
        on_lists = drawn_to_group(found[:, members], of_group, smooth=False)
        share[:, members] = on_lists * beyond_the_first(held, of_group, smooth=False)[:, None]
    return Methods(names, made[1:], found[1:], share[1:])


def method_table(lists: pd.DataFrame, finds: pd.DataFrame, species: pd.DataFrame) -> pd.DataFrame:
    """The same as a table: one row a species and method by which its group was looked for.

    Returns
    -------
    DataFrame
        ``species_id, method, lists`` (about its group), ``finds, rate`` (found on so many of the lists), ``activity``
        (what a visit by it finds against the average of all methods), ``can_say`` (whether lists enough were made).
    """
    told = find_methods(lists, finds, species)
    method, kind = np.nonzero(told.lists)
    made, found = told.lists[method, kind], told.finds[method, kind]
    table = pd.DataFrame(
        {
            "species_id": species["species_id"].to_numpy(np.int64)[kind],
            "method": pd.array([told.names[m] for m in method.tolist()], dtype="str"),
            "lists": made.astype(np.int64),
            "finds": found.astype(np.int64),
            "rate": found / made,
            "activity": told.share[method, kind],
            "can_say": made >= FEW_LISTS,
        }
    )
    return table.sort_values(["species_id", "activity"], ascending=[True, False], kind="stable", ignore_index=True)
