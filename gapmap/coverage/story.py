"""The story of one square: every fact the other tables hold about it, as sentences and small tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from gapmap.columns import ALL_DATES
from gapmap.coverage.gaps import months_to_words
from gapmap.coverage.reasons import percent, side_words, some
from gapmap.coverage.standings import BEGUN, CASUAL, NOT_VISITED, PART, STALE, UNKNOWN
from gapmap.errors import GapmapError
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import unpack
from gapmap.settings import ThresholdsSection
from gapmap.typed import DateClass

_HOURS = ((1, "by day"), (2, "at dusk"), (4, "at night"))
_WANTING = (NOT_VISITED, CASUAL, BEGUN, PART, STALE)
_CAUTION = (
    "Before you go: ask for leave to enter, tell somebody where you are and when you will be back, and follow the "
    "local code for work alone, at night, near water, roads, cliffs and livestock; check for ticks afterwards."
)


_Facts = dict[str, Any]


@dataclass(frozen=True)
class Rows:
    """A small table: a title, the heads of its columns and its rows, all text as it will be read."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Section:
    """A part of a story: sentences, then facts (what, how much), then tables."""

    title: str
    sentences: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    tables: tuple[Rows, ...] = ()


@dataclass(frozen=True)
class Story:
    """The whole story of one square."""

    title: str
    notice: str
    sections: tuple[Section, ...] = field(default=())


def square_story(
    square: int,
    tally: pd.DataFrame,
    effort: pd.DataFrame,
    standing: pd.DataFrame,
    species: pd.DataFrame,
    classes: Sequence[DateClass],
    thresholds: ThresholdsSection,
    *,
    notice: str = "",
    more: Sequence[Section] = (),
) -> Story:
    """Tell everything known about one square.

    Parameters
    ----------
    square
        The packed square.
    tally, effort, standing
        The tables of the whole area.
    species
        As in columns.SPECIES.
    classes
        The date classes the tables were made with, in the order of time.
    thresholds
        Those the standing was made with.
    notice
        A line shown above everything, such as that the data are invented.
    more
        Sections made elsewhere, such as the species still to find, put before the list of species.

    Returns
    -------
    Story
        The current date class first, then what to do, the earlier classes and the species.

    Raises
    ------
    GapmapError
        Nothing is known about the square.
    """
    reference = str(squares_to_references([square])[0])
    rows, work = (_by_class(frame[frame["square"] == square]) for frame in (standing, effort))
    if not rows:
        raise GapmapError(
            "No record lies in this square, and it is not in the area", found=reference,
            do="check the reference and its size against the map",
        )
    found = _found(tally[tally["square"] == square], species)
    current = len(classes) - 1
    order = [current, *range(current - 1, -1, -1), ALL_DATES]
    labels = {ALL_DATES: "All dates", **{index: one.label for index, one in enumerate(classes)}}
    told = [_class_section(labels[one], rows[one], work[one]) for one in order if one in rows]
    todo = _todo_section(rows[current], found, current, thresholds)
    _, side, _, _ = unpack([square])
    return Story(
        f"{reference}, a square of {side_words(int(side[0]))}", notice,
        (told[0], todo, *more, *told[1:], _species_section(found, labels)),
    )


def _class_section(label: str, stand: _Facts, work: _Facts) -> Section:
    """One date class: the standing, its reason and the numbers behind it, if there are any."""
    sentences = [f"{str(stand['standing']).capitalize()}. {stand['reason']}"]
    if work["not_done"]:
        sentences.append(f"What has not been done here: {work['not_done']}.")
    if not work["records"] and not work["undated"] and not stand["known_before"]:
        return Section(label, tuple(sentences))
    facts = [
        ("Records", f"{work['records']}"), ("Species", f"{work['species']}"),
        ("Visits (lists with their day)", f"{work['visits']}"),
        ("Lists", f"{work['lists']}: {work['single_lists']} of one species, {work['short_lists']} of two or three, "
         f"{work['long_lists']} of four or more"),
        ("Sets of recorders", f"{work['recorders']}"), ("Days", f"{work['days']}"), ("Years", _years(work)),
        ("Months", months_to_words(int(work["months"])) or "not known"), ("Hours", _hours(int(work["hours"]))),
    ]
    if not np.isnan(work["busiest_share"]):
        facts.append(("Share of records by the busiest recorders", percent(work["busiest_share"])))
    if not np.isnan(stand["estimate"]):
        facts += [
            ("Species estimated (Chao2, at least)", f"{stand['estimate']:.1f}, 95 % interval "
             f"{stand['estimate_low']:.1f} to {stand['estimate_high']:.1f}"),
            ("Jackknife, first and second order", f"{stand['jackknife1']:.1f}, {stand['jackknife2']:.1f}"),
            ("Sample coverage", percent(stand["sample_coverage"])),
            (f"New species expected on the next 1, 3, 10 {stand['units']}",
             f"{stand['next_1']:.1f}, {stand['next_3']:.1f}, {stand['next_10']:.1f}"),
        ]
    if stand["known_before"]:
        facts.append(("Known from before and found again", f"{stand['known_before'] - stand['to_refind']} of "
                      f"{stand['known_before']}"))
    if work["undated"]:
        facts.append(("Records whose dates reach beyond these years", f"{work['undated']}"))
    return Section(label, tuple(sentences), tuple(facts))


