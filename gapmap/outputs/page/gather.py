"""From the tables of a page to the facts and the packed columns its script reads."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from gapmap.columns import ALL_DATES, ALL_SPECIES, NO_SQUARE
from gapmap.coverage.completeness import BEGUN, CASUAL, NOT_VISITED, PART, POOR, STALE, STANDINGS, UNKNOWN, WELL
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import polygons, square_at
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.growth import add_growth
from gapmap.outputs.page.pack import Block
from gapmap.outputs.page.planes import Whole
from gapmap.outputs.page.sentences import clean
from gapmap.outputs.page.shapes import Placed, add_lines, add_squares, bounds_of, nearly_all, place_squares
from gapmap.outputs.page.tables import add_expected, add_findings, add_visits
from gapmap.outputs.page.tiles import add_tiles

HUNDRED_KM = 100_000
#: Most square × species pairs for which the page also carries records, visits, first and last year.
MOST_DETAIL = 150_000
#: Most possible pairs of square and species that are numbered by a table of all of them.
MOST_POSSIBLE = 100_000_000
#: Whole-number columns of the effort table that the page carries for every date class, with the column by which
#: each may be kept.
EFFORT_NUMBERS = {
    "visits": "species", "records": "species", "lists": "visits", "recorders": "visits", "last": "visits",
}  # fmt: skip
#: Decimal columns of the standing table, with the parts one unit is kept to (whole species, whole per cent) and the
#: column by which each may be kept.
STANDING_NUMBERS = {
    "estimate": (1, "effort.{place}.visits+effort.{place}.species"),
    "estimate_low": (1, "standing.{place}.estimate"), "estimate_high": (1, "standing.{place}.estimate"),
    "refound_share": (100, "effort.{place}.visits"), "visits_needed": (1, "effort.{place}.visits"),
}  # fmt: skip
#: What the squares can be coloured by besides their standing, where any record tells it.
MEASURES = ("visits", "lists", "species", "last")
#: How the page draws each standing: the fill (a step of the colours from 0, little, to 4, much, or a pale or
#: paper ground) and the hatch over it.
STANDING_LOOKS = {
    NOT_VISITED: ("paper", "dot"), CASUAL: ("pale", "dash"), BEGUN: ("0", ""), PART: ("1", ""), WELL: ("4", ""),
    POOR: ("3", "light"), STALE: ("2", "cross"), UNKNOWN: ("pale", "lines"),
}
#: Standings in which a species that was not found was looked for hard enough to say so.
STANDING_CARRIES = {PART, WELL, POOR, STALE}


def gather(page: Page, words: Mapping[str, str]) -> tuple[dict[str, Any], Block]:
    """Facts (plain JSON) and packed columns of a page.

    Parameters
    ----------
    page
        What is to be shown.
    words
        Every word of the page by its key.
    """
    block = Block()
    placed = place_squares(_squares_of(page), page.system.key, page.side, _squares_to_look_at(page))
    species = _species_in_order(page)
    add_squares(block, placed)
    block.add_texts("reference", list(squares_to_references(np.concatenate((placed.squares, placed.beyond)))))
    _add_species(block, page, species)
    _add_tally(block, page, placed, species)
    _add_effort(block, page, placed)
    _add_standing(block, page, placed)
    add_growth(block, page, placed)
    _add_still(block, page, placed)
    add_expected(block, page, placed, species)
    add_visits(block, page, placed)
    add_findings(block, page, placed, species)
    _add_background(block, page)
    facts = _facts(page, placed, words)
    facts["tiles"] = add_tiles(block, page, facts["view"])
    facts["columns"] = block.manifest
    return facts, block


def _squares_of(page: Page) -> Whole:
    frames = (page.effort, page.tally, page.standing, page.expected, page.visits)
    found = [frame["square"].to_numpy(np.int64) for frame in frames if frame is not None]
    squares = np.unique(np.concatenate(found))
    return squares[squares >= 0]


def _squares_to_look_at(page: Page) -> Whole | None:
    if page.findings is None:
        return None
    squares = page.findings["square"].to_numpy(np.int64)
    return squares[squares >= 0]


def _species_in_order(page: Page) -> Whole:
    """Species on the page, those in most squares first; ties in the order of their ids."""
    seen = page.tally.loc[(page.tally["date_class"] == ALL_DATES), "species_id"]
    counted = seen[seen != ALL_SPECIES].value_counts().rename_axis("species_id").reset_index(name="squares")
    others = [frame["species_id"] for frame in (page.tally, page.expected, page.findings) if frame is not None]
    every = pd.DataFrame({"species_id": pd.unique(pd.concat(others))})
    every = every[every["species_id"] >= 0].merge(counted, how="left").fillna({"squares": 0})
    ordered = every.sort_values(["squares", "species_id"], ascending=[False, True])
    return ordered["species_id"].to_numpy(np.int64)


def _add_species(block: Block, page: Page, species: Whole) -> None:
    table = page.species.set_index("species_id").reindex(species)
    for column in ("name", "vernacular", "group", "difficulty", "months", "time_of_day"):
        block.add_strings(f"species.{column}", table[column].fillna("").astype(str))
    block.add("species.counts", table["counts"].fillna(False).astype("int64"))


def _add_tally(block: Block, page: Page, placed: Placed, species: Whole) -> None:
    """Add which species was found where and in which classes.

    A square's species are the gaps between their places in the order of frequency, the first gap of every square
    before the second of any, as gaps of one place are alike; the classes of each are a bit set. How many species of
    a square were found in each class (``found.in``) and for the first time in it (``found.first``) the page counts
    for itself.
    """
    tally = page.tally[page.tally["species_id"] != ALL_SPECIES]
    rank = pd.Series(np.arange(species.size), index=species)
    squares, ranks = placed.place_of(tally["square"]), rank[tally["species_id"]].to_numpy(np.int64)
    width = max(species.size, 1)
    pairs, pair_of = _numbered(squares * width + ranks, placed.squares.size * width)
    classes = tally["date_class"].to_numpy(np.int64)
    bits = np.where(classes >= 0, 1 << classes.clip(min=0), 0)  # each class once a pair, so that a sum joins them
    masks = np.bincount(pair_of, weights=bits, minlength=pairs.size).astype(np.int64)
    pair_squares, pair_ranks = pairs // width, pairs % width
    each = np.bincount(pair_squares, minlength=placed.squares.size)
    first = np.concatenate(([True], pair_squares[1:] != pair_squares[:-1])) if pairs.size else np.zeros(0, bool)
    block.add("found.count", each)
    gap = np.where(first, pair_ranks, np.diff(pair_ranks, prepend=0) - 1)
    within = np.arange(pairs.size) - np.repeat(np.cumsum(each) - each, each)
    narrow = within.astype(np.uint16 if species.size < 65_536 else np.int64)  # sorted ten times quicker
    by_place = np.argsort(narrow, kind="stable")
    block.add_ordered("found.gap", gap[by_place], np.flatnonzero(np.diff(within[by_place], prepend=-1)))
    block.add("found.classes", masks)
    if pairs.size <= MOST_DETAIL:
        _add_detail(block, tally, pair_of, pairs.size)
    block.know("found.in:0", each)
    for k in range(len(page.classes)):
        is_in = (masks >> k & 1).astype(bool)
        is_first = is_in & (masks & ((1 << k) - 1) == 0)
        block.know(f"found.in:{k + 1}", np.bincount(pair_squares[is_in], minlength=placed.squares.size))
        block.know(f"found.first:{k + 1}", np.bincount(pair_squares[is_first], minlength=placed.squares.size))


def _numbered(keys: Whole, end: int) -> tuple[Whole, Whole]:
    """The different keys in order, and the place of each among them; a table of all possible ones is quickest."""
    if end > MOST_POSSIBLE:
        return np.unique(keys, return_inverse=True)
    is_there = np.zeros(end, dtype=bool)
    is_there[keys] = True
    different = np.flatnonzero(is_there)
    place = np.empty(end, dtype=np.int32)
    place[different] = np.arange(different.size, dtype=np.int32)
    return different, place[keys].astype(np.int64)


def _add_detail(block: Block, tally: pd.DataFrame, pair_of: Whole, pairs: int) -> None:
    total = (tally["date_class"] == ALL_DATES).to_numpy()
    for column, given in (("records", "classes"), ("visits", "records"), ("last", "classes"), ("first", "last")):
        values = np.zeros(pairs, dtype=np.int64)
        values[pair_of[total]] = tally.loc[total, column].to_numpy(np.int64)
        block.add(f"found.{column}", values, f"found.{given}")


def _class_rows(frame: pd.DataFrame, placed: Placed, date_class: int) -> pd.DataFrame:
    """Rows of one date class in the order of the page's squares; squares without a row are empty."""
    rows = frame[frame["date_class"] == date_class].set_index("square")
    return rows.reindex(placed.squares)


