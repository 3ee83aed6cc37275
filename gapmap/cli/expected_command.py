"""``gapmap expected``: what is still to find, where, when and how to look."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say, say_frame
from gapmap.errors import SettingsError

if TYPE_CHECKING:
    from pandas import DataFrame

    from gapmap.workflow import expected as workflow
else:
    workflow = later("gapmap.workflow.expected")

_SHOWN = ["species", "chance", "chance_if_visited", "grade", "found_before", "best_months", "time_of_day", "why"]
_WHERE = ["square", "chance", "chance_if_visited", "grade", "found_before", "why"]
_STILL = ["square", "still_to_find", "still_low", "still_high", "to_refind", "lists"]
#: Rows shown on the screen.
_MOST_ROWS = 30


@click.command("expected")
@source_options
@click.option("--square-ref", metavar="SQUARE", help="Only one square: its target list, on the screen.")
@click.option("--species", metavar="NAME", help="Only one species: where to look next, on the screen.")
@out_option
def command(
    sources: tuple[str, ...], square_ref: str | None, species: str | None, out: Path | None, **options: str | None
) -> None:
    """Say what is expected where and not found yet, when and how to look, and how far to believe it.

    Writes expected.html (a map of what is still to find), expected.csv, still-to-find.csv, in-no-square-yet.csv
    (species known around the area or from its checklist), calendar.csv (activity by month), hours.csv (by month and
    hour of the clock), methods.csv (by method) and expected.xlsx.

    \b
    Examples:
      gapmap expected my-area
      gapmap expected my-area --square-ref OR47P
      gapmap expected my-area --species "Oniscus asellus"
    """
    if square_ref and species:
        raise SettingsError(
            "One square or one species is shown on the screen, not both", found=f"{square_ref} and {species}",
            do="leave out --square-ref or --species",
        )  # fmt: skip
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        if square_ref:
            table = workflow.targets_at(source, square_ref, progress)[_SHOWN]
        elif species:
            table = workflow.where_next(source, species, progress)[_WHERE]
        else:
            result = workflow.expected(source, workflow.output_folder(source, out), progress)
    if square_ref or species:
        _say_chances(table)
        return
    if result.by_square.empty:
        say("No record lies in a square of this map, so nothing can be said; gapmap coverage says why.")
        return
    if result.by_square["still_to_find"].isna().all():
        say("There are too few lists to say how much is still to find; expected.csv names what may be looked for.")
    else:
        say("Squares with most still to find (low and high: what it may be), and species to find again there:")
        say_frame(result.by_square.head(10)[_STILL].map(_with_tenth))
    if len(result.absent):
        say()
        say("Expected in the area but found in no square of it yet:")
        say_frame(result.absent.head(12)[["species", "squares_expected", "best_square", "chance", "why"]], longest=70)
    say(f"Open {result.outputs[0]} in a browser.")


def _say_chances(table: DataFrame) -> None:
    """The first rows without the columns that say nothing, and what the chances are of."""
    shown = table.head(_MOST_ROWS)
    shown = shown.assign(
        found_before=[_found_before(year) for year in shown["found_before"]],
        **{name: [_in_hundred(chance) for chance in shown[name]] for name in ("chance", "chance_if_visited")},
    )
    say_frame(shown.loc[:, (shown != "").any()], longest=70)
    if len(table) > _MOST_ROWS:
        say(f"  and {len(table) - _MOST_ROWS:,} less likely ones.")
    say("chance: that it lives there; chance if visited: that one more visit, at the best time, finds it.")
    say("Every row with its reasons in full is in expected.csv, which gapmap expected writes without this option.")
    say("Chances are expectations with their uncertainty, not promises; no record is not absence.")


def _in_hundred(chance: float) -> str:
    """A chance as a percentage; nothing where there is none.

    Examples
    --------
    >>> _in_hundred(0.824), _in_hundred(0.004), _in_hundred(float("nan"))
    ('82 %', '0.4 %', '')
    """
    if chance != chance:
        return ""
    return f"{100 * chance:.1f} %" if chance < 0.095 else f"{100 * chance:.0f} %"


def _with_tenth(value: object) -> object:
    return f"{value:.1f}" if isinstance(value, float) and value == value else value


def _found_before(year: int) -> str:
    return "never" if year == 0 else str(year) if year > 1 else "year not known"
