"""Whatever stands in a cell: no parser fails, none stays silent about what it could not read, all say the same twice.

2,000 texts go through every parser; set GAPMAP_LONG_TESTS=1 for 100,000.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from gapmap.records.dates.intervals import combine_parts, texts_to_intervals
from gapmap.records.dates.texts import EARLIEST_YEAR, text_to_interval
from gapmap.records.decisions import texts_to_status
from gapmap.records.details.methods import texts_to_method
from gapmap.records.details.words import (
    texts_to_evidence,
    texts_to_quantity,
    texts_to_sex,
    texts_to_stage,
    texts_to_time_of_day,
)
from gapmap.records.names.parts import text_to_name
from gapmap.records.names.resolving import CHECKLIST_COLUMNS, resolve_names
from gapmap.records.people.joining import texts_to_people, unclear_people
from gapmap.records.people.texts import text_to_cell
from gapmap.records.places.positions import lonlat_positions, metric_positions, reference_positions

IS_LONG = bool(os.environ.get("GAPMAP_LONG_TESTS"))
EXAMPLES = 100_000 if IS_LONG else 2_000
TODAY = date(2026, 6, 1)
pytestmark = pytest.mark.timeout(4 * 3600 if IS_LONG else 300)
SEVERITIES = {"", "note", "doubt", "not a record"}
KINDS = {
    "day", "days", "month", "months", "season", "year", "years", "decade", "century", "circa", "before", "after",
    "unknown",
}  # fmt: skip

CHECKLIST = pd.DataFrame(
    [("Aglais io", "", "species", "Inachis io", "Peacock", "butterfly", "sight", "", "3-10", "day", 0),
     ("Lithobius forficatus", "", "species", "", "", "centipede", "hand lens", "", "", "night", 0)],
    columns=list(CHECKLIST_COLUMNS),
)  # fmt: skip

#: Pieces that real cells are made of, so that the search spends its time near what the parsers look for.
PIECES = (
    "1", "12", "5", "13", "31", "98", "1998", "2010", "1899", "35927", "/", "-", "–", ".", " ", ", ", "; ", "&",
    " and ", "May", "jun", "Sept.", "v", "iv", "Summer", "winter", "c.", "ca", "pre-", "post", "before", "since",
    "?", "~", "%", "X", "XX", "..", "T14:30", "Z", "+01:00", "W10", "s", "th", "century", "early", "late", "to",
    "Tues", "Bombus", "terrestris", "(Bombus)", "cf.", "agg.", "sp.", "×", " x ", "subsp.", "var.", "L.",
    "(Linnaeus, 1758)", "s.l.", "Aglais io", "Peacock", "A. Marsh", "Marsh, A.", "Holt", "B.", "Mr & Mrs", "det.",
    "per", "et al.", "Group", "van der", "O'", "♂", "♀", "m", "f", "3", "several", "larva", "adult", "photo",
    "dissected", "night", "21:30", "pm", "\n", "\t", "\x00", "\u00a0", "\u202e", "=HYPERLINK(", "<script>", "{{",
    "'", '"', "½", "٣", "İ", "ß", "９", "=", "NT", "OR", "27", "2776", "31UFS", "1kmE400N330", "A", "P", "SW", "55.9", "°",
    "′", "″", "N", "W", "E", "-3.19", "+", "325400", "0",
)  # fmt: skip

texts = st.one_of(
    st.text(max_size=40),
    st.lists(st.sampled_from(PIECES), max_size=9).map("".join),
    st.lists(st.sampled_from(PIECES), max_size=7).map(" ".join),
    st.from_regex(r"\A[0-9]{1,4}[-/. ][0-9A-Za-z]{1,4}[-/. ][0-9]{1,4}\Z"),
)



def paired(cells: list[str], first: str, second: str) -> pd.DataFrame:
    """Texts as pairs of coordinates: each beside the one after it, and an uncertainty from elsewhere."""
    return pd.DataFrame({first: cells, second: cells[1:] + cells[:1], "uncertainty": cells[::-1]}, dtype=object)


PARSERS: dict[str, Callable[[list[str]], pd.DataFrame]] = {
    "dates": lambda cells: texts_to_intervals(cells, pivot=30, today=TODAY),
    "names": lambda cells: resolve_names(cells, None),
    "names on a checklist": lambda cells: resolve_names(cells, CHECKLIST),
    "people": lambda cells: texts_to_people(cells, None),
    "stage": texts_to_stage,
    "sex": texts_to_sex,
    "quantity": texts_to_quantity,
    "time of day": texts_to_time_of_day,
    "evidence": texts_to_evidence,
    "method": texts_to_method,
    "status": texts_to_status,
    "dates, month first": lambda cells: texts_to_intervals(cells, pivot=30, today=TODAY, month_first=True),
    "references": lambda cells: reference_positions(cells, "", ()),
    "references of one grid": lambda cells: reference_positions(cells, "utm", ("31U",)),
    "latitude and longitude": lambda cells: lonlat_positions(paired(cells, "latitude", "longitude"), "", ()),
    "easting and northing": lambda cells: metric_positions(paired(cells, "easting", "northing"), 1, 1),
}

#: Texts that go through the parsers of columns together, and a search that does not shrink: it would take long.
BATCH = 100
PHASES = (Phase.explicit, Phase.generate)

fuzz = settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))


def check_verdicts(found: pd.DataFrame, rows: int) -> None:
    """One answer a row; a code, a severity and a one-line sentence together or not at all."""
    assert len(found) == rows
    assert set(found["severity"]) <= SEVERITIES
    said = found["code"] != ""
    assert (said == (found["severity"] != "")).all()
    assert (said == (found["sentence"] != "")).all()
    assert not found["sentence"].str.contains("\n").any()
    assert not found.isna()[["code", "severity", "sentence", "suggestion"]].any().any()


def check_silence(name: str, found: pd.DataFrame) -> None:
    """Nothing is lost without a word: what has no answer has a reason."""
    if name.startswith("dates"):
        unknown = found["date_kind"] == "unknown"
        assert (found.loc[unknown, "code"] != "").all()
        assert set(found["date_kind"]) <= KINDS
        assert (found["date_from"].isna() | found["date_to"].isna() | (found["date_from"] <= found["date_to"])).all()
        assert (found.loc[~unknown, "date_from"].notna() | found.loc[~unknown, "date_to"].notna()).all()
        refused = found["severity"] == "not a record"
        assert (found.loc[refused, "date_kind"] == "unknown").all()
    elif name.startswith("names"):
        assert (found.loc[found["name"] == "", "severity"] == "not a record").all()
        assert not found.loc[found["name"] == "", "counts"].any()
    elif name == "people":
        assert ((found["size"] == 0) == (found["names"] == "")).all()
    elif "system" in found:
        assert (found.loc[found["system"] <= 0, "severity"] == "not a record").all()
        assert (found.loc[found["system"] > 0, "precision_m"] >= 1).all()
    elif name in ("stage", "sex", "quantity", "evidence"):
        assert (found.loc[found["code"] != "", "value"] != "").all()


@fuzz
@given(texts)
@example("c. 9990")
@example("9999/..")
@example("c. 0001")
@example("Mr &")
@example("../1990-")
@example("to since 2010")
@example("=A×")
@example("×=A")
def test_every_reader_of_one_cell(cell: str) -> None:
    """The readers behind the columns, one text at a time, so that a failure is shown at its smallest."""
    reading = text_to_interval(cell, pivot=30, today=TODAY)
    assert reading == text_to_interval(cell, pivot=30, today=TODAY)
    assert reading.kind in KINDS
    assert (reading.first is None and reading.last is None) == (reading.kind == "unknown")
    assert (reading.first or date.min) <= (reading.last or date.max)
    assert reading.kind != "unknown" or reading.verdict.code
    name = text_to_name(cell)
    assert name == text_to_name(cell)
    assert bool(name.name) == (name.rank != "none")
    people = text_to_cell(cell)
    assert people == text_to_cell(cell)
    assert all(person.written.strip() for person in people.people)


@settings(max_examples=EXAMPLES // BATCH, deadline=None, suppress_health_check=list(HealthCheck), phases=PHASES)
@given(st.lists(texts, min_size=BATCH, max_size=BATCH))
@example(["5/13/1998", "12-14/5/1998", "1985/..", "0000", "9999-12-31", "", " ", "\x00", "1/1/1", "0-0-0"])
@example(["()", "?", "cf.", "×", "agg.", "''", "♂", "0", "&", ";", ",", "Mr", "A. Marsh", "Ann Marsh", "Al Marsh"])
def test_every_parser_of_columns(cells: list[str]) -> None:
    for name, parser in PARSERS.items():
        found = parser(cells)
        check_verdicts(found, len(cells))
        check_silence(name, found)
        pd.testing.assert_frame_equal(found, parser(list(cells)))
    unclear_people(cells)
    parts = ("date", "date_end", "year", "month", "day")
    rows = -(-len(cells) // len(parts))
    shared = [*cells, *[""] * (rows * len(parts) - len(cells))]
    frame = pd.DataFrame({part: shared[place :: len(parts)] for place, part in enumerate(parts)})
    frame = frame.mask(np.arange(rows)[:, None] % np.arange(2, 7) == 0, "")
    combined = combine_parts(frame, pivot=30, today=TODAY)
    check_verdicts(combined, rows)
    check_silence("dates", combined)
    pd.testing.assert_frame_equal(combined, combine_parts(frame, pivot=30, today=TODAY))


@settings(max_examples=200, deadline=None)
@given(
    st.dates(date(EARLIEST_YEAR, 1, 1), TODAY),
    st.sampled_from(["%Y-%m-%d", "%d/%m/%Y", "%d %B %Y", "%d.%m.%Y", "%Y%m%d", "%d-%b-%Y"]),
)
def test_a_day_survives_being_written(day: date, pattern: str) -> None:
    found = text_to_interval(day.strftime(pattern), pivot=30, today=TODAY)
    assert found[:3] == (day, day, "day")
    assert found.verdict.code == ""


@settings(max_examples=200, deadline=None)
@given(
    st.dates(date(EARLIEST_YEAR, 1, 1), date(2020, 1, 1)), st.integers(1, 2000), st.sampled_from(["/", " to ", " - "])
)
def test_a_run_of_days_survives_being_written(first: date, length: int, between: str) -> None:
    last = first + timedelta(days=length)
    for pattern in ("%Y-%m-%d", "%d %B %Y"):
        text = first.strftime(pattern) + between + last.strftime(pattern)
        assert text_to_interval(text, pivot=30, today=TODAY)[:3] == (first, last, "days")


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.sampled_from(["A. Marsh", "B. Holt", "C. D. Dee", "Eve Fox", "G. van der Berg", "J. O'Brien"]),
        min_size=1, unique=True,
    ),
    st.sampled_from(["; ", " & ", ", ", " and "]),
)  # fmt: skip
def test_people_survive_being_joined(people: list[str], between: str) -> None:
    found = texts_to_people([between.join(people)], None).iloc[0]
    assert found["names"] == "; ".join(sorted(people))
    assert found["size"] == len(people)


@settings(max_examples=100, deadline=None)
@given(st.from_regex(r"\A[A-Z][a-z]{3,9}\Z"), st.from_regex(r"\A[a-z]{3,9}us\Z"))
def test_a_name_survives_its_trimmings(genus: str, epithet: str) -> None:
    name = f"{genus} {epithet}"
    trimmed = [f"{name} (Linnaeus, 1758)", f"{genus} ({genus}) {epithet}", f"  {name} ", f"{name} s.str."]
    written = [name, name.upper(), *trimmed]
    assert set(resolve_names(written, None)["name"]) == {name}


def test_long_cells_do_not_hang() -> None:
    """A cell of fifty thousand letters is a fault of the file, not a reason to wait."""
    cells = [piece * (50_000 // len(piece)) for piece in PIECES]
    for name, parser in PARSERS.items():
        check_silence(name, parser(cells))


@pytest.mark.parametrize("name", sorted(PARSERS))
def test_no_rows_no_trouble(name: str) -> None:
    assert len(PARSERS[name]([])) == 0
