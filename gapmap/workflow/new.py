"""``gapmap new``: start an area folder."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from gapmap.errors import OutputError
from gapmap.outputs.whole import whole_file
from gapmap.settings import read_settings

#: Tables the organiser fills in, with their headings.
TABLES = {
    "lookups/checklist.csv": "name,authority,rank,synonyms,vernacular,group,identify,evidence,months,time_of_day,"
    "sensitive",
    "lookups/people.csv": "written,name",
    "lookups/places.csv": "place,reference",
    "decisions.csv": "record,decision,reason,who,when",
    "volunteers.csv": "name,home,days,travel,night,tides,methods,groups,means",
}  # fmt: skip


def new(folder: Path, name: str | None = None) -> tuple[Path, ...]:
    """Make an area folder with its settings, empty lookups and a place for the record files.

    Parameters
    ----------
    folder
        The folder to make; it may exist when it is empty.
    name
        Name of the area; the folder's own name otherwise.

    Returns
    -------
    tuple of Path
        What was made.

    Raises
    ------
    OutputError
        The folder already holds something.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputError("The folder for a new area must be new or empty", found=str(folder), do="choose another name")
    try:
        for place in (folder / "records", folder / "lookups", folder / "maps"):
            place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            "The folder cannot be made", found=f"{folder} ({error.strerror})", do="choose another place"
        ) from error
    template = files("gapmap.workflow").joinpath("new_area.toml").read_text(encoding="utf-8")
    title = " ".join((name or folder.resolve().name).split()).replace("\\", "\\\\").replace('"', '\\"')
    _write(folder / "area.toml", template.replace("NAME", title, 1))
    read_settings(folder / "area.toml")
    for table, heading in TABLES.items():
        _write(folder / table, heading + "\n")
    return (folder / "area.toml", folder / "records", *(folder / table for table in TABLES))


def _write(path: Path, text: str) -> None:
    with whole_file(path) as draft:
        draft.write_text(text, encoding="utf-8")
