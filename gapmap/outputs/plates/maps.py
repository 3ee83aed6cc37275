"""Map plates: how each square stands, how much was found, one species, what is still to find."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from gapmap.columns import ALL_DATES
from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.sheet import STEPS, Shade, blank_sheet, draw_map, step_ends, step_shades
from gapmap.settings import DateClass

_NUMBERS = {"species": "species", "visits": "visits", "lists": "lists", "last": "last year"}
_STANDING_FILLS = {
    "thoroughly covered and poor": ("#5c6f3f", "//"),
    "well covered": (STEPS[4], ""),
    "part covered": (STEPS[3], ""),
    "begun": (STEPS[1], ""),
    "casual records only": (STEPS[0], ""),
    "gone stale": ("#b86b3c", "xx"),
    "can't say": ("#e4e1d8", "////"),
    "not visited": ("#ffffff", ".."),
}


def coverage_plate(page: Page, colour_by: str = "standing", date_class: int = ALL_DATES) -> Figure:
    """A map of all squares.

    Parameters
    ----------
    page
        Tables and words.
    colour_by
        ``standing``, ``species``, ``visits``, ``lists`` or ``last``.
    date_class
        Index of the date class; -1 for all dates.
    """
    if colour_by == "standing" and page.standing is not None:
        return _standing_plate(page, date_class)
    rows = page.effort[page.effort["date_class"] == date_class]
    values = rows[colour_by].to_numpy()
    unit = _NUMBERS[colour_by]
    caption = f"Each square of {side_words(page.side)}: {unit}, {class_words(page, date_class)}. {coarse_words(page)}"
    figure = blank_sheet(page, f"{unit.capitalize()}, {class_words(page, date_class)}", caption)
    if colour_by == "last":
        ends, shades = _year_steps(values)
    else:
        ends = step_ends(values)
        shades = step_shades(ends, unit)
    codes = np.searchsorted(ends, values).clip(max=max(len(ends) - 1, 0))
    shades = [*shades, Shade("none", "#e4e1d8")]
    codes = np.where(values > 0, codes, len(shades) - 1)
    draw_map(figure, page, rows["square"].to_numpy("int64"), codes.astype("int64"), shades)
    return figure


def species_plate(page: Page, species_id: int) -> Figure:
    """Where one species was found, by the latest date class it was found in."""
    name = str(page.species.set_index("species_id").loc[species_id, "name"])
    vernacular = str(page.species.set_index("species_id").loc[species_id, "vernacular"])
    rows = page.tally[(page.tally["species_id"] == species_id)]
    latest = rows.groupby("square")["date_class"].max()
    count = len(page.classes)
    fills = [STEPS[round(n * 4 / max(count - 1, 1))] if count > 1 else STEPS[4] for n in range(count)]
    shades = [
        *(Shade(each.label, fill) for each, fill in zip(page.classes, fills, strict=True)),
        Shade("date crosses classes", "#e4e1d8", "//"),
    ]
    codes = np.where(latest.to_numpy() < 0, count, latest.to_numpy())
    title = f"{name} ({vernacular})" if vernacular else name
    caption = (
        f"{name}: {len(latest):,} squares of {side_words(page.side)}, coloured by the latest date class with a record. "
        f"An empty square is not a square without it. {coarse_words(page)}"
    )
    figure = blank_sheet(page, title, caption)
    draw_map(figure, page, latest.index.to_numpy("int64"), codes.astype("int64"), shades)
    return figure


def still_to_find_plate(page: Page) -> Figure:
    """How many species are still to be found in each square, by the sum of their chances."""
    assert page.expected is not None
    never = page.expected[(page.expected["found_before"] == 0) & page.expected["chance"].notna()]
    sums = never.groupby("square")["chance"].sum()
    ends = step_ends(np.ceil(sums.to_numpy()))
    codes = np.searchsorted(ends, np.ceil(sums.to_numpy())).clip(max=max(len(ends) - 1, 0))
    caption = (
        f"Each square of {side_words(page.side)}: the summed chances of all species expected there and not yet found. "
        "It is an expectation with its uncertainty, not a promise."
    )
    figure = blank_sheet(page, "Species still to find", caption)
    draw_map(figure, page, sums.index.to_numpy("int64"), codes.astype("int64"), step_shades(ends, "species"))
    return figure


def side_words(side: int) -> str:
    """A side in words, ``2 km`` or ``100 m``."""
    return f"{side // 1000} km" if side >= 1000 else f"{side} m"


def class_words(page: Page, date_class: int) -> str:
    """The date class in words."""
    each: DateClass | None = None if date_class == ALL_DATES else page.classes[date_class]
    return "all years" if each is None else each.label


def coarse_words(page: Page) -> str:
    """How many records the map cannot show."""
    return f"{page.too_coarse:,} records are too coarse for these squares and are not drawn." if page.too_coarse else ""


def _standing_plate(page: Page, date_class: int) -> Figure:
    assert page.standing is not None
    rows = page.standing[page.standing["date_class"] == date_class]
    present = [
        word for word in dict.fromkeys([*_STANDING_FILLS, *rows["standing"]]) if (rows["standing"] == word).any()
    ]
    counts = rows["standing"].value_counts()
    shades = [Shade(f"{word}: {counts[word]:,}", *_STANDING_FILLS.get(word, ("#e4e1d8", "////"))) for word in present]
    codes = rows["standing"].map({word: number for number, word in enumerate(present)}).to_numpy("int64")
    caption = (
        f"How each square of {side_words(page.side)} stands, {class_words(page, date_class)}. "
        + "; ".join(page.thresholds)
        + f". {coarse_words(page)}"
    )
    figure = blank_sheet(page, f"Coverage, {class_words(page, date_class)}", caption)
    draw_map(figure, page, rows["square"].to_numpy("int64"), codes, shades)
    return figure


def _year_steps(values: np.ndarray) -> tuple[list[int], list[Shade]]:
    known = np.sort(values[values > 0])
    if not known.size:
        return [], []
    ends = sorted(
        {int(known[min(known.size - 1, int(np.ceil(s * known.size)) - 1)]) for s in (0.2, 0.4, 0.6, 0.8, 1.0)}
    )
    fills = [STEPS[round(n * 4 / max(len(ends) - 1, 1))] if len(ends) > 1 else STEPS[4] for n in range(len(ends))]
    starts = [int(known[0]), *(end + 1 for end in ends[:-1])]
    return ends, [
        Shade(f"{low}–{high}" if low != high else str(low), fill)
        for low, high, fill in zip(starts, ends, fills, strict=True)
    ]
