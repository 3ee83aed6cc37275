"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

_SOURCE_OPTIONS = (
    click.argument("sources", nargs=-1, required=True, metavar="FOLDER | FILES..."),
    click.option("--square", metavar="SIZE", help="Size of the map's squares: 1km, 2km, 5km, 10km … (2km)."),
    click.option("--classes", metavar="YEARS", help='Date classes, such as "-2000, 2001-2010, 2011-".'),
    click.option("--grid", metavar="GRID", help="Fix the grid: british, irish, channel, europe or utm."),
    click.option("--zone", metavar="ZONES", help='UTM zones for squares written without one, such as "31U,32U".'),
    click.option("--columns", metavar="PAIRS", help='Say which column is what: "species=Taxon, reference=Square".'),
    click.option("--name", metavar="TEXT", help="Name of the area or the map."),
)


def source_options(command: Command) -> Command:
    """Add the argument FOLDER | FILES and the options that describe how to read them."""
    for option in reversed(_SOURCE_OPTIONS):
        command = option(command)
    return command


def out_option(command: Command) -> Command:
    """Add ``--out DIR``."""
    described = "Folder for the results (the area folder's maps/, otherwise needed)."
    option: Callable[[Command], Command] = click.option(
        "--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR", help=described
    )
    return option(command)