def _todo_section(stand: _Facts, found: pd.DataFrame, current: int, thresholds: ThresholdsSection) -> Section:
    """What the next visit should be and which known species to look for."""
    sentences = []
    if stand["standing"] in _WANTING:
        if stand["standing"] == NOT_VISITED:
            sentences.append("Any visit that lists all it finds is a beginning.")
        if wanting := _wanting(stand, thresholds):
            sentences.append(f"To be well covered it wants {' and '.join(wanting)}.")
        when = " ".join(filter(None, (
            months_to_words(1 << (int(stand["best_month"]) - 1)) if stand["best_month"] else "",
            "at night" if stand["best_time"] == "night" else "",
        )))
        if when:
            sentences.append(f"The best next visit: {when}.")
    elif stand["standing"] == UNKNOWN:
        sentences.append("A few visits with their day written down would settle it.")
    else:
        sentences.append("No further visit is needed for coverage.")
    lost = found[(found["known_from"] <= current) & ~found["class_of"].map(lambda seen: current in seen)]
    lost = lost[lost["counts"]].sort_values(["last", "name"], ascending=[False, True])
    tables: tuple[Rows, ...] = ()
    if len(lost):
        sentences.append(f"{some(len(lost), 'species', 'species')} known from before to find again.")
        tables = (Rows(
            "To find again", ("species", "last found", "records"),
            tuple((one["label"], _year(one["last"]), f"{one['records']}") for one in lost.to_dict("records")),
        ),)
    return Section("What to do", (*sentences, _CAUTION), (), tables)


def _wanting(stand: _Facts, thresholds: ThresholdsSection) -> list[str]:
    """What a square lacks of being well covered, as far as numbers can say it."""
    lacking, share = [], percent(thresholds.well_share)
    if stand["visits_needed"] > 0:
        more = some(stand["visits_needed"], f"more {stand['units'][:-1]}")
        lacking.append(f"about {more} to find {share} of the species estimated to be there")
    known, again = stand["known_before"], stand["known_before"] - stand["to_refind"]
    if known >= thresholds.stale_species and again < thresholds.well_share * known:
        missing = math.ceil(thresholds.well_share * known - 1e-9) - again
        lacking.append(f"{missing} more of the {known} species known from before, to find {share} of them again")
    return lacking


def _species_section(found: pd.DataFrame, labels: dict[int, str]) -> Section:
    """Every species ever found in the square."""
    rows = tuple(
        (one["label"], f"{one['records']}", f"{one['lists']}", _year(one["first"]), _year(one["last"]),
         ", ".join(labels[seen] for seen in sorted(one["class_of"])))
        for one in found.to_dict("records")
    )
    heads = ("species", "records", "lists", "first", "last", "date classes")
    if not rows:
        return Section("Species", ("No species is known from here.",))
    sentences = [f"{some(int(found['counts'].sum()), 'species', 'species')} found here."]
    if (found["sensitive_m"] > 0).any():
        sentences.append("Species marked * are sensitive: keep where they are to yourself.")
    return Section("Species", tuple(sentences), (), (Rows("Found here", heads, rows),))


def _found(tally: pd.DataFrame, species: pd.DataFrame) -> pd.DataFrame:
    """One row a species of the square: its totals, the classes it was found in, its names."""
    total = tally[tally["date_class"] == ALL_DATES]
    in_class = tally[tally["date_class"] != ALL_DATES].groupby("species_id")["date_class"].agg(set)
    names = species.set_index("species_id")
    frame = total.copy()
    frame["class_of"] = [in_class.get(one, set()) for one in frame["species_id"]]
    for column in ("name", "vernacular", "sensitive_m"):
        frame[column] = names[column].reindex(frame["species_id"]).to_numpy()
    everyday = [f" ({one})" if isinstance(one, str) and one else "" for one in frame["vernacular"]]
    mark = np.where(frame["sensitive_m"] > 0, " *", "")
    frame["label"] = [f"{n}{v}{m}" for n, v, m in zip(frame["name"], everyday, mark, strict=True)]
    return frame.sort_values("name")


def _by_class(rows: pd.DataFrame) -> dict[int, _Facts]:
    """The rows of one square by their date class."""
    return {int(one["date_class"]): {str(k): v for k, v in one.items()} for one in rows.to_dict("records")}


def _hours(bits: int) -> str:
    return ", ".join(word for bit, word in _HOURS if bits & bit) or "not known"


def _years(work: _Facts) -> str:
    if work["years"] == 0:
        return "none known"
    span = f"{work['first']}" if work["first"] == work["last"] else f"{work['first']} to {work['last']}"
    return f"{work['years']} ({span})"


def _year(year: Any) -> str:
    return f"{year}" if year else "not known"
