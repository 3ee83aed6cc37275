"""Which names are of sensitive species, and the size they may be told at."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Mapping

import numpy as np
import pandas as pd

from gapmap.records.names.alike import names_alike
from gapmap.settings import Settings
from gapmap.typed import text_to_side

_WORD = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)*")


def sensitive_sizes(
    species: pd.DataFrame, settings: Settings, listed: Mapping[str, int] | Collection[str] = ()
) -> pd.Series:
    """The size each name may be told at: the largest of its own, the area file's and those of species it may mean.

    A name that holds all words of a sensitive species' name, as those of its aggregate, its hybrids and "either of
    two" do, is as sensitive; so is one that is nearly spelt so and on no checklist, as it may well be a slip.

    Parameters
    ----------
    species
        ``name`` and ``sensitive_m`` as in columns.SPECIES.
    settings
        ``[publish] sensitive`` maps names to sizes such as ``10km``.
    listed
        Names on the checklist, and where it says so their sizes in metres.

    Returns
    -------
    Series
        Metres, int64, one a row; 0 for a name that is not sensitive.

    Examples
    --------
    >>> species = pd.DataFrame({"name": ["Lutra lutra", "Lutra lutra agg.", "Lutra"], "sensitive_m": [10_000, 0, 0]})
    >>> sensitive_sizes(species, Settings()).tolist()
    [10000, 10000, 0]
    """
    names = species["name"].str.lower()
    sizes = species["sensitive_m"].to_numpy(np.int64, copy=True)
    told = _told(names, sizes, settings, listed)
    if told:
        on_checklist = {name.lower() for name in listed}
        alike, rows_with = names_alike([*names, *told]), _rows_with(names)
        for name, size in told.items():
            slips = {other for other in alike.get(name, ()) if other not in on_checklist}
            words = _words(name)
            holding = set.intersection(*(rows_with[word] for word in words)) if len(words) > 1 else set()
            may_mean = names.isin({name, *slips}).to_numpy() | np.isin(np.arange(len(names)), list(holding))
            sizes = np.where(may_mean, np.maximum(sizes, size), sizes)
    return pd.Series(sizes, index=species.index)


def _told(
    names: pd.Series, sizes: np.ndarray, settings: Settings, listed: Mapping[str, int] | Collection[str]
) -> dict[str, int]:
    """Every sensitive species, recorded or not, with the largest size told of it."""
    told: dict[str, int] = {}
    of_list = listed.items() if isinstance(listed, Mapping) else ()
    of_area = ((" ".join(name.split()), text_to_side(size)) for name, size in settings.publish.sensitive.items())
    for name, size in (*zip(names, sizes.tolist(), strict=True), *of_list, *of_area):
        if size > 0:
            told[name.lower()] = max(size, told.get(name.lower(), 0))
    return told


def _rows_with(names: pd.Series) -> dict[tuple[str, int], set[int]]:
    rows: dict[tuple[str, int], set[int]] = defaultdict(set)
    for row, name in enumerate(names):
        for word in _words(name):
            rows[word].add(row)
    return rows


def _words(name: str) -> list[tuple[str, int]]:
    """Words of a name, each with how often it came before: Lutra lutra has the word lutra twice."""
    words = _WORD.findall(name)
    return [(word, words[:place].count(word)) for place, word in enumerate(words)]
