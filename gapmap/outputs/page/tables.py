"""The tables behind the views of what is still to find, visits and records to look at, as packed columns."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.pack import Block
from gapmap.outputs.page.planes import Whole
from gapmap.outputs.page.shapes import Placed

#: Most rows of the expected table on a page, and the most for one square.
MOST_EXPECTED = 60_000
MOST_EXPECTED_A_SQUARE = 30
#: Most records to look at on a page, the oddest first.
MOST_FINDINGS = 5_000
#: Texts of the expected table that are nearly always the same for one species.
_SPECIES_TEXTS = ("best_months", "time_of_day", "method", "certainty")


def likeliest(expected: pd.DataFrame, squares: int) -> tuple[pd.DataFrame, int]:
    """The rows of the expected table that go on a page, square by square, and how many a square at the most.

    Rows whose chance cannot be said stay out; of the others each square keeps those with the highest chance of
    being found on the next visit.
    """
    most = int(np.clip(MOST_EXPECTED // max(squares, 1), 5, MOST_EXPECTED_A_SQUARE))
    said = np.flatnonzero((expected["chance"].notna() & expected["chance_if_visited"].notna()).to_numpy())
    square, species = (expected[name].to_numpy(np.int64)[said] for name in ("square", "species_id"))
    chance = expected["chance_if_visited"].to_numpy(np.float64, na_value=np.nan)[said]
    order = np.lexsort((species, -chance, square))
    _, begins, counts = np.unique(square[order], return_index=True, return_counts=True)
    kept = np.arange(order.size) - np.repeat(begins, counts) < most
    return expected.iloc[said[order[kept]]], most


def add_expected(block: Block, page: Page, placed: Placed, species: Whole) -> None:
    """Add what is still to find: rows by square, the likeliest first.

    The chance that a visit finds it is kept in whole per cent as the fall from the row before, the first of a square
    from 100; the rows of one place in their squares are alike (``expected.place``), and so are those of one species.
    """
    if page.expected is None:
        return
    rows, most = likeliest(page.expected, placed.squares.size)
    place = placed.place_of(rows["square"])
    rows = rows.iloc[np.argsort(place, kind="stable")]
    count = np.bincount(place, minlength=placed.squares.size)
    within = np.arange(len(rows)) - np.repeat(np.cumsum(count) - count, count)
    percent = np.rint(rows["chance_if_visited"].to_numpy(np.float64) * 100).astype(np.int64)
    rank = pd.Series(np.arange(species.size), index=species)
    years, before = np.unique(rows["found_before"].to_numpy(np.int64), return_inverse=True)
    block.add("expected.most", [most])
    block.add("expected.count", count)
    block.know("expected.place", within)
    block.add("expected.fall", np.where(within == 0, 100, np.roll(percent, 1)) - percent, "expected.place")
    block.know("expected.percent", percent)
    block.add("expected.species", rank[rows["species_id"]].to_numpy(np.int64), "expected.place")
    block.add_decimals("expected.chance", rows["chance"].to_numpy(np.float64), 100, "expected.percent")
    block.add("expected.years", years)
    block.add("expected.year", before, "expected.species")
    for column in ("grade", "why"):
        block.add_texts(f"expected.{column}", rows[column], "expected.percent")
    for column in _SPECIES_TEXTS:
        block.add_texts(f"expected.{column}", rows[column], "expected.species")


def add_visits(block: Block, page: Page, placed: Placed) -> None:
    """Add the planned visits in date order."""
    if page.visits is None:
        return
    rows = page.visits
    block.add("visit.square", placed.place_of(rows["square"]))
    for column in ("visit_id", "month"):
        block.add(f"visit.{column}", rows[column].to_numpy(np.int64))
    block.add_strings("visit.day", rows["day"].dt.strftime("%Y-%m-%d").fillna("") if len(rows) else [])
    block.add_decimals("visit.gain", rows["gain"].to_numpy(np.float64), 10)
    block.add_decimals("visit.travel_km", np.ceil(rows["travel_m"].to_numpy(np.float64) / 1000), 1)
    for column in ("volunteer", "time_of_day", "targets"):
        block.add_strings(f"visit.{column}", rows[column].fillna("").astype(str))


def add_findings(block: Block, page: Page, placed: Placed, species: Whole) -> None:
    """Add the records to look at, the oddest first; their squares counted from 1, those beyond the map last."""
    if page.findings is None:
        return
    rows = page.findings.sort_values("one_in", ascending=False, kind="stable").head(MOST_FINDINGS)
    rank = pd.Series(np.arange(species.size), index=species)
    block.add("finding.square", placed.place_with_beyond(rows["square"]) + 1)
    block.add("finding.species", rank.reindex(rows["species_id"]).fillna(-1).to_numpy(np.int64) + 1)
    block.add("finding.record_id", rows["record_id"].to_numpy(np.int64))
    block.add_decimals("finding.one_in", rows["one_in"].to_numpy(np.float64), 1)
    block.add_decimals("finding.nearest_km", rows["nearest_m"].to_numpy(np.float64) / 1000, 10)
    for column in ("reasons", "slip", "ask_for", "date", "recorders", "place", "where"):
        texts = rows[column].fillna("").astype(str) if column in rows else pd.Series([""] * len(rows), dtype=object)
        block.add_strings(f"finding.{column}", texts)