def _class_columns(page: Page) -> list[int]:
    return [ALL_DATES, *range(len(page.classes))]


def _add_effort(block: Block, page: Page, placed: Placed) -> None:
    """Add effort by class, first all dates. Months go with all dates only."""
    for place, date_class in enumerate(_class_columns(page)):
        rows = _class_rows(page.effort, placed, date_class)
        name = f"effort.{place}"
        block.add(f"{name}.species", rows["species"].fillna(0).astype("int64"), f"found.in:{place}")
        for column, given in EFFORT_NUMBERS.items():
            block.add(f"{name}.{column}", rows[column].fillna(0).astype("int64"), f"{name}.{given}")
        if "not_done" in rows:
            block.add_texts(f"{name}.not_done", rows["not_done"], f"{name}.visits")
    total = _class_rows(page.effort, placed, ALL_DATES)
    block.add("effort.0.months", total["months"].fillna(0).astype("int64"), "effort.0.visits")


def _add_standing(block: Block, page: Page, placed: Placed) -> None:
    if page.standing is None:
        return
    codes = {word: code for code, word in enumerate(_standings(page), start=1)}
    for place, date_class in enumerate(_class_columns(page)):
        rows = _class_rows(page.standing, placed, date_class)
        name, effort = f"standing.{place}", f"effort.{place}"
        block.add(f"{name}.code", rows["standing"].map(codes).fillna(0).astype("int64"), f"{effort}.visits")
        told = _told_beside(page, placed, place)
        block.add_texts(f"{name}.reason", rows["reason"], f"{name}.code", f"{effort}.species", beside=told)
        for column, (scale, given) in STANDING_NUMBERS.items():
            numbers = rows[column].to_numpy(np.float64, na_value=np.nan)
            block.add_decimals(f"{name}.{column}", numbers, scale, given.format(place=place))


