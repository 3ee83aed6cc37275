"""The table behind the view of growth: what was new to each square in each year."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import ALL_DATES
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.pack import Block
from gapmap.outputs.page.planes import groups_of
from gapmap.outputs.page.shapes import Placed
from gapmap.typed import DateClass


def add_growth(block: Block, page: Page, placed: Placed) -> None:
    """Add how many species were new to each square in each year, from the first years of the tally.

    The years are cut at the date classes into ranges, from ``growth.from`` to ``growth.to``; ``growth.range.0`` and
    so on hold the species new in each, which are those whose first class it is but for dates that cross classes. Each
    range is halved, the earlier half the shorter, and its halves again: ``growth.earlier.0`` and so on hold for every
    range of a level how many of its species were new in its earlier half, sorted by how many those are and by the
    length of the range; where a square has none, nothing is kept.

    ``lists.year`` and ``lists.count`` are the lists of all squares by year. Without lists there is no view of growth,
    and nothing is added.
    """
    if page.lists is None:
        return
    firsts = _firsts(page)
    ranges, known = _ranges(page, firsts["first"]), _known_by_year(firsts, placed)
    start = ranges[0].first if ranges else 0
    parts = [(each.first - start, each.last + 1 - start) for each in ranges]
    block.add("growth.from", [each.first for each in ranges])
    block.add("growth.to", [each.last for each in ranges])
    for number, ((begin, stop), each) in enumerate(zip(parts, ranges, strict=True)):
        given = [f"found.first:{each.date_class}"] if each.date_class else []
        block.add(f"growth.range.{number}", known[:, stop] - known[:, begin], *given)
    _add_halves(block, known, parts)
    block.know("growth.first", np.where(known[:, -1] > 0, (known == 0).sum(axis=1) - 1 + start, 0))
    tally = page.tally[(page.tally["date_class"] == ALL_DATES) & (page.tally["first"] > 0)]
    first = tally.groupby("square")["first"].min()
    block.add("effort.first", first.reindex(placed.squares).fillna(0).astype("int64"), "growth.first")
    _add_by_year(block, "growth.species", firsts.groupby("species_id")["first"].min())
    _add_by_year(block, "lists", page.lists.loc[page.lists["year"] > 0, "year"])


class _Range(NamedTuple):
    """Years from the first to the last, and their date class counted from 1; 0 where they are in none."""

    first: int
    last: int
    date_class: int


def _firsts(page: Page) -> pd.DataFrame:
    """The species of every square with the year it was first found, where that is known; other names do not count."""
    tally, species = page.tally, page.species
    counting = species.loc[species["counts"].astype(bool), "species_id"]
    total = (tally["date_class"] == ALL_DATES) & (tally["first"] > 0) & tally["species_id"].isin(counting)
    return tally.loc[total, ["square", "species_id", "first"]]


def _ranges(page: Page, years: pd.Series) -> list[_Range]:
    """The years of the page cut where a date class begins or ends."""
    if years.empty:
        return []
    start, end = int(years.min()), int(years.max())
    ends = [(each.first, each.last) for each in page.classes]
    begins = {start, *(first for first, _ in ends if first), *(last + 1 for _, last in ends if last)}
    inside = sorted(year for year in begins if start <= year <= end)
    return [
        _Range(begin, stop - 1, next((k for k, each in enumerate(page.classes, start=1) if _holds(each, begin)), 0))
        for begin, stop in zip(inside, [*inside[1:], end + 1], strict=True)
    ]


def _holds(date_class: DateClass, year: int) -> bool:
    return (date_class.first or year) <= year <= (date_class.last or year)


def _known_by_year(firsts: pd.DataFrame, placed: Placed) -> npt.NDArray[np.int32]:
    """Species known in each square at the beginning of each year, and at the end of the last."""
    places, years = placed.place_of(firsts["square"]), firsts["first"].to_numpy(np.int64)
    start, end = int(years.min(initial=9_999)), int(years.max(initial=0))
    shape = placed.squares.size, max(end - start, -1) + 2
    new = np.bincount(places * shape[1] + years - start + 1, minlength=shape[0] * shape[1])
    return new.reshape(shape).cumsum(axis=1, dtype=np.int32)


def _add_by_year(block: Block, name: str, years: pd.Series) -> None:
    """Add how many there are in each year."""
    counts = years.value_counts().sort_index()
    block.add(f"{name}.year", counts.index.to_numpy(np.int64))
    block.add(f"{name}.count", counts.to_numpy(np.int64))


def _add_halves(block: Block, known: npt.NDArray[np.int32], parts: list[tuple[int, int]]) -> None:
    """Add the levels; ``known`` is the species known at the beginning of each year (squares × years)."""
    level = 0
    while parts := [(begin, stop) for begin, stop in parts if stop - begin > 1]:
        longest = max(stop - begin for begin, stop in parts)
        whole, earlier, halves = [], [], []
        for begin, stop in parts:
            middle = (begin + stop) // 2
            there = known[:, stop] > known[:, begin]
            whole.append((known[:, stop] - known[:, begin])[there] * (longest + 1) + stop - begin)
            earlier.append((known[:, middle] - known[:, begin])[there])
            halves += [(begin, middle), (middle, stop)]
        groups = groups_of(np.concatenate(whole))
        block.add_ordered(f"growth.earlier.{level}", np.concatenate(earlier)[groups.order], groups.begins)
        parts, level = halves, level + 1
