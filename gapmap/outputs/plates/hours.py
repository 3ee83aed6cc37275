"""When one species is about: months × hours, corrected for when people go out."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.sheet import INK, PALE, PRINT_STYLE, STEPS, UPRIGHT, Shade, blank_sheet, draw_legend

_MONTHS = ("all year", "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_HOURS = 24
#: Where one shade of activity ends and the next begins, and what the shades say.
_ENDS = (0.5, 0.8, 1.25, 2.0)
_WORDS = ("under half of the average", "less than on average", "about the average", "oftener", "over twice as often")
_WHITE = (1.0, 1.0, 1.0, 1.0)


def hours_plate(page: Page, species_id: int, hours: pd.DataFrame) -> Figure:
    """Draw the activity of one species by month and hour of the clock, and how many lists were made then.

    Parameters
    ----------
    page
        Words, date and names.
    species_id
        Which species.
    hours
        As ``expected.hours.hour_calendar`` returns: ``species_id``, ``month`` (0 for the whole year), ``hour``,
        ``lists``, ``activity``, ``can_say``.
    """
    name = str(page.species.set_index("species_id").loc[species_id, "name"])
    own = hours[hours["species_id"] == species_id]
    caption = (
        "How often a list made then holds it, against the average list: an hour at which many people go out does not "
        "look like its hour. Numbers: lists of its group made then. Hatched: fewer than five, hardly a hint. White: "
        "nobody has looked, which is not to say that it is not about."
    )
    with rc_context(PRINT_STYLE):
        figure = blank_sheet(page, f"{name}: months and hours", caption)
        shades = [Shade(words, fill) for words, fill in zip(_WORDS, STEPS, strict=True)]
        ends = Shade("nobody has looked", "#ffffff"), Shade("few lists", PALE, "////", INK)
        draw_legend(figure, UPRIGHT, [ends[0], *shades, ends[1]])
        axes = figure.add_axes((0.13, 0.27, 0.8, 0.58))
        if own.empty:
            axes.set_axis_off()
            axes.text(0, 0.5, "No list of its group tells the hour.", fontsize=10, color=INK)
        else:
            _draw_cells(axes, own)
    return figure


def _draw_cells(axes: Axes, own: pd.DataFrame) -> None:
    picture = np.empty((len(_MONTHS), _HOURS, 4))
    picture[:] = _WHITE
    for row in own[own["lists"] > 0].to_dict("records"):
        month, hour = int(row["month"]), int(row["hour"])
        step = int(np.searchsorted(_ENDS, row["activity"], side="right"))
        picture[month, hour] = to_rgba(STEPS[step])
        if not row["can_say"]:
            edge = (hour - 0.5, month - 0.5)
            axes.add_patch(Rectangle(edge, 1, 1, facecolor="none", edgecolor=INK, hatch="////", linewidth=0))
        number, is_dark = int(row["lists"]), step >= len(STEPS) - 2
        axes.text(hour, month, str(number), ha="center", va="center", fontsize=6, color="#fff" if is_dark else INK)
    axes.imshow(picture, aspect="auto", interpolation="none")
    axes.set_xticks(range(_HOURS), [f"{hour:02d}" for hour in range(_HOURS)])
    axes.set_yticks(range(len(_MONTHS)), _MONTHS)
    axes.xaxis.tick_top()
    axes.tick_params(length=0, labelsize=7, colors=INK)
    axes.set_xticks(np.arange(_HOURS + 1) - 0.5, minor=True)
    axes.set_yticks(np.arange(len(_MONTHS) + 1) - 0.5, minor=True)
    axes.grid(which="minor", color="#c9cdd1", linewidth=0.4)
    axes.tick_params(which="minor", length=0)
    axes.axhline(0.5, color=INK, linewidth=0.8)
