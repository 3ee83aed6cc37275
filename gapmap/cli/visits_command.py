"""``gapmap visits``: plan a season of field days, and make what people take along."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say, say_frame

if TYPE_CHECKING:
    from gapmap.workflow import visits as workflow
else:
    workflow = later("gapmap.workflow.visits")

_SHOWN = ["visit_id", "day", "volunteer", "square", "time_of_day", "new", "again", "kind", "targets"]
#: Visits shown on the screen.
_FIRST = 12


@click.command("visits")
@source_options
@click.option(
    "--keep", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
    help="Visits agreed already (CSV: volunteer, square, day or month); the rest is planned around them.",
)  # fmt: skip
@click.option(
    "--meeting", "meetings", multiple=True, metavar="WHEN",
    help='A field meeting: a day (2027-05-16), a month (5) or "any". May be given again.',
)  # fmt: skip
@click.option("--plan-only", is_flag=True, help="Plan without writing the folder of field sheets; quicker.")
@out_option
def command(
    sources: tuple[str, ...],
    keep: Path | None,
    meetings: tuple[str, ...],
    plan_only: bool,
    out: Path | None,
    **options: str | None,
) -> None:
    """Plan who goes where and when, for the most that is still to find, and write what they take along.

    Reads volunteers.csv of the area folder. Writes visits.html, visits.csv and visits.xlsx for the organiser, and
    the folder field/ with the season on one map and a folder a person: sheets for paper and telephone, GPX, KML,
    GeoJSON and a calendar.

    \b
    Examples:
      gapmap visits my-area
      gapmap visits my-area --keep agreed.csv --meeting any
    """
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        folder = workflow.output_folder(source, out)
        result = workflow.visits(source, folder, keep, meetings, progress, with_sheets=not plan_only)
    if len(result.table):
        shown = result.table.assign(day=result.table["day"].dt.strftime("%Y-%m-%d").fillna("day to agree"))
        first = "; the first of them" if len(shown) > _FIRST else ""
        say(f"{len(shown)} visit{'s' * (len(shown) != 1)} in the season of {result.season.year}{first}:")
        say_frame(shown.head(_FIRST)[_SHOWN])
    for row in result.meetings.to_dict("records"):
        people, squares = row["volunteers"].split("; "), row["squares"].split("; ")
        where = f"{len(squares)} square{'s' * (len(squares) != 1)} ({', '.join(squares)})"
        meet = f"Field meeting {row['meeting']}: {row['day']}, meet in {row['base']}"
        say(f"{meet}; {len(people)} people go round {where}.")
    say(result.season.closeness)
    if result.sentences:
        say("Not planned, or worth knowing:")
        for sentence in result.sentences:
            say(f"  {sentence}")
    if not len(result.table):
        return
    say("Gains are expectations, not promises. Distances stay with you: send out only what is in the folder field.")
    say(f"Open {result.outputs[0]} in a browser and choose Visits.")
    if not plan_only:
        say(f"{result.outputs[-1]} holds a folder for every person who goes.")
