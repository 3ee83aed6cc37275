"""``gapmap backtest``: hide the last years, predict them, and score what was said."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say, say_frame

if TYPE_CHECKING:
    from gapmap.workflow import backtest as workflow
else:
    workflow = later("gapmap.workflow.backtest")


@click.command("backtest")
@source_options
@click.option(
    "--until", type=int, required=True, metavar="YEAR", help="Last year that is known; later ones are hidden."
)
@out_option
def command(sources: tuple[str, ...], until: int, out: Path | None, **options: str | None) -> None:
    """Hide the years after a cut, predict what they found, and score it.

    Writes backtest.html, which says in words how far to trust the list of species still to find, backtest.csv
    (every square and species that was asked about) and backtest.json (the scores).
    """
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        tested = workflow.backtest(source, until, workflow.output_folder(source, out), progress)
    say(tested.result.verdict)
    say()
    say("The scores, which the page explains:")
    say_frame(tested.result.scores.round(4).reset_index(names="method"))
    say()
    say(f"Open {tested.outputs[0]} in a browser.")
