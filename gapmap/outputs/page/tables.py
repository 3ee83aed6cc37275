"""The tables behind the views of growth, what is still to find, visits and records to look at, as packed columns."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gapmap.columns import ALL_DATES, ALL_SPECIES
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.pack import Block, Whole
from gapmap.outputs.page.shapes import Placed

#: Most rows of the expected table on a page, and the most for one square.
MOST_EXPECTED = 60_000
MOST_EXPECTED_A_SQUARE = 30
#: Most records to look at on a page, the oddest first.
MOST_FINDINGS = 5_000
#: Texts of the expected table that are nearly always the same for one species.
_SPECIES_TEXTS = ("best_months", "time_of_day", "method", "certainty")


def add_growth(block: Block, page: Page, placed: Placed) -> None:
    """Add how many species were new to each square in each year, from the first years of the tally.

    For each square ``growth.count`` tells its number of years, ``growth.gap`` the years (the first counted
    from ``growth.start``) and ``growth.new`` the species first found in them. ``lists.year`` and ``lists.count``
    are the lists of all squares by year. Without lists there is no view of growth, and nothing is added.
    """
    if page.lists is None:
        return
    tally = page.tally
    total = (tally["date_class"] == ALL_DATES) & (tally["species_id"] != ALL_SPECIES) & (tally["first"] > 0)
    firsts = tally.loc[total, ["square", "first"]]
    start = int(firsts["first"].min()) if len(firsts) else 0
    new = firsts.assign(square=placed.place_of(firsts["square"])).groupby(["square", "first"]).size()
    squares = new.index.get_level_values(0).to_numpy(np.int64)
    years = new.index.get_level_values(1).to_numpy(np.int64) - start
    begins = np.concatenate(([True], squares[1:] != squares[:-1])) if squares.size else np.zeros(0, dtype=bool)
    block.add("growth.start", [start])
    block.add("growth.count", np.bincount(squares, minlength=placed.squares.size))
    block.add("growth.gap", np.where(begins, years, np.diff(years, prepend=0) - 1))
    block.add("growth.new", new.to_numpy(np.int64))
    species_first = tally[total].groupby("species_id")["first"].min().value_counts().sort_index()
    block.add("growth.species_year", species_first.index.to_numpy(np.int64))
    block.add("growth.species_new", species_first.to_numpy(np.int64))
    by_year = page.lists.loc[page.lists["year"] > 0, "year"].value_counts().sort_index()
    block.add("lists.year", by_year.index.to_numpy(np.int64))
    block.add("lists.count", by_year.to_numpy(np.int64))


def likeliest(expected: pd.DataFrame, squares: int) -> tuple[pd.DataFrame, int]:
    """The rows of the expected table that go on a page, and how many a square at the most.

    Rows whose chance cannot be said stay out; of the others each square keeps those with the highest chance of
    being found on the next visit.
    """
    most = int(np.clip(MOST_EXPECTED // max(squares, 1), 5, MOST_EXPECTED_A_SQUARE))
    said = expected[expected["chance"].notna() & expected["chance_if_visited"].notna()]
    ordered = said.sort_values(["square", "chance_if_visited", "species_id"], ascending=[True, False, True])
    return ordered.groupby("square", sort=False).head(most), most


def add_expected(block: Block, page: Page, placed: Placed, species: Whole) -> None:
    """Add what is still to find: rows by square, the likeliest first; chances in whole per cent."""
    if page.expected is None:
        return
    rows, most = likeliest(page.expected, placed.squares.size)
    rows = rows.assign(place=placed.place_of(rows["square"])).sort_values("place", kind="stable")
    rank = pd.Series(np.arange(species.size), index=species)
    block.add("expected.most", [most])
    block.add("expected.count", np.bincount(rows["place"], minlength=placed.squares.size))
    block.add("expected.species", rank[rows["species_id"]].to_numpy(np.int64))
    for column in ("chance", "chance_if_visited"):
        block.add_decimals(f"expected.{column}", rows[column].to_numpy(np.float64), 100)
    block.add("expected.found_before", rows["found_before"].to_numpy(np.int64))
    for column in ("grade", "why", *_SPECIES_TEXTS):
        block.add_texts(f"expected.{column}", rows[column].fillna("").astype(str))


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
    block.add_decimals("visit.travel_km", rows["travel_m"].to_numpy(np.float64) / 1000, 10)
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
