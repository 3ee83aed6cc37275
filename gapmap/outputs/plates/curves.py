"""Curves and calendars: growth of what is known by year, and when each species is found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from gapmap.columns import ALL_DATES
from gapmap.expected.seasons import FEW_LISTS
from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.sheet import INK, PALE, PRINT_STYLE, SOFT, STEPS, UPRIGHT, Shade, blank_sheet, draw_legend

#: Species on one sheet of the calendar.
MOST_ROWS = 60
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_CURVES = ((0.1, 0.66, 0.83, 0.21), (0.1, 0.405, 0.83, 0.21), (0.1, 0.15, 0.83, 0.21))


def growth_plate(page: Page) -> Figure:
    """Species known, squares with records and lists made, year by year."""
    total = page.tally[(page.tally["date_class"] == ALL_DATES) & (page.tally["first"] > 0)]
    counting = total[total["species_id"].isin(page.species.loc[page.species["counts"].astype(bool), "species_id"])]
    species = counting.groupby("species_id")["first"].min().value_counts().sort_index().cumsum()
    squares = total.groupby("square")["first"].min().value_counts().sort_index().cumsum()
    caption = (
        "Species and squares, added up by the first year they have a record in, and lists made in each year. "
        "A date of several years counts from its first where there is no other. Records whose year is not known are "
        "left out."
    )
    last = int(page.tally["last"].max()) if len(page.tally) else 0
    with rc_context(PRINT_STYLE):
        figure = blank_sheet(page, "Growth by year", caption)
        _curve(figure.add_axes(_CURVES[0]), species, last, "species known")
        _curve(figure.add_axes(_CURVES[1]), squares, last, "squares with records")
        if page.lists is not None and len(page.lists):
            by_year = page.lists.loc[page.lists["year"] > 0, "year"].value_counts().sort_index()
            axes = figure.add_axes(_CURVES[2])
            axes.bar(by_year.index, by_year.to_numpy(), color=STEPS[2], width=0.85)
            _tidy(axes, "lists made in the year")
    return figure


def calendar_plates(page: Page, calendar: pd.DataFrame, species: pd.DataFrame) -> list[Figure]:
    """A row of twelve months for each species, darker where a list is likelier to hold it; sixty to a sheet.

    Parameters
    ----------
    page
        Words and date.
    calendar
        As ``expected.seasons.calendar`` returns: ``species_id``, ``month``, ``lists``, ``finds``, ``can_say``.
    species
        columns.SPECIES: the rows, by group and name; those never found on a list of a known month are left out.
    """
    lists, finds, can_say = _by_month(calendar)
    seen = finds.index[finds.sum(axis=1) > 0]
    rows = species[species["species_id"].isin(seen)].sort_values(["group", "name"], kind="stable")
    shares = (finds / lists.where(can_say)).reindex(rows["species_id"]).to_numpy(dtype=np.float64)
    names = rows["name"].tolist()
    starts = range(0, max(len(names), 1), MOST_ROWS)
    with rc_context(PRINT_STYLE):
        sheets = []
        for number, start in enumerate(starts, start=1):
            part = f" ({number} of {len(starts)})" if len(starts) > 1 else ""
            rows_of = slice(start, start + MOST_ROWS)
            sheets.append(_calendar_sheet(page, shares[rows_of], names[rows_of], part))
        return sheets


def _by_month(calendar: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Lists, finds and whether they are enough to say anything, species × month, the times of day taken together."""
    known = calendar[calendar["month"] > 0]
    sums = known.groupby(["species_id", "month"])[["lists", "finds"]].sum()
    sums["can_say"] = sums["lists"] >= FEW_LISTS
    months = range(1, 13)
    return tuple(  # type: ignore[return-value]
        sums[name].unstack(fill_value=empty).reindex(columns=months, fill_value=empty)
        for name, empty in (("lists", 0), ("finds", 0), ("can_say", False))
    )


def _calendar_sheet(page: Page, shares: npt.NDArray[np.float64], names: Sequence[str], part: str) -> Figure:
    caption = (
        "Share of the lists of each month that hold the species, against its best month: a month in which people go "
        "out more does not look like its season. Too few lists in a month to say anything: hatched."
    )
    figure = blank_sheet(page, f"When each species is found{part}", caption)
    steps = [Shade(f"{k * 20}–{k * 20 + 20} % of its best month", fill) for k, fill in enumerate(STEPS)]
    shades = [Shade("not found", "#ffffff"), *steps]
    draw_legend(figure, UPRIGHT, [*shades, Shade("can't say", PALE, "////", INK)])
    high = 0.635 * max(min(len(names), MOST_ROWS), 4) / MOST_ROWS
    axes = figure.add_axes((0.4, 0.87 - high, 0.53, high))
    if not names:
        axes.set_axis_off()
        axes.text(0, 0.5, "No list with a known month holds a species.", fontsize=10, color=INK)
        return figure
    known = np.isfinite(shares)
    best = np.max(np.where(known, shares, 0), axis=1, keepdims=True)
    step = np.floor(np.divide(shares, best, out=np.zeros_like(shares), where=known & (best > 0)) * 5).clip(0, 4)
    picture = np.ones((*shares.shape, 4))
    for k, fill in enumerate(STEPS):
        picture[known & (step == k)] = to_rgba(fill)
    picture[known & (shares == 0)] = (1, 1, 1, 1)
    axes.imshow(picture, aspect="auto", interpolation="none")
    for row, month in np.argwhere(~known):
        axes.add_patch(
            Rectangle((month - 0.5, row - 0.5), 1, 1, facecolor=PALE, edgecolor=INK, hatch="////", linewidth=0)
        )
    axes.set_xticks(range(12), _MONTHS)
    axes.xaxis.tick_top()
    axes.set_yticks(range(len(names)), [name if len(name) <= 44 else name[:43] + "…" for name in names], style="italic")
    axes.tick_params(length=0, labelsize=7, colors=INK)
    axes.set_xticks(np.arange(13) - 0.5, minor=True)
    axes.set_yticks(np.arange(len(names) + 1) - 0.5, minor=True)
    axes.grid(which="minor", color="#c9cdd1", linewidth=0.4)
    axes.tick_params(which="minor", length=0)
    return figure


def _curve(axes: Axes, values: pd.Series, last: int, label: str) -> None:
    if len(values):
        years = [*values.index.astype(int), max(last, int(values.index[-1]))]
        axes.step(years, [*values.to_numpy(), values.iloc[-1]], where="post", color=STEPS[4], linewidth=1.6)
        axes.set_ylim(bottom=0)
    _tidy(axes, label)


def _tidy(axes: Axes, label: str) -> None:
    axes.set_title(label, loc="left", fontsize=9, color=INK)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=8, colors=SOFT)
    axes.xaxis.set_major_locator(MaxNLocator(8, integer=True))
    axes.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    axes.grid(axis="y", linewidth=0.3)
