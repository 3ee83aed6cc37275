"""Map plates: how each square stands, how much was found, one species, what is still to find."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from matplotlib import rc_context
from matplotlib.figure import Figure

from gapmap.columns import ALL_DATES
from gapmap.coverage.reasons import side_words
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.gather import STANDING_CARRIES, STANDING_LOOKS
from gapmap.outputs.plates.ground import Ground, draw_map, ground_of
from gapmap.outputs.plates.sheet import INK, PALE, PAPER, PRINT_STYLE, SOFT, STEPS, Shade, blank_sheet
from gapmap.typed import DateClass

_NUMBERS = {"species": "species", "visits": "visits", "lists": "lists", "last": "last year"}
#: The page's hatches as print draws them.
_HATCHES = {
    "": ("", SOFT), "dot": ("..", "#8b8f94"), "dash": ("--", "#6f7479"), "light": ("\\\\\\", "#ffffff"),
    "cross": ("xxx", INK), "lines": ("////", INK), "back": ("\\\\\\", INK),
}  # fmt: skip
NOT_VISITED = ("not visited", PAPER, *_HATCHES["dot"])
NONE_HERE = ("none", PALE, *_HATCHES["dash"])


def coverage_plate(
    page: Page, colour_by: str = "standing", date_class: int = ALL_DATES, ground: Ground | None = None
) -> Figure:
    """A map of all squares.

    Parameters
    ----------
    page
        Tables and words.
    colour_by
        ``standing``, ``species``, ``visits``, ``lists`` or ``last``.
    date_class
        Index of the date class; -1 for all dates.
    ground
        From ``ground_of(page)`` where several plates are drawn.
    """
    if colour_by == "standing" and page.standing is not None:
        return _standing_plate(page, date_class, ground or ground_of(page))
    colour_by = "species" if colour_by == "standing" else colour_by
    rows = page.effort[page.effort["date_class"] == date_class]
    values, unit, when = rows[colour_by].to_numpy(), _NUMBERS[colour_by], class_words(page, date_class)
    is_year = colour_by == "last"
    ends = step_ends(values)
    shades = step_shades(ends, "" if is_year else unit, int(values[values > 0].min()) if is_year and ends else 1)
    codes = np.searchsorted(ends, values).clip(max=max(len(ends) - 1, 0))
    codes = np.where(values > 0, codes, np.where(rows["records"] > 0, len(shades), len(shades) + 1))
    unknown = ("year not known", *NONE_HERE[1:]) if is_year else (f"no {unit}", *NONE_HERE[1:])
    caption = f"{unit.capitalize()} in each square of {side_words(page.side)}, {when}. {coarse_words(page)}"
    return _map_plate(
        page, ground, f"{unit.capitalize()}, {when}", caption, rows["square"].to_numpy(np.int64), codes,
        [*shades, Shade(*unknown), Shade(*NOT_VISITED)],
    )  # fmt: skip


def species_plate(page: Page, species_id: int, ground: Ground | None = None) -> Figure:
    """Where one species was found, by the latest date class it was found in."""
    row = page.species.set_index("species_id").loc[species_id]
    name, vernacular = str(row["name"]), str(row["vernacular"])
    rows = page.tally[page.tally["species_id"] == species_id]
    latest = rows.groupby("square")["date_class"].max()
    count = len(page.classes)
    fills = [STEPS[round(n * 4 / max(count - 1, 1))] if count > 1 else STEPS[4] for n in range(count)]
    shades = [
        *(Shade(f"last found {each.label}", fill) for each, fill in zip(page.classes, fills, strict=True)),
        Shade("found, dated to no one class", PALE, *_HATCHES["cross"]),
        Shade("visited enough, not found", PALE, *_HATCHES["dash"]),
        Shade("can't say: too few visits", PALE, *_HATCHES["lines"]),
        Shade(*NOT_VISITED),
    ]
    total = page.effort[page.effort["date_class"] == ALL_DATES].set_index("square")["records"]
    squares = np.union1d(total.index.to_numpy(np.int64), latest.index.to_numpy(np.int64))
    found = latest.reindex(squares)
    visited = total.reindex(squares).fillna(0).to_numpy() > 0
    missing = np.select([np.isin(squares, _looked_enough(page)), visited], [count + 1, count + 2], count + 3)
    codes = np.where(found.isna(), missing, np.where(found < 0, count, found.fillna(0)))
    caption = (
        f"{name}: found in {_squares(len(latest))} of {side_words(page.side)}, coloured by the latest date class "
        f"with a record. Where it was not found it may still live. {coarse_words(page, ' of all species')}"
    )
    title = f"{name} ({vernacular})" if vernacular else name
    return _map_plate(page, ground, title, caption, squares, codes, shades)


def still_to_find_plate(page: Page, ground: Ground | None = None) -> Figure:
    """How many species are still to be found in each square: the numbers of ``page.still``."""
    assert page.still is not None
    still = page.still.set_index("square")["still_to_find"]
    total = page.effort.loc[page.effort["date_class"] == ALL_DATES, "square"].to_numpy(np.int64)
    squares = np.union1d(total, still.index.to_numpy(np.int64))
    values = np.floor(np.round(still.reindex(squares).to_numpy(np.float64), 1) + 0.5)  # as on the page
    ends = step_ends(values)
    steps = np.searchsorted(ends, values).clip(max=max(len(ends) - 1, 0))
    codes = np.where(values > 0, steps, np.where(values == 0, len(ends), len(ends) + 1))
    caption = (
        f"Each square of {side_words(page.side)}: the summed chances of the species expected there and never found "
        "there yet, rounded. It is an expectation, not a promise; where it cannot be said, no number is given. "
        f"{coarse_words(page)}"
    )
    none, unknown = Shade("none or hardly any", *NONE_HERE[1:]), Shade("can't say", PALE, *_HATCHES["lines"])
    shades = [*step_shades(ends, "species"), none, unknown]
    return _map_plate(page, ground, "Species still to find", caption, squares, codes, shades)


def step_ends(values: npt.ArrayLike) -> list[int]:
    """Upper ends of at most five steps that hold about the same number of squares.

    Examples
    --------
    >>> step_ends([1, 2, 3, 4, 5, 6, 7, 8, 9, 10]), step_ends([])
    ([2, 4, 6, 8, 10], [])
    """
    array = np.asarray(values)
    positive = np.sort(array[array > 0])
    if not positive.size:
        return []
    places = [int(np.ceil(share * positive.size)) - 1 for share in (0.2, 0.4, 0.6, 0.8, 1.0)]
    return sorted({int(np.ceil(positive[place])) for place in places})


def step_shades(ends: Sequence[int], unit: str, first: int = 1) -> list[Shade]:
    """Legend lines of the steps, pale for little and dark for much.

    Examples
    --------
    >>> [s.label for s in step_shades([2, 9], "species")]
    ['1–2 species', '3–9 species']
    """
    starts = [first, *(end + 1 for end in ends)][: len(ends)]
    fills = [STEPS[round(n * 4 / max(len(ends) - 1, 1))] if len(ends) > 1 else STEPS[3] for n in range(len(ends))]
    return [
        Shade((f"{low}–{high} {unit}" if low != high else f"{low} {unit}").strip(), fill)
        for low, high, fill in zip(starts, ends, fills, strict=True)
    ]


def class_words(page: Page, date_class: int) -> str:
    """The date class in words."""
    each: DateClass | None = None if date_class == ALL_DATES else page.classes[date_class]
    return "all years" if each is None else each.label


def coarse_words(page: Page, of: str = "") -> str:
    """How many records the map cannot show, and of what where the plate is of something else."""
    if not page.too_coarse:
        return ""
    one = page.too_coarse == 1
    records = f"record{of} is" if one else f"records{of} are"
    return f"{page.too_coarse:,} {records} too coarse for these squares and not drawn."


def _squares(count: int) -> str:
    return f"{count:,} square" if count == 1 else f"{count:,} squares"


def _standing_plate(page: Page, date_class: int, ground: Ground) -> Figure:
    assert page.standing is not None
    rows = page.standing[page.standing["date_class"] == date_class]
    words = [word for word in dict.fromkeys([*STANDING_LOOKS, *rows["standing"]]) if (rows["standing"] == word).any()]
    counts = rows["standing"].value_counts()
    shades = [Shade(f"{word}: {counts[word]:,}", *_look(word)) for word in words]
    codes = rows["standing"].map({word: number for number, word in enumerate(words)}).to_numpy(np.int64)
    when = class_words(page, date_class)
    caption = f"How each square of {side_words(page.side)} stands, {when}. " + "; ".join(page.thresholds)
    caption = f"{caption.rstrip('.')}. {coarse_words(page)}"
    return _map_plate(page, ground, f"Coverage, {when}", caption, rows["square"].to_numpy(np.int64), codes, shades)


def _looked_enough(page: Page) -> npt.NDArray[np.int64]:
    """Squares in which a species that was not found was looked for hard enough to say so: as on the page."""
    if page.standing is None:
        return np.zeros(0, np.int64)
    rows = page.standing[page.standing["date_class"] == ALL_DATES]
    return rows["square"].to_numpy(np.int64)[rows["standing"].isin(STANDING_CARRIES)]


def _look(word: str) -> tuple[str, str, str]:
    """Fill, hatch and the hatch's colour of a standing: as on the page."""
    fill, hatch = STANDING_LOOKS.get(word, ("pale", "back"))
    return ({"paper": PAPER, "pale": PALE}.get(fill) or STEPS[int(fill)], *_HATCHES[hatch])


def _map_plate(
    page: Page, ground: Ground | None, title: str, caption: str, squares: npt.NDArray[np.int64],
    codes: npt.NDArray[np.int64], shades: Sequence[Shade],
) -> Figure:  # fmt: skip
    """A sheet with a map on it; the legend holds the shades that are on the map, or all when it is empty."""
    with rc_context(PRINT_STYLE):
        ready = ground or ground_of(page)
        figure = blank_sheet(page, title, caption, ready.paper)
        used = np.unique(codes).astype(int)
        kept = [shades[number] for number in used] if used.size else list(shades)
        draw_map(figure, ready, squares, np.searchsorted(used, codes), kept)
    return figure
