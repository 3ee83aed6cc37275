"""``gapmap check``: read everything and say what is doubtful."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.options import out_option, source_options
from gapmap.cli.progress import progress_bar, say, say_frame

if TYPE_CHECKING:
    from gapmap.workflow import check as workflow
else:
    workflow = later("gapmap.workflow.check")


@click.command("check")
@source_options
@out_option
def command(sources: tuple[str, ...], out: Path | None, **options: str | None) -> None:
    """Read everything and say what is doubtful.

    Writes problems.xlsx (one sheet a file, with sentences fit to paste into a reply), problems.csv and, where a
    recorder's name can be more than one person, people-to-decide.csv. The files themselves are never changed.
    """
    source = workflow.open_source(sources, options)
    with progress_bar() as progress:
        result = workflow.check(source, workflow.output_folder(source, out), progress)
    say_frame(result.by_file, longest=80)
    say()
    say_frame(result.by_recorder.head(12))
    if (more := len(result.by_recorder) - 12) > 0:
        say(f"  and {more:,} more recorder{'s' if more > 1 else ''}")
    if len(result.kinds):
        say()
        say("What was found; a doubt is kept, but look at it; a note is kept, and worth knowing:")
        say_frame(result.kinds)
    for remark in result.remarks:
        say(f"note: {remark}")
    if len(result.undecided):
        count = len(result.undecided)
        say(
            f"note: {count} {'name' if count == 1 else 'names'} can be more than one person. Fill in who is meant in "
            f"{result.outputs[-1]} and put the rows into lookups/people.csv of the area's folder."
        )
    say()
    say(f"Look at {result.outputs[0]}.")
