"""Who records: invented people, their homes and their habits."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Recorder:
    """One invented recorder.

    Parameters
    ----------
    name, town
        Invented name and the town they live in or near.
    first, last
        Years active.
    trips
        Outings a year when in full swing.
    reach_km
        Typical distance they go; outings fall off exponentially with it.
    weekend, dark, whole
        Shares 0 to 1: outings at weekends, outings at dusk or night, outings that end in a whole list (the others
        are casual records).
    likes
        Habitats they seek out.
    methods
        How they look, the usual one first.
    groups
        Taxon groups they can name.
    skill
        What they can use to name a species: sight, hand lens, microscope, dissection.
    file
        The file their own records are in; empty when they write to the society.
    own_years
        First and last year in that file.
    """

    name: str
    town: str
    first: int
    last: int
    trips: int
    reach_km: float
    weekend: float
    dark: float
    whole: float
    likes: tuple[str, ...]
    methods: tuple[str, ...]
    groups: tuple[str, ...]
    skill: str
    file: str = ""
    own_years: tuple[int, int] = (0, 0)

    @property
    def initials(self) -> str:
        """The name as people sign: initials before the surname."""
        *given, surname = self.name.split(" ")
        return " ".join(f"{word[0]}." for word in given) + " " + surname

    @property
    def surname_first(self) -> str:
        """The name as libraries write it."""
        *given, surname = self.name.split(" ")
        return f"{surname}, " + " ".join(f"{word[0]}." for word in given)


def _read() -> tuple[Recorder, ...]:
    with (Path(__file__).parent / "recorders.csv").open(encoding="utf-8", newline="") as file:
        return tuple(_recorder(row) for row in csv.DictReader(file))


def _recorder(row: dict[str, str]) -> Recorder:
    return Recorder(
        name=row["name"],
        town=row["town"],
        first=int(row["first"]),
        last=int(row["last"]),
        trips=int(row["trips"]),
        reach_km=float(row["reach_km"]),
        weekend=float(row["weekend"]),
        dark=float(row["dark"]),
        whole=float(row["whole"]),
        likes=tuple(row["likes"].split(";")),
        methods=tuple(row["methods"].split(";")),
        groups=tuple(row["groups"].split(";")),
        skill=row["skill"],
        file=row["file"],
        own_years=(int(row["own_first"] or 0), int(row["own_last"] or 0)),
    )


#: Everybody, in the order of ``recorders.csv``.
RECORDERS = _read()
