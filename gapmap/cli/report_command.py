"""``gapmap report``: everything at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say

if TYPE_CHECKING:
    from gapmap.workflow import report as workflow
else:
    workflow = later("gapmap.workflow.report")


@click.command("report")
@source_options
@out_option
def command(sources: tuple[str, ...], out: Path | None, **options: str | None) -> None:
    """Write everything: a private edition for your desk and a public one for everybody, each with an index.

    In the public edition sensitive species stand in larger squares and nobody is named, unless your area file
    asks for names.
    """
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        result = workflow.report(source, workflow.output_folder(source, out), progress)
    say(f"{result.files} files written.")
    say(f"For your desk:  {result.private}")
    say(f"For everybody:  {result.public}")
