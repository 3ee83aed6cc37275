"""``gapmap new``: start an area folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.progress import say

if TYPE_CHECKING:
    from gapmap.workflow import new as workflow
else:
    workflow = later("gapmap.workflow.new")


@click.command("new")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option("--name", metavar="TEXT", help="Name of the area.")
def command(folder: Path, name: str | None) -> None:
    """Start an area folder.

    Makes the settings file, an empty checklist and other lists to fill in, and a place for the files that people
    send. Those are never changed.
    """
    workflow.new(folder, name)
    say(f"{folder} is ready. What to do next:")
    say(f"  1. put the record files into {folder / 'records'}")
    say(f"  2. look at {folder / 'area.toml'} in a plain text editor")
    say(f'  3. gapmap check "{folder}"' if " " in str(folder) else f"  3. gapmap check {folder}")