def _add_still(block: Block, page: Page, placed: Placed) -> None:
    """Species still to find in each square, with the interval; nothing where it cannot be said."""
    if page.still is None:
        return
    rows = page.still.set_index("square").reindex(placed.squares)
    for name in ("still_to_find", "still_low", "still_high"):
        block.add_decimals(f"still.{name}", rows[name].to_numpy(np.float64, na_value=np.nan), 10)


def _told_beside(page: Page, placed: Placed, place: int) -> dict[str, Whole]:
    """The columns of effort and standing whose numbers the reasons may repeat."""
    date_class = _class_columns(page)[place]
    effort = _class_rows(page.effort, placed, date_class)
    names = (*EFFORT_NUMBERS, "species")
    told = {f"effort.{place}.{name}": effort[name].fillna(0).to_numpy(np.int64) for name in names}
    if page.standing is not None:
        standing = _class_rows(page.standing, placed, date_class)
        for name, (scale, _) in STANDING_NUMBERS.items():
            if scale == 1:
                numbers = np.rint(standing[name].to_numpy(np.float64, na_value=np.nan))
                told[f"standing.{place}.{name}"] = np.where(np.isfinite(numbers), numbers, -1).astype(np.int64)
    return told


def _measures(page: Page) -> list[str]:
    """What squares can be coloured by: a measure that no record tells is left out."""
    total = page.effort[page.effort["date_class"] == ALL_DATES]
    found = ["standing"] if page.standing is not None else []
    found += [name for name in MEASURES if (total[name] > 0).any()]
    if page.standing is not None and page.standing.loc[page.standing["date_class"] >= 0, "refound_share"].notna().any():
        found.append("refound")
    return [*found, "still"] if page.still is not None else found


