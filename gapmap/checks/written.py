"""One record written in a line: species, reference, date, and perhaps the recorder."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from rapidfuzz import fuzz, process

from gapmap.checks.known import Known
from gapmap.columns import NO_SQUARE
from gapmap.errors import GapmapError
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.records.dates.texts import text_to_interval
from gapmap.records.names.resolving import resolve_names
from gapmap.records.people.joining import texts_to_people
from gapmap.records.places.positions import lonlat_positions
from gapmap.records.verdicts import NOT_A_RECORD

_EXAMPLE = 'write it like "Oniscus asellus, OR467723, 12 May 2026"'


def read_one_record(
    text: str, known: Known, people: pd.DataFrame | None = None, checklist: pd.DataFrame | None = None
) -> tuple[dict[str, object], str]:
    """Read one record; species are named as in files, synonyms included.

    Returns
    -------
    tuple of dict and str
        The record as columns.RECORDS has it, with record_id 0, and who was named but is no recorder of the files.

    Raises
    ------
    GapmapError
        There is no such species among the records, or no place that can be read.
    """
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if len(parts) < 2:
        raise GapmapError("A record needs a species and a place", found=text, do=_EXAMPLE)
    record: dict[str, object] = dict.fromkeys(known.evidence.records.columns, "")
    record |= {"record_id": 0, "file_id": 0, "source_row": 0, "people_id": 0, "list_id": -1, "is_visit": False}
    record["species_id"] = _species(parts[0], known.species, checklist)
    place, rest = _place(parts[1:], known)
    when, rest = _dates(rest, known.settings.records.year_pivot)
    people_id = _people(rest, people)
    return record | place | when | {"people_id": people_id}, "" if people_id else ", ".join(rest)


def _species(name: str, species: pd.DataFrame, checklist: pd.DataFrame | None) -> int:
    found = _named(name, species)
    if found is not None:
        return found
    meant = str(resolve_names([name, *species["name"]], checklist)["name"].iloc[0])
    found = _named(meant, species)
    if found is not None:
        return found
    if checklist is not None and meant in set(checklist["name"]):
        first = f"There is no record of {meant} yet, so that this would be the first in the whole area"
        raise GapmapError(first, found=name, do="ask for a voucher or a photograph, and look at it together")
    near = process.extract(name, species["name"].tolist(), scorer=fuzz.ratio, limit=3, score_cutoff=70)
    hint = (
        f"did you mean {' or '.join(found[0] for found in near)}?"
        if near
        else "write its name as it stands in the records"
    )
    raise GapmapError("There is no such species among the records", found=name, do=hint)


def _named(name: str, species: pd.DataFrame) -> int | None:
    """The species of this scientific or everyday name."""
    folded = " ".join(name.split()).casefold()
    for column in ("name", "vernacular"):
        same = species[species[column].astype("str").str.casefold() == folded]
        if folded and len(same):
            return int(same["species_id"].iloc[0])
    return None


def _place(parts: list[str], known: Known) -> tuple[dict[str, object], list[str]]:
    """The first part that is a reference, or the first two that are latitude and longitude; and what is left."""
    area = known.settings.area
    found = references_to_squares(parts, area.grid, area.zones)
    for index in range(len(parts)):
        if found.squares[index] != NO_SQUARE:
            system, side, easting, northing = (int(part[0]) for part in unpack(found.squares[index : index + 1]))
            place: dict[str, object] = {
                "system": system,
                "easting": easting,
                "northing": northing,
                "precision_m": side,
                "is_point": False,
            }
            return place, parts[:index] + parts[index + 1 :]
    pairs = pd.DataFrame({"latitude": parts[:-1], "longitude": parts[1:], "uncertainty": ""})
    points = lonlat_positions(pairs, area.grid, area.zones)
    for index in np.flatnonzero(points["severity"] != NOT_A_RECORD)[:1]:
        point: dict[str, object] = {
            name: int(points[name][index]) for name in ("system", "easting", "northing", "precision_m")
        }
        return point | {"is_point": True}, parts[:index] + parts[index + 2 :]
    raise GapmapError("No place can be read in this record", found=", ".join(parts), do=_EXAMPLE)


def _dates(parts: list[str], pivot: int) -> tuple[dict[str, object], list[str]]:
    for index, part in enumerate(parts):
        read = text_to_interval(part, pivot=pivot, today=date.today())
        if read.kind != "unknown" and read.verdict.severity != NOT_A_RECORD:
            when = {"date_from": _day(read.first), "date_to": _day(read.last), "date_kind": read.kind}
            return when, parts[:index] + parts[index + 1 :]
        if any(letter.isdigit() for letter in part):
            raise GapmapError(
                "The date cannot be read" if read.kind == "unknown" else "The date cannot be", found=part, do=_EXAMPLE
            )
    return {"date_from": pd.NaT, "date_to": pd.NaT, "date_kind": "unknown"}, parts


def _people(parts: list[str], people: pd.DataFrame | None) -> int:
    if people is None or not parts:
        return 0
    written = texts_to_people([*parts, "; ".join(parts)], None)["names"]
    wanted = {text.casefold() for text in [*parts, *written] if text}
    same = people[people["names"].astype("str").str.casefold().isin(wanted)]
    return int(same["people_id"].iloc[0]) if len(same) else 0


def _day(day: date | None) -> object:
    return pd.NaT if day is None else pd.Timestamp(day)
