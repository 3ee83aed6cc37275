"""``gapmap coverage``: draw how well each square has been looked at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say, say_table

if TYPE_CHECKING:
    from gapmap.workflow import coverage as workflow
else:
    workflow = later("gapmap.workflow.coverage")


@click.command("coverage")
@source_options
@out_option
def command(sources: tuple[str, ...], out: Path | None, **options: str | None) -> None:
    """Draw how well each square has been looked at.

    Reads the records, counts them in squares and date classes, and writes coverage.html (open it in any
    browser, no network needed), squares.csv, squares.xlsx, squares.gpkg and squares.parquet (for a GIS),
    effort.tif and problems.csv.

    \b
    Examples:
      gapmap coverage records.csv --square 2km --out maps
      gapmap coverage my-area
    """
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        result = workflow.coverage(source, workflow.output_folder(source, out), progress)
    say_table(result.facts)
    for remark in result.remarks:
        say(f"  note: {remark}")
    say()
    say(f"Open {result.outputs[0]} in a browser.")
    say("Beside it: " + ", ".join(path.name for path in result.outputs[1:]) + ".")
