"""``gapmap plate``: one picture for print or a slide."""

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


@click.command("plate")
@source_options
@click.option(
    "--of",
    "subject",
    default="standing",
    type=click.Choice(["standing", "species", "visits", "lists", "last", "growth", "still-to-find", "calendar"]),
    help="What the squares are coloured by; growth, still-to-find and calendar are plates of their own.",
)
@click.option("--species", metavar="NAME", help="Draw this species' map; with --of calendar, its months and hours.")
@click.option("--format", "file_format", default="png", type=click.Choice(["png", "svg", "pdf"]), help="Kind of file.")
@click.option(
    "--dots", default=300, show_default=True, type=click.IntRange(50, 1200), metavar="NUMBER",
    help="Dots an inch of a PNG: 300 for print, 100 for a screen.",
)  # fmt: skip
@out_option
def command(
    sources: tuple[str, ...],
    subject: str,
    species: str | None,
    file_format: str,
    dots: int,
    out: Path | None,
    **options: str | None,
) -> None:
    """Draw one picture for print or a slide: nobody is named, and sensitive species are in larger squares only.

    \b
    Examples:
      gapmap plate my-area --of standing --format pdf
      gapmap plate my-area --species "Oniscus asellus"
      gapmap plate my-area --of calendar --species "Oniscus asellus"
    """
    source = workflow.open_source(sources, options)
    folder = workflow.output_folder(source, out)
    with progress_bar() as progress:
        paths = workflow.plate(
            source, folder, subject=subject, species=species, file_format=file_format, dots=dots, progress=progress
        )
    say(f"Drawn: {', '.join(map(str, paths))}")
