"""The society's archive, 1966 to 1999, as Darwin Core: typed up from cards, with the names and habits of its time."""

from __future__ import annotations

import numpy as np
import pandas as pd

from island.chance import fraction, stream
from island.fauna import Fauna
from island.writing import people_of

TERMS = (
    "occurrenceID",
    "basisOfRecord",
    "scientificName",
    "scientificNameAuthorship",
    "vernacularName",
    "eventDate",
    "year",
    "month",
    "day",
    "eventTime",
    "recordedBy",
    "identifiedBy",
    "individualCount",
    "sex",
    "lifeStage",
    "samplingProtocol",
    "habitat",
    "locality",
    "verbatimCoordinates",
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
    "identificationVerificationStatus",
    "occurrenceRemarks",
)
_NEW_YEAR = 0.4  # of the cards with only a year, typed up as 1 January


def archive_rows(notes: pd.DataFrame, fauna: Fauna) -> list[list[str]]:
    """One row a record in the order of TERMS, all text.

    Cards with only a year were typed in two ways: as the year, or as 1 January with month and day left empty. Old cards
    carry old names. The place is the middle of the reference's square, with the distance to its corner beside it.
    """
    generator = stream("archive")
    facts = {
        kind.name: (kind.authority, kind.synonyms.split(";")[0], kind.vernacular)
        for kind in fauna.species.itertuples(index=False)
    }
    rows = []
    for note in notes.itertuples():
        name, authority = _as_then_known(note, facts, generator)
        when, month, day = _dates(note, fraction("card", note.visit_id) < _NEW_YEAR)
        specimen = note.evidence in ("voucher", "microscope", "dissection")
        rows.append(
            [
                f"archive:{note.Index + 1:05d}",
                "PreservedSpecimen" if specimen else "HumanObservation",
                name,
                authority,
                facts[note.name][2] if note.name in facts else "",
                when,
                str(note.year),
                month,
                day,
                note.clock,
                "|".join(person.surname_first for person in people_of(note.people)),
                note.determiner_name,
                str(note.quantity or ""),
                "" if note.sex == "both" else note.sex,
                note.stage,
                note.method,
                note.habitat,
                note.place,
                note.reference,
                f"{note.latitude:.6f}",
                f"{note.longitude:.6f}",
                str(round(note.side / 2**0.5)),
                note.status,
                note.evidence,
            ]
        )
    return rows


def _as_then_known(
    note: tuple,
    facts: dict[str, tuple[str, str, str]],
    generator: np.random.Generator,  # type: ignore[type-arg]
) -> tuple[str, str]:
    if note.name not in facts:
        return note.name, ""
    authority, old, _ = facts[note.name]
    if old and generator.random() < 0.7 - 0.02 * (note.year - 1966):
        return old, ""
    return note.name, authority


def _dates(note: tuple, as_new_year: bool) -> tuple[str, str, str]:  # type: ignore[type-arg]
    day = note.date_from
    if note.date_kind == "day":
        return str(day), str(day.month), str(day.day)
    if note.date_kind == "month":
        return f"{day:%Y-%m}", str(day.month), ""
    return (f"{day.year}-01-01" if as_new_year else str(day.year)), "", ""
