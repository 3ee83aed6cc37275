"""Names spelt almost alike: one of the two is often a slip."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from rapidfuzz.distance import OSA


def names_alike(names: Iterable[str]) -> dict[str, list[str]]:
    """Pairs of names that a slip of the pen or the ear could have made of one.

    Two names are alike when they share one of their words and the other differs by a single slip (a letter
    more, less, other, or two swapped) in five letters or more, or by two slips in nine letters or more; or
    when they are single words of which that is true. Names of one and the same length of list are common
    (Pieris rapae and Pieris napi are not alike by this rule), so this is only ever a remark.

    Parameters
    ----------
    names
        Names as shown; repeats do not matter.

    Returns
    -------
    dict
        For every name that has one, the names alike, in the order of the alphabet.

    Examples
    --------
    >>> names_alike(["Oniscus asellus", "Oniscus assellus", "Pieris rapae", "Pieris napi"])
    {'Oniscus asellus': ['Oniscus assellus'], 'Oniscus assellus': ['Oniscus asellus']}
    >>> names_alike([])
    {}
    """
    found: dict[str, set[str]] = defaultdict(set)
    blocks: dict[tuple[int, str], set[str]] = defaultdict(set)
    for name in set(names):
        first, _, rest = name.partition(" ")
        blocks[(0, first.casefold())].add(name)
        blocks[(1, rest.casefold())].add(name)
    for (kept, _), block in blocks.items():
        ordered = sorted(block)
        words = [name.partition(" ")[2 if kept == 0 else 0].casefold() for name in ordered]
        for one, word in enumerate(words):
            for other in range(one + 1, len(words)):
                if _is_slip(word, words[other]):
                    found[ordered[one]].add(ordered[other])
                    found[ordered[other]].add(ordered[one])
    return {name: sorted(found[name]) for name in sorted(found)}


def _is_slip(one: str, other: str) -> bool:
    shorter = min(len(one), len(other))
    if shorter < 5 or abs(len(one) - len(other)) > 2:
        return False
    most = 2 if shorter >= 9 else 1
    return 0 < OSA.distance(one, other, score_cutoff=most) <= most
