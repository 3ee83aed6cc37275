"""The contract: every table that passes between rooms, its columns, types, units and meaning.

A room that makes one of these tables calls ``TABLE.check(frame)`` before handing it on; more columns
than the contract names are allowed, fewer are not. Text that came from a file may stand in any column
of type ``text`` and is escaped wherever it leaves the program.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import pandas as pd

#: Date class of the row that carries the total over all dates.
ALL_DATES = -1
#: Species of the row that carries the total over all species.
ALL_SPECIES = -1
#: A square that is not one: unreadable, too coarse, or across an edge.
NO_SQUARE = -1
#: The hour of a list that tells none, or several.
NO_HOUR = -1

#: What a column of somebody's file can mean: what is written on the left of ``meaning = header``.
Meaning = Literal[
    "species", "vernacular", "genus", "epithet", "group", "reference", "letters", "easting", "northing",
    "latitude", "longitude", "uncertainty", "crs", "zone", "date", "date_end", "year", "month", "day", "time",
    "recorder", "determiner", "place", "county", "stage", "sex", "sex_and_stage", "quantity", "method",
    "habitat", "evidence", "occurrence", "status", "comment",
]  # fmt: skip
MEANINGS: tuple[Meaning, ...] = get_args(Meaning)

_KINDS = {"whole": "iu", "number": "iuf", "yes_no": "b", "day": "M", "text": "OTU"}


@dataclass(frozen=True)
class Column:
    """One column: its name, kind (whole, number, yes_no, day, text) and what it means, with the unit."""

    name: str
    kind: str
    meaning: str


@dataclass(frozen=True)
class Table:
    """One kind of table that passes between rooms."""

    name: str
    one_row_is: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> list[str]:
        """Column names in their order."""
        return [column.name for column in self.columns]

    def check(self, frame: pd.DataFrame) -> pd.DataFrame:
        """Return the frame if it keeps the contract.

        Raises
        ------
        TypeError
            A column is missing or holds another kind of value: a fault in the program, not in the data.
        """
        missing = [name for name in self.names if name not in frame.columns]
        if missing:
            raise TypeError(f"table {self.name} lacks {', '.join(missing)}")
        for column in self.columns:
            series = frame[column.name]
            kind = "T" if isinstance(series.dtype, pd.StringDtype | pd.CategoricalDtype) else series.dtype.kind
            if len(series) and kind not in _KINDS[column.kind]:
                raise TypeError(f"table {self.name}: {column.name} should be {column.kind}, is {series.dtype}")
        return frame

    def empty(self) -> pd.DataFrame:
        """A table of this kind without rows."""
        types = {
            "whole": "int64",
            "number": "float64",
            "yes_no": "bool",
            "day": "datetime64[s]",
            "text": "str",
        }
        return pd.DataFrame({c.name: pd.Series(dtype=types[c.kind]) for c in self.columns})


def _table(name: str, one_row_is: str, *columns: tuple[str, str, str]) -> Table:
    return Table(name, one_row_is, tuple(Column(*column) for column in columns))


RECORDS = _table(
    "records",
    "a species at a place and time by somebody",
    ("record_id", "whole", "1, 2, 3 … in the order of files and rows; a row that is no record leaves a gap"),
    ("file_id", "whole", "row of FILES"),
    ("source_row", "whole", "row number as a spreadsheet shows it (the header is row 1)"),
    ("species_id", "whole", "row of SPECIES"),
    ("system", "whole", "key of the grid system that easting and northing belong to"),
    ("easting", "whole", "metres: south-west corner of a reference, or the point itself"),
    ("northing", "whole", "metres: south-west corner of a reference, or the point itself"),
    ("precision_m", "whole", "metres: side of the reference, or the width a point's uncertainty amounts to"),
    ("is_point", "yes_no", "true for coordinates, false for a grid reference, which is a square"),
    ("date_from", "day", "first day the record can belong to; empty when open"),
    ("date_to", "day", "last day the record can belong to; empty when open"),
    (
        "date_kind",
        "text",
        "day, days, month, months, season, year, years, decade, century, circa, before, after, unknown",
    ),
    ("people_id", "whole", "row of PEOPLE: the set of recorders; 0 when nobody is named"),
    ("list_id", "whole", "same place, same dates (a year at most), same people; -1 when the date is wider"),
    ("is_visit", "yes_no", "true when the list's date is known to the day, or to a night: two days running"),
    ("stage", "text", "adult, juvenile, egg …; empty when not said"),
    ("sex", "text", "male, female, both; empty when not said"),
    ("quantity", "text", "count or abundance as understood; empty when not said"),
    ("method", "text", "how it was found, as written"),
    ("habitat", "text", "where it was found, as written"),
    ("time_of_day", "text", "day, dusk, night, or an hour as 00 to 23; empty when not said"),
    ("place", "text", "place name as written"),
    ("identified_by", "text", "determiner, as written"),
    ("evidence", "text", "seen, photograph, voucher, microscope, dissection …; empty when not said"),
    ("status", "text", "accepted, not accepted, awaiting; empty when nobody decided"),
)

FILES = _table(
    "files",
    "a file that was read",
    ("file_id", "whole", "1, 2, 3 … in the order given"),
    ("file", "text", "name as shown to people, with the sheet where there are several"),
    ("rows", "whole", "data rows in it"),
    ("records", "whole", "rows kept as records"),
    ("problem_rows", "whole", "rows that are no record and stand in problems"),
    ("duplicates", "whole", "rows that repeat a record kept from elsewhere"),
)

SPECIES = _table(
    "species",
    "a species or other name that records are counted under",
    ("species_id", "whole", "0, 1, 2 … in the order of names"),
    ("name", "text", "accepted scientific name"),
    ("vernacular", "text", "everyday name; empty when unknown"),
    ("group", "text", "taxon group; empty when unknown"),
    ("rank", "text", "species, subspecies, aggregate, genus …"),
    ("counts", "yes_no", "true when it counts as a species of its own"),
    (
        "difficulty",
        "text",
        "what naming it takes: sight, hand lens, microscope, dissection; empty when unknown",
    ),
    ("months", "text", "months it is found as adult, such as 4-10; empty when unknown"),
    ("time_of_day", "text", "day, dusk, night; empty when unknown"),
    ("sensitive_m", "whole", "metres: publish no finer than this; 0 when not sensitive"),
)

PEOPLE = _table(
    "people",
    "a set of recorders that signed records together",
    ("people_id", "whole", "0 is nobody named"),
    ("names", "text", "canonical names joined by '; '"),
    ("size", "whole", "how many people"),
)

PROBLEMS = _table(
    "problems",
    "one thing wrong with one cell",
    ("file", "text", "file name as shown to people"),
    ("row", "whole", "row number as a spreadsheet shows it; 0 for the whole file"),
    ("column", "text", "header of the column as the file writes it"),
    ("value", "text", "the cell as found"),
    ("code", "text", "short fixed word for the kind of problem"),
    (
        "severity",
        "text",
        "'not a record' (the row is no record), 'doubt' (kept, look at it), 'note' (kept, worth knowing)",
    ),
    ("sentence", "text", "what is wrong, fit to paste into a reply"),
    ("suggestion", "text", "what to do or what was probably meant; empty when there is nothing to suggest"),
)

LISTS = _table(
    "lists",
    "a list: same place, same dates, same people, at the map's square size",
    ("list_id", "whole", "as in RECORDS"),
    ("square", "whole", "packed square of the map; -1 when too coarse"),
    ("system", "whole", "grid system of easting and northing"),
    ("easting", "whole", "metres: south-west corner of the list's own reference"),
    ("northing", "whole", "metres: south-west corner of the list's own reference"),
    ("precision_m", "whole", "metres: side of the list's own reference"),
    ("date_from", "day", "first day"),
    ("date_to", "day", "last day"),
    ("year", "whole", "year when the list lies in one, for a visit that of its first day; 0 otherwise"),
    ("month", "whole", "1 to 12 when the list lies in one month, for a visit that of its first day; 0 otherwise"),
    ("date_class", "whole", "index of the date class; -1 when it crosses classes or lies in none"),
    ("is_visit", "yes_no", "date known to the day, or to a night: two days running"),
    ("people_id", "whole", "as in RECORDS"),
    ("time_of_day", "text", "day, dusk, night, several; empty when not said"),
    ("hour", "whole", "0 to 23 when its records tell one hour of the clock; -1 otherwise"),
    ("method", "text", "method when the list has one; empty otherwise"),
    ("length", "whole", "species on the list"),
)

FINDS = _table(
    "finds",
    "a species on a list",
    ("list_id", "whole", "as in LISTS"),
    ("species_id", "whole", "as in SPECIES"),
    ("records", "whole", "records of it on the list"),
)

TALLY = _table(
    "tally",
    "square × species × date class (the class -1 is the total over all dates)",
    ("square", "whole", "packed square of the map"),
    ("species_id", "whole", "as in SPECIES"),
    ("date_class", "whole", "index of the date class; -1 for all dates"),
    ("records", "whole", "records"),
    ("visits", "whole", "visits on which it was found"),
    ("lists", "whole", "lists it is on"),
    ("first", "whole", "first year; 0 when unknown"),
    ("last", "whole", "last year; 0 when unknown"),
)

EFFORT = _table(
    "effort",
    "square × date class (the class -1 is the total over all dates)",
    ("square", "whole", "packed square of the map"),
    ("date_class", "whole", "index of the date class; -1 for all dates"),
    ("records", "whole", "records"),
    ("species", "whole", "species"),
    ("visits", "whole", "visits"),
    ("lists", "whole", "lists"),
    ("recorders", "whole", "distinct sets of people"),
    ("days", "whole", "distinct days"),
    ("years", "whole", "distinct years"),
    ("months", "whole", "bit set: bit 0 is January"),
    ("night_visits", "whole", "lists known to be made at dusk or at night"),
    ("single_lists", "whole", "lists with one species"),
    ("median_list", "number", "median list length in species"),
    ("busiest_share", "number", "0 to 1: share of records by the busiest set of people"),
    ("first", "whole", "first year; 0 when unknown"),
    ("last", "whole", "last year; 0 when unknown"),
)

STANDING = _table(
    "standing",
    "square × date class",
    ("square", "whole", "packed square of the map"),
    ("date_class", "whole", "index of the date class; -1 for all dates"),
    ("species", "whole", "species found"),
    ("estimate", "number", "estimated species there (Chao2); empty when the data cannot carry it"),
    ("estimate_low", "number", "lower end of its 95 % interval"),
    ("estimate_high", "number", "upper end of its 95 % interval"),
    ("sample_coverage", "number", "0 to 1: sample coverage of the visits made; empty when it cannot be said"),
    ("refound_share", "number", "0 to 1: known species found again in this class; empty when none was known"),
    (
        "visits_needed",
        "number",
        "further visits to reach the stated share of the estimate; empty when it cannot be said",
    ),
    ("standing", "text", "one of coverage.completeness.STANDINGS"),
    ("reason", "text", "the sentence behind the standing"),
)

EXPECTED = _table(
    "expected",
    "square × species not found there in the current date class",
    ("square", "whole", "packed square of the map"),
    ("species_id", "whole", "as in SPECIES"),
    ("chance", "number", "0 to 1: chance that the species lives in the square"),
    ("chance_low", "number", "lower end of its interval"),
    ("chance_high", "number", "upper end of its interval"),
    ("chance_if_visited", "number", "0 to 1: chance that the next visit, at the best time, finds it"),
    ("grade", "text", "how far to believe it: good, fair, weak, can't say"),
    (
        "found_before",
        "whole",
        "last year found in the square, 1 when the year is not known; 0 when never (still to find, else to re-find)",
    ),
    ("best_months", "text", "such as Apr–Jun; empty when it cannot be said"),
    ("time_of_day", "text", "day, dusk, night; empty when it cannot be said"),
    ("method", "text", "how to look; empty when it cannot be said"),
    ("certainty", "text", "what a certain identification takes; empty when unknown"),
    ("why", "text", "the evidence in words"),
)

FINDINGS = _table(
    "findings",
    "a record and how odd it is",
    ("record_id", "whole", "as in RECORDS"),
    ("one_in", "number", "at most one in this many accepted records is as odd"),
    (
        "nearest_m",
        "number",
        "metres to the nearest record of the species by other people; empty when none, and where no reasons are sought",
    ),
    ("reasons", "text", "in what way it is odd, sentences joined by a line break"),
    ("slip", "text", "the likeliest slip as a question; empty when none explains it"),
    ("ask_for", "text", "what to ask the recorder for"),
)

VISITS = _table(
    "visits",
    "a volunteer on a day",
    ("visit_id", "whole", "1, 2, 3 … in date order"),
    ("volunteer", "text", "name or alias as in the volunteers' file"),
    ("square", "whole", "packed square of the map"),
    ("month", "whole", "1 to 12"),
    ("day", "day", "planned day; empty when only the month is fixed"),
    ("time_of_day", "text", "day, dusk, night"),
    ("gain", "number", "species × squares expected from this visit, given the ones before it"),
    ("travel_m", "number", "metres, one way; empty where an agreed visit goes to where nobody of it would be sent"),
    ("targets", "text", "names of the species to look for, in order, joined by '; '"),
)
