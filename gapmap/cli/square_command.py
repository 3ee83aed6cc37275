"""``gapmap square``: the whole story of one square."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say

if TYPE_CHECKING:
    from gapmap.workflow import square as workflow
else:
    workflow = later("gapmap.workflow.square")


@click.command("square")
@click.argument("reference", metavar="SQUARE")
@source_options
@out_option
def command(reference: str, sources: tuple[str, ...], out: Path | None, **options: str | None) -> None:
    """Tell the whole story of one square: what was found, how hard it was looked at, what is left to do.

    \b
    Example:
      gapmap square OR47P my-area
    """
    reference, sources = _square_first(reference, sources)
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        text, path = workflow.square(source, reference, workflow.output_folder(source, out), progress)
    say(text)
    say(f"The same as a page: {path}")


def _square_first(first: str, others: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """The square and the sources, also where the square was written last."""
    if Path(first).exists() and not Path(others[-1]).exists():
        return others[-1], (first, *others[:-1])
    return first, others
