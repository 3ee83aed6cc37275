"""``gapmap decide``: write down what was decided about a record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gapmap.cli.later import later
from gapmap.cli.progress import say

if TYPE_CHECKING:
    from gapmap.workflow import decide as workflow
else:
    workflow = later("gapmap.workflow.decide")


@click.command("decide")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.argument("record", metavar="RECORD")
@click.argument("decision", metavar="DECISION")
@click.option("--reason", required=True, metavar="TEXT", help="Why.")
@click.option("--who", required=True, metavar="NAME", help="Who decided.")
def command(folder: Path, record: str, decision: str, reason: str, who: str) -> None:
    """Write down what was decided about a record.

    DECISION is accepted, "not accepted" or awaiting. RECORD is the key that odd-records.csv shows, or a file and a
    row such as "records.csv:12". A record that is not accepted leaves the maps and models, never the files; nothing
    in decisions.csv is ever changed.
    """
    path, words = workflow.decide(folder, record, decision, reason=reason, who=who)
    say(f"Decided: {words}.")
    say(f"Written to {path}; earlier decisions stay, and the last one about a record counts.")