def _told(page: Page) -> list[str]:
    """Columns of the effort table in which any record tells something."""
    total = page.effort[page.effort["date_class"] == ALL_DATES]
    names = ("species", "records", "visits", "lists", "recorders", "last")
    return [name for name in names if (total[name] > 0).any()]


def _standings(page: Page) -> list[str]:
    if page.standing is None:
        return []
    seen = [str(word) for word in pd.unique(page.standing["standing"].dropna())]
    return [*STANDINGS, *(word for word in seen if word not in STANDINGS)]


def _add_background(block: Block, page: Page) -> None:
    tolerance = page.side / 40
    if page.boundary is not None:
        add_lines(block, "boundary", list(page.boundary.geometry), tolerance)
    for number, layer in enumerate(page.background):
        add_lines(block, f"layer.{number}", list(layer.shapes.geometry), tolerance)
        if layer.kind == "place":
            names = layer.shapes["name"] if "name" in layer.shapes else pd.Series([""] * len(layer.shapes))
            block.add_strings(f"layer.{number}.names", names.fillna("").astype(str))
    if page.too_coarse_squares is not None:
        squares = page.too_coarse_squares["square"].to_numpy(np.int64)
        add_lines(block, "coarse", list(polygons(squares, page.system)) if squares.size else [])
        block.add("coarse.records", page.too_coarse_squares["records"].to_numpy(np.int64))
        block.add_texts("coarse.reference", list(squares_to_references(squares)) if squares.size else [])


def _facts(page: Page, placed: Placed, words: Mapping[str, str]) -> dict[str, Any]:
    standings = _standings(page)
    shapes = [layer.shapes for layer in page.background if layer.kind in ("land", "place")]
    area = [page.boundary] if page.boundary is not None else []
    whole = bounds_of(placed, page.side, area or shapes)
    extent = bounds_of(placed, page.side, area or shapes, beyond=True)
    view, outside = (whole, 0) if page.boundary is not None else nearly_all(placed, page.side)
    return {
        "title": clean(page.title),
        "notice": clean(page.notice),
        "edition": page.edition,
        "opens_at": page.opens_at,
        "made_on": page.made_on.isoformat(),
        "system": page.system.title,
        "side": page.side,
        "classes": [date_class.label for date_class in page.classes],
        "standings": [clean(word) for word in standings],
        "standing_looks": [STANDING_LOOKS.get(word, ("pale", "back")) for word in standings],
        "standing_carries": [word in STANDING_CARRIES for word in standings],
        "measures": _measures(page),
        "told": _told(page),
        "files": [clean(name) for name in page.files],
        "thresholds": [clean(line) for line in page.thresholds],
        "remarks": [clean(line) for line in page.remarks],
        "too_coarse": page.too_coarse,
        "squares": int(placed.squares.size),
        "picture": [placed.in_picture, placed.west, placed.south, placed.width, placed.height],
        "extent": extent,
        "view": view if outside else whole,
        "outside_view": outside,
        "beyond": int(placed.beyond.size),
        "hundreds": hundreds_under(page.system.key, extent),
        "layers": [{"name": clean(layer.name), "kind": layer.kind} for layer in page.background],
        "words": dict(words),
    }


def hundreds_under(system_key: int, extent: list[int]) -> list[list[Any]]:
    """The 100 km squares under the map: name, easting and northing, for the grid's letters and for finding places."""
    west, south, east, north = (number // HUNDRED_KM * HUNDRED_KM for number in extent)
    eastings, northings = np.meshgrid(
        np.arange(west - HUNDRED_KM, east + 2 * HUNDRED_KM, HUNDRED_KM),
        np.arange(south - HUNDRED_KM, north + 2 * HUNDRED_KM, HUNDRED_KM),
    )
    squares = square_at(system_key, eastings.ravel(), northings.ravel(), HUNDRED_KM)
    known = squares != NO_SQUARE
    names = squares_to_references(squares[known])
    corners = zip(names, eastings.ravel()[known], northings.ravel()[known], strict=True)
    return [[clean(str(name)), int(easting), int(northing)] for name, easting, northing in corners if name]
