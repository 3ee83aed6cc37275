"""The folder of what people take along: one folder a person, to be sent as it is, and the season as a whole."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

from gapmap.errors import OutputError
from gapmap.outputs.field.calendar import write_calendar
from gapmap.outputs.field.paper import write_sheets_pdf
from gapmap.outputs.field.phone import write_sheet_html
from gapmap.outputs.field.places import write_geojson, write_gpx, write_kml
from gapmap.outputs.field.season_paper import write_season_pdf
from gapmap.outputs.field.vicinity import Vicinity, maps_of
from gapmap.outputs.page.contents import Background
from gapmap.outputs.whole import file_word, whole_file
from gapmap.visits.fieldsheets import FieldSheet

Progress = Callable[[float, str], None]
#: The list of files written, by which those of an earlier plan are known and taken away.
WRITTEN = "files of this plan.txt"


def write_field_folder(
    sheets: Sequence[FieldSheet],
    background: Sequence[Background],
    folder: Path,
    made_on: date,
    progress: Progress | None = None,
) -> list[Path]:
    """Write everything to take along.

    Parameters
    ----------
    sheets
        Every visit of the plan.
    background
        Layers of the sheets' maps.
    folder
        Where it goes: a folder a person with ``sheets.pdf`` (a page a visit), a page for the telephone a visit,
        ``squares.gpx``, ``squares.kml``, ``squares.geojson`` and ``days.ics``; the last four for the whole season, and
        ``season.pdf``, the season on one map with the list of visits.
        Files that an earlier plan wrote there and this one does not are taken away; others are left alone.
    made_on
        Time stamp of the calendar.
    progress
        Called with a fraction and a sentence.

    Returns
    -------
    list of Path
        Files written, in order.
    """
    before = _written_before(folder)
    by_person, maps = _by_person(sheets), maps_of(sheets, background)
    overview = folder / "season.pdf"
    write_season_pdf(sheets, background, overview)
    written = [overview, *_write_season(sheets, folder, made_on)]
    for number, (name, own) in enumerate(by_person.items()):
        if progress is not None:
            progress(number / len(by_person), f"writing the sheets of {own[0]}")
        written += _write_person(own[1], maps, folder / name, made_on)
    with whole_file(folder / WRITTEN) as draft:
        draft.write_text("".join(f"{path.relative_to(folder).as_posix()}\n" for path in written), encoding="utf-8")
    _take_away(before - set(written), folder)
    return written


def _by_person(sheets: Sequence[FieldSheet]) -> dict[str, tuple[str, list[FieldSheet]]]:
    """Folder name → whose it is, and the visits; people whose names look alike get numbers."""
    people = list(dict.fromkeys(person for sheet in sheets for person in sheet.people))
    folders: dict[str, tuple[str, list[FieldSheet]]] = {}
    for person in people:
        word, number = file_word(person), 1
        while (name := word if number == 1 else f"{word}-{number}") in folders:
            number += 1
        folders[name] = (person, [sheet for sheet in sheets if person in sheet.people])
    return folders


def _write_person(
    sheets: Sequence[FieldSheet], maps: Mapping[int, Vicinity], folder: Path, made_on: date
) -> list[Path]:
    paper = folder / "sheets.pdf"
    write_sheets_pdf(sheets, maps, paper)
    written = [paper]
    for sheet in sheets:
        when = f"{sheet.day:%Y-%m-%d}" if sheet.day else f"month-{sheet.month:02d}"
        page = folder / f"{when}-{file_word(sheet.reference)}-visit-{sheet.visit_id}.html"
        write_sheet_html(sheet, maps[sheet.square], page)
        written.append(page)
    return written + _write_season(sheets, folder, made_on)


def _write_season(sheets: Sequence[FieldSheet], folder: Path, made_on: date) -> list[Path]:
    gpx, kml, geojson, days = (folder / name for name in ("squares.gpx", "squares.kml", "squares.geojson", "days.ics"))
    write_gpx(sheets, gpx)
    write_kml(sheets, kml)
    write_geojson(sheets, geojson)
    write_calendar(sheets, days, made_on)
    return [gpx, kml, geojson, days]


def _written_before(folder: Path) -> set[Path]:
    """Files of the earlier plan; names that lead out of the folder are not believed."""
    try:
        names = (folder / WRITTEN).read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        return set()
    inside = folder.resolve()
    return {folder / name for name in names if name and (folder / name).resolve().is_relative_to(inside)}


def _take_away(files: set[Path], folder: Path) -> None:
    for path in sorted(files):
        try:
            path.unlink(missing_ok=True)
            if path.parent != folder and path.parent.is_dir() and not any(path.parent.iterdir()):
                path.parent.rmdir()
        except OSError as error:
            raise OutputError(
                "A sheet of an earlier plan could not be taken away", found=str(path), do="close it and plan again"
            ) from error
