"""``gapmap atlas``: a page for every species in one PDF."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say

if TYPE_CHECKING:
    from gapmap.workflow import plates as workflow
else:
    workflow = later("gapmap.workflow.plates")


@click.command("atlas")
@source_options
@out_option
def command(sources: tuple[str, ...], out: Path | None, **options: str | None) -> None:
    """Draw a page for every species in one PDF, with an index; those too sensitive for the map's squares stay out."""
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        path, species = workflow.atlas(source, workflow.output_folder(source, out), progress)
    say(f"{species:,} species in {path}")
