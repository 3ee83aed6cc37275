"""``gapmap visits``: who goes where, when and for what, and what they take in their pocket."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.columns import VISITS
from gapmap.coverage.counted import COUNTED
from gapmap.errors import SettingsError
from gapmap.expected.ground import read_ground
from gapmap.expected.model import Expectation
from gapmap.grid.references import squares_to_references
from gapmap.outputs.field.folder import write_field_folder
from gapmap.outputs.page.build import write_page
from gapmap.outputs.tables import label_squares, write_csv, write_workbook
from gapmap.visits.fieldsheets import FieldSheet, field_sheets
from gapmap.visits.season import Season, plan_season
from gapmap.visits.volunteers import Volunteer, read_volunteers
from gapmap.visits.words import objective_in_words
from gapmap.workflow.area import read_backgrounds
from gapmap.workflow.expected import expectation
from gapmap.workflow.pages import coverage_page
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Counted, Progress, read_and_count
from gapmap.workflow.wider import with_checklist

__all__ = ["Visits", "open_source", "output_folder", "visits"]

#: Words for a field meeting whenever it gains most.
ANY_DAY = "any"
_NOTES = {
    "gain": "species × squares expected from this visit, given the ones before it",
    "new": "of the gain, species never found in the square",
    "again": "of the gain, species known before and not found in the last date class",
    "near": "the square is a visit or two from well covered",
    "travel_km": "one way in a straight line, rounded up, own travel times at 40 km an hour; stays with the organiser",
    "kind": "planned, agreed (from --keep) or meeting",
}


@dataclass(frozen=True)
class Visits:
    """The plan in words, and the files written."""

    table: pd.DataFrame
    people: pd.DataFrame
    meetings: pd.DataFrame
    season: Season
    sentences: tuple[str, ...]
    outputs: tuple[Path, ...]


def visits(
    source: Source,
    out: Path,
    keep: Path | None = None,
    meetings: Sequence[str] = (),
    progress: Progress | None = None,
    *,
    with_sheets: bool = True,
) -> Visits:
    """Plan the season, and write the page, the tables and the folder of field sheets.

    Parameters
    ----------
    source
        The area; its volunteers' file is named in the section [visits].
    out
        Folder for the results.
    keep
        File of visits agreed already.
    meetings
        A field meeting for each: a day, a month or ``any``.
    progress
        Called with a fraction and a sentence.
    with_sheets
        Whether the folder field/ is written too; the plan alone is quicker.

    Raises
    ------
    GapmapError
        The volunteers' file is missing, or a file or option cannot be used.
    """
    volunteers_file(source)
    counted = read_and_count(source, progress)
    told = expectation(source, counted, progress)
    season, people, sentences = plan_visits(source, counted, told, keep, meetings, progress)
    result = write_visits(source, counted, season, people, sentences, out)
    if not with_sheets:
        return result
    background = read_backgrounds(source, counted.records.system)
    sheets = sheets_of(source, counted, told, season)
    write_field_folder(sheets, background, out / "field", date.today(), progress)
    return replace(result, outputs=(*result.outputs, out / "field"))


def plan_visits(
    source: Source,
    counted: Counted,
    told: Expectation,
    keep: Path | None = None,
    meetings: Sequence[str] = (),
    progress: Progress | None = None,
) -> tuple[Season, Sequence[Volunteer], Sequence[str]]:
    """The season's plan, the volunteers it was made for, and sentences about rows of their file that were not read.

    Raises
    ------
    GapmapError
        The volunteers' file is missing, or a file or option cannot be used.
    """
    file = volunteers_file(source)
    people, sentences = read_volunteers(file, counted.records.system, source.settings.area)
    if not people:
        sentences = [*sentences, f"{file.name} has nobody to plan for: fill in a row for each person and plan again."]
    season = plan_season(
        told,
        counted.standing,
        counted.records.species,
        source.settings,
        counted.records.system,
        people,
        today=date.today(),
        agreed=keep,
        meetings=["" if when == ANY_DAY else when for when in meetings],
        travel_table=source.beside_area_file(source.settings.visits.travel),
        progress=progress,
    )
    return season, people, sentences


def volunteers_file(source: Source) -> Path:
    """The volunteers' file of the area.

    Raises
    ------
    GapmapError
        The settings name none, it is not there, or plain files were given instead of an area folder.
    """
    if source.folder is None:
        raise SettingsError(
            "Visits are planned for an area folder, in which volunteers.csv says who can go where and when",
            found="record files without one",
            do='start one with "gapmap new my-area", put the files into its folder records and fill in volunteers.csv',
        )
    path = source.beside_area_file(source.settings.visits.volunteers)
    if path is None:
        raise SettingsError("The area names no file of volunteers", do="set volunteers in the section [visits]")
    return path


def sheets_of(source: Source, counted: Counted, told: Expectation, season: Season) -> list[FieldSheet]:
    """A field sheet for every visit."""
    lists, _ = counted.lists_and_finds()
    habitats = counted.records.connection.sql(
        "select species_id, lower(trim(habitat)) as habitat, count(*) as records from records "
        f"where {COUNTED} and trim(habitat) <> '' group by all order by all"
    ).df()
    ground = ground_of(source, told.model.evidence.squares)
    species = with_checklist(counted.records.species, source.folder)
    return field_sheets(season, lists, species, habitats, ground, source.settings)


def ground_of(source: Source, squares: np.ndarray) -> Mapping[int, Mapping[str, float]]:
    """Square → habitat → share, where the area has a habitat raster with names; of like names together."""
    rasters = source.settings.rasters
    habitat = source.beside_area_file(rasters.habitat)
    if habitat is None:
        return {}
    shares = read_ground(squares, habitat)
    named = shares.rename(columns=lambda column: rasters.habitat_names.get(str(column).split()[-1], ""))
    told = named.loc[:, named.columns != ""].T.groupby(level=0).sum().T
    names = [str(column) for column in told.columns]
    return {
        int(square): dict(zip(names, row, strict=True)) for square, row in zip(squares, told.to_numpy(), strict=True)
    }


def write_visits(
    source: Source,
    counted: Counted,
    season: Season,
    people: Sequence[Volunteer],
    unread: Sequence[str],
    out: Path,
) -> Visits:
    """Write visits.html, visits.csv and visits.xlsx for the organiser."""
    names = named_targets(season, counted)
    planned = with_targets(season, names)
    table = label_squares(planned.assign(travel_km=np.ceil(planned["travel_m"] / 1000)).drop(columns="travel_m"), {})
    meetings = _meetings(season, people)
    sentences = (*unread, *season.sentences)
    page, csv, book = (out / name for name in ("visits.html", "visits.csv", "visits.xlsx"))
    write_page(page, replace(coverage_page(source, counted), visits=VISITS.check(planned), opens_at="visits"))
    write_csv(table, csv)
    write_workbook(
        {
            "visits": table,
            "volunteers": season.people,
            "targets": label_squares(names.drop(columns="species_id"), {}),
            "meetings": meetings,
            "not planned": pd.DataFrame({"sentence": list(sentences)}, dtype="str"),
            "how it was weighed": pd.DataFrame(
                {"sentence": [season.closeness, *objective_in_words(source.settings.visits)]}
            ),
        },
        book,
        _NOTES,
    )
    return Visits(table, season.people, meetings, season, sentences, (page, csv, book))


def named_targets(season: Season, counted: Counted) -> pd.DataFrame:
    """The targets of every visit with the names of their species."""
    species = counted.records.species.set_index("species_id")["name"]
    return season.targets.assign(name=season.targets["species_id"].map(species))


def with_targets(season: Season, names: pd.DataFrame) -> pd.DataFrame:
    """The visits, each with its targets in one text."""
    listed = names.groupby("visit_id")["name"].agg("; ".join)
    return season.visits.assign(targets=season.visits["visit_id"].map(listed).fillna("").astype("str"))


def _meetings(season: Season, people: Sequence[Volunteer]) -> pd.DataFrame:
    rows = [
        (
            meeting.number,
            meeting.day.isoformat(),
            str(squares_to_references(np.array([meeting.base]))[0]),
            "; ".join(people[n].name for n in meeting.people),
            "; ".join(str(r) for r in squares_to_references(np.array([v.square for v in meeting.visits]))),
        )
        for meeting in season.meetings
    ]
    return pd.DataFrame(rows, columns=["meeting", "day", "base", "volunteers", "squares"]).astype("str")
