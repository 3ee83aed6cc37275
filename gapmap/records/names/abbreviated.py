"""Genera written as an initial: “B. terrestris” beside “Bombus terrestris”."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from gapmap.records.names.parts import Name


def full_names(names: Sequence[Name]) -> list[tuple[str, ...]]:
    """For each name, the full names among them all that it may stand for; none unless its genus is an initial.

    Parameters
    ----------
    names
        Names taken apart.

    Examples
    --------
    >>> from gapmap.records.names.parts import text_to_name
    >>> written = ["Bombus terrestris", "B. terrestris", "B. lucorum"]
    >>> full_names([text_to_name(text) for text in written])
    [(), ('Bombus terrestris',), ()]
    """
    fitting: dict[tuple[str, str], set[str]] = defaultdict(set)
    for name in names:
        if _names_species(name) and not _is_initial(name.genus):
            fitting[_key(name)].add(name.species)
    return [
        tuple(sorted(fitting.get(_key(name), ()))) if _names_species(name) and _is_initial(name.genus) else ()
        for name in names
    ]


def spelt_out(name: Name, species: str) -> Name:
    """A name whose genus is an initial, with the genus of a full name in its place.

    Examples
    --------
    >>> from gapmap.records.names.parts import text_to_name
    >>> spelt_out(text_to_name("B. terrestris agg."), "Bombus terrestris").name
    'Bombus terrestris agg.'
    """
    return name._replace(
        name=species + name.name.removeprefix(name.species), species=species, genus=species.partition(" ")[0]
    )


def _names_species(name: Name) -> bool:
    return name.rank in ("species", "subspecies", "aggregate") and bool(name.species) and not name.doubt


def _is_initial(genus: str) -> bool:
    return len(genus) == 2 and genus.endswith(".")


def _key(name: Name) -> tuple[str, str]:
    return name.genus[:1].casefold(), name.species.partition(" ")[2].casefold()
