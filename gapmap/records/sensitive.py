"""Which names are of sensitive species, and the size they may be told at."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

import numpy as np
import pandas as pd

from gapmap.records.names.alike import names_alike
from gapmap.records.verdicts import quoted
from gapmap.settings import Settings
from gapmap.typed import text_to_side

_WORD = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)*")
#: What may follow a genus and tells of no species.
_NO_MORE = re.compile(r"\?|\s+\(?hybr(?:ids?|\.)\)?$")

Listed = Mapping[str, int] | Collection[str]


def sensitive_sizes(
    species: pd.DataFrame, settings: Settings, listed: Listed = ()
) -> tuple[pd.Series, tuple[str, ...]]:
    """The size each name may be told at: the largest of its own, the area file's and those of species it may mean.

    A name is as sensitive as a species when it is the species' everyday name; when it holds all words of the species'
    name, as those of its aggregate, its hybrids and "either of two" do; and when it is of a genus none of whose
    species may be told finely. So is a name that is nearly spelt so, which may well be a slip, unless somebody has
    looked at it: it is on the checklist, or the area file gives it a size of its own.

    Parameters
    ----------
    species
        ``name``, ``vernacular``, ``rank`` and ``sensitive_m`` as in columns.SPECIES.
    settings
        ``[publish] sensitive`` maps names to sizes such as ``10km``.
    listed
        Names on the checklist, and where it says so their sizes in metres.

    Returns
    -------
    (Series, tuple of str)
        Metres, int64, one a row; 0 for a name that is not sensitive. And a sentence about each name that is taken for
        a slip.

    Examples
    --------
    >>> names = ["Lutra lutra", "Lutra lutra agg.", "Lutra", "Martes"]
    >>> rank = ["species", "aggregate", "genus", "genus"]
    >>> species = pd.DataFrame({"name": names, "vernacular": "", "rank": rank, "sensitive_m": [10_000, 0, 0, 0]})
    >>> sensitive_sizes(species, Settings())[0].tolist()
    [10000, 10000, 10000, 0]
    """
    names = species["name"].str.lower()
    sizes = species["sensitive_m"].to_numpy(np.int64, copy=True)
    told = _told(species, settings, listed)
    if not told:
        return pd.Series(sizes, index=species.index), ()
    slips = _slips(names, told, {name.lower() for name in (*listed, *settings.publish.sensitive)})
    rows_with = _rows_with(names)
    for name, size in told.items():
        words = _words(name)
        holding = set.intersection(*(rows_with[word] for word in words)) if len(words) > 1 else set()
        may_mean = names.isin({name, *slips.get(name, ())}).to_numpy() | np.isin(np.arange(len(names)), list(holding))
        sizes = np.where(may_mean, np.maximum(sizes, size), sizes)
    sizes = np.maximum(sizes, _of_genera(species, sizes, told, listed))
    written = {name.lower(): name for name in (*settings.publish.sensitive, *listed, *species["name"])}
    said = [
        _slip_in_words(written[slip], written.get(name, name), told[name])
        for name, of_name in slips.items()
        for slip in of_name
    ]
    return pd.Series(sizes, index=species.index), tuple(said)


def _told(species: pd.DataFrame, settings: Settings, listed: Listed) -> dict[str, int]:
    """Every sensitive species, recorded or not, with the largest size told of it; by its everyday name as well."""
    told: dict[str, int] = {}
    names, everyday = species["name"].str.lower(), species["vernacular"].str.lower()
    of_list = listed.items() if isinstance(listed, Mapping) else ()
    of_area = ((" ".join(name.split()), text_to_side(size)) for name, size in settings.publish.sensitive.items())
    for name, size in (*zip(names, species["sensitive_m"].tolist(), strict=True), *of_list, *of_area):
        if size > 0:
            told[name.lower()] = max(size, told.get(name.lower(), 0))
    also = defaultdict(list)
    for name, words in zip(names, everyday, strict=True):
        also[words].append(told.get(name, 0))
    return told | {words: max(*sizes, told.get(words, 0)) for words, sizes in also.items() if words and min(sizes) > 0}


def _slips(names: pd.Series, told: Mapping[str, int], looked_at: set[str]) -> dict[str, list[str]]:
    """Names that nobody has looked at and that are spelt almost like a sensitive species, by species."""
    recorded = set(names)
    alike = names_alike([*names, *told])
    found = {
        name: [other for other in alike.get(name, ()) if other in recorded and other not in looked_at | told.keys()]
        for name in told
    }
    return {name: slips for name, slips in found.items() if slips}


def _slip_in_words(slip: str, name: str, size: int) -> str:
    least = f"{size // 1000} km" if size >= 1000 else f"{size} m"
    return (
        f"{quoted(slip)} is spelt almost like the sensitive {name}, so it is published no finer than that, {least}. "
        f'If it is another species, put it on the checklist or write "{slip}" = "100m" under [publish] sensitive.'
    )


def _of_genera(species: pd.DataFrame, sizes: np.ndarray, told: Mapping[str, int], listed: Listed) -> np.ndarray:
    """For each genus the largest size of its species, where all those known are sensitive; 0 for all else."""
    of_genus: dict[str, list[int]] = defaultdict(list)
    names = species["name"].str.lower()
    is_wide = species["rank"].isin(["genus", "hybrid", "doubtful"]).to_numpy()
    for name, size in (*zip(names[~is_wide], sizes[~is_wide].tolist(), strict=True), *_sized(listed, told)):
        genus, _, epithet = name.partition(" ")
        if epithet:
            of_genus[genus].append(size)
    of_name = [of_genus.get(_NO_MORE.sub("", name), [0]) for name in names]
    largest = np.array([max(known) if min(known) > 0 else 0 for known in of_name], dtype=np.int64)
    return np.where(is_wide, largest, 0)


def _sized(listed: Listed, told: Mapping[str, int]) -> Iterable[tuple[str, int]]:
    return (*told.items(), *((name.lower(), told.get(name.lower(), 0)) for name in listed))


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
