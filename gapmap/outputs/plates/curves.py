"""Curves and calendars: growth of what is known by year, and when each species is found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from gapmap.columns import ALL_DATES
from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.sheet import INK, SOFT, STEPS, blank_sheet, plain

_MONTHS = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")


def growth_plate(page: Page) -> Figure:
    """Species known, squares with records and lists made, year by year."""
    total = page.tally[(page.tally["date_class"] == ALL_DATES) & (page.tally["first"] > 0)]
    species = total.groupby("species_id")["first"].min().value_counts().sort_index().cumsum()
    squares = total.groupby("square")["first"].min().value_counts().sort_index().cumsum()
    caption = (
        "Cumulative species and squares by the first year they have a record in, and lists made in each year. "
        "Records whose year is not known are left out."
    )
    figure = blank_sheet(page, "Growth by year", caption)
    _curve(figure, (0.1, 0.66, 0.83, 0.22), species, "species known")
    _curve(figure, (0.1, 0.40, 0.83, 0.22), squares, "squares with records")
    if page.lists is not None and len(page.lists):
        by_year = page.lists.loc[page.lists["year"] > 0, "year"].value_counts().sort_index()
        axes = figure.add_axes((0.1, 0.15, 0.83, 0.21))
        axes.bar(by_year.index, by_year.to_numpy(), color=STEPS[2], width=0.85)
        _tidy(axes, "lists made in the year")
    return figure


def calendar_plate(page: Page, calendar: pd.DataFrame, names: Sequence[str]) -> Figure:
    """A row of twelve months for each species, darker where a list is likelier to hold it.

    Parameters
    ----------
    page
        Words and date.
    calendar
        One row a species, twelve columns: share of the lists of the month that hold it, empty where there
        are too few lists to say.
    names
        Species of the rows.
    """
    caption = (
        "Share of the lists of each month that hold the species, so that a month in which people go out more "
        "does not look like its season. Hatched: too few lists to say."
    )
    figure = blank_sheet(page, "When each species is found", caption)
    axes = figure.add_axes((0.42, 0.14, 0.5, 0.75))
    values = calendar.to_numpy(dtype="float64")
    highest = np.nanmax(np.where(np.isnan(values), 0, values), axis=1, keepdims=True)
    share = np.divide(values, highest, out=np.full_like(values, np.nan), where=highest > 0)
    axes.imshow(share, cmap="cividis_r", vmin=0, vmax=1, aspect="auto", interpolation="none")
    for row, month in np.argwhere(np.isnan(share)):
        axes.add_patch(_cell(month, row))
    axes.set_xticks(range(12), _MONTHS)
    axes.set_yticks(
        range(len(names)), [plain(name) for name in names], fontsize=max(4.0, min(8.0, 420 / max(len(names), 1)))
    )
    axes.tick_params(length=0)
    return figure


def _curve(figure: Figure, place: tuple[float, float, float, float], values: pd.Series, label: str) -> None:
    axes = figure.add_axes(place)
    if len(values):
        axes.step(values.index, values.to_numpy(), where="post", color=STEPS[4], linewidth=1.6)
        axes.set_ylim(bottom=0)
    _tidy(axes, label)


def _tidy(axes: Axes, label: str) -> None:
    axes.set_title(label, loc="left", fontsize=9, color=INK)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=8, colors=SOFT)
    axes.grid(axis="y", linewidth=0.3)


def _cell(month: int, row: int) -> Rectangle:
    return Rectangle((month - 0.5, row - 0.5), 1, 1, facecolor="#e4e1d8", edgecolor=SOFT, hatch="////", linewidth=0)
