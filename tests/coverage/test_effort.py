"""Effort, against small pictures counted by eye."""

from __future__ import annotations

import random

import numpy as np
import pandas as pd
import pytest

from gapmap.coverage import effort as effort_module
from gapmap.coverage import finds
from gapmap.coverage.effort import effort
from gapmap.coverage.gaps import months_to_words
from gapmap.coverage.hours import hours_to_words
from gapmap.grid.squares import pack
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-")
HOME = int(pack(1, 2000, 500_000, 600_000).item())


def row(frame, date_class: int, square: int = HOME) -> dict[str, object]:
    return frame[(frame["square"] == square) & (frame["date_class"] == date_class)].iloc[0].to_dict()


def test_one_square_counted_by_eye(make_records) -> None:
    """Three lists after 2000: two by people 4 (five records), one by nobody named; and one old year list."""
    frame = effort(make_records([
        (1, 0, 0, 100, "2005-05-02", 4), (2, 0, 0, 100, "2005-05-02", 4), (3, 300, 0, 100, "2005-05-02", 4),
        (1, 0, 0, 100, "2006-06-02", 4), (2, 0, 0, 100, "2006-06-02", 4),
        (1, 0, 0, 100, "2006-06-02", 0),
        (9, 0, 0, 1000, "1980", 7),
    ]), 2000, CLASSES)
    now = row(frame, 1)
    expected = {
        "records": 6, "species": 3, "visits": 3, "lists": 3, "recorders": 1, "days": 2, "years": 2,
        "months": 0b110000, "single_lists": 1, "short_lists": 2, "long_lists": 0, "longest_list": 3,
        "median_list": 2.0, "busiest_share": pytest.approx(5 / 6), "first": 2005, "last": 2006, "night_visits": 0,
    }
    assert {name: now[name] for name in expected} == expected
    total = row(frame, -1)
    assert (total["records"], total["lists"], total["visits"], total["years"], total["first"]) == (7, 4, 3, 3, 1980)
    assert total["busiest_share"] == pytest.approx(5 / 7)


def test_every_square_has_a_row_for_every_class(make_records) -> None:
    area = pack(1, 2000, [500_000, 502_000], [600_000, 600_000])
    frame = effort(make_records([(1, 0, 0, 100, "1990-05-02", 4)]), 2000, CLASSES, squares=area)
    assert frame[["square", "date_class"]].to_numpy().tolist() == [[s, c] for s in sorted(area) for c in (-1, 0, 1)]
    assert frame["records"].tolist() == [1, 1, 0, 0, 0, 0]
    assert np.isnan(frame["median_list"].iloc[2])


@pytest.mark.parametrize("most", [1, 40])
def test_some_squares_at_a_time_give_the_same(make_records, monkeypatch, most) -> None:
    """Whatever is counted of a square does not depend on others; the months of the whole area are summed up."""
    lot = random.Random(20_263)
    rows = [
        (
            lot.randrange(6), 1000 * lot.randrange(9), 1000 * lot.randrange(9) - 4000, lot.choice((100, 1000, 2000)),
            lot.choice(("1999-05-03", "1999-05-03", "2001-07-09", "2003-07", "2004", "")), lot.randrange(3),
            {"time_of_day": lot.choice(("", "day", "night")), "method": lot.choice(("", "sieving"))},
        )
        for _ in range(300)
    ]  # fmt: skip
    expected = effort(make_records(rows), 2000, CLASSES)
    for module in (finds, effort_module):
        monkeypatch.setattr(module, "MOST_GROUPED", most)
    records = make_records(rows)
    assert len(finds._bands(records, 2000)) > 3
    pd.testing.assert_frame_equal(effort(records, 2000, CLASSES), expected)
    assert expected["best_month"].nunique() > 1


def test_no_records(make_records) -> None:
    assert len(effort(make_records([]), 2000, CLASSES)) == 0
    alone = effort(make_records([]), 2000, CLASSES, squares=[HOME])
    assert alone["records"].tolist() == [0, 0, 0]


def test_records_that_may_belong_to_a_class_are_counted(make_records) -> None:
    frame = effort(make_records([(1, 0, 0, 100, "1999/2003", 4), (1, 0, 0, 100, "", 4)]), 2000, CLASSES)
    assert [row(frame, one)["undated"] for one in (-1, 0, 1)] == [0, 2, 2]


def test_a_square_is_known_from_the_first_year_of_its_species_to_their_last(make_records) -> None:
    """By hand: one species on a day of 2006; another from dates of several years only, which are its years."""
    frame = effort(make_records([
        (1, 0, 0, 100, "2006-05-02", 4), (1, 0, 0, 100, "1950/1999", 4), (2, 0, 0, 100, "1950/1975", 4),
        (3, 0, 0, 100, "2003/2009", 4), (4, 0, 0, 100, "", 4),
    ]), 2000, CLASSES)
    rows = [row(frame, one) for one in (-1, 0, 1)]
    assert [(each["first"], each["last"]) for each in rows] == [(1950, 2009), (1950, 1999), (2003, 2009)]


def test_night_is_told_by_time_and_by_method(make_records) -> None:
    frame = effort(make_records([
        (1, 0, 0, 100, "2005-06-01", 1, {"time_of_day": "night"}),
        (1, 0, 0, 100, "2005-06-02", 1, {"time_of_day": "dusk"}),
        (1, 0, 0, 100, "2005-06-03", 1, {"time_of_day": "12"}),
        (1, 0, 0, 100, "2005-12-04", 1, {"time_of_day": "22"}),
        (1, 0, 0, 100, "2005-06-05", 1, {"method": "Light trap"}),
        (1, 0, 0, 100, "2005-06-06", 1),
    ]), 2000, CLASSES)
    now = row(frame, 1)
    assert (now["night_visits"], now["hours"], now["methods"]) == (4, 1 + 2 + 4, 1)


def test_a_month_of_one_list_is_no_season(make_records) -> None:
    """Three lists of two species in May, and one of twelve in January: nobody knows yet what January brings."""
    may = [(species, 0, 0, 100, f"2005-05-{day:02d}", 1) for day in (1, 2, 3) for species in (1, 2)]
    january = [(species, 2000, 0, 100, "2005-01-01", 2) for species in range(12)]
    now = row(effort(make_records(may + january), 2000, CLASSES), 1)
    assert (now["not_done"], now["best_month"]) == ("", 5)


def test_what_was_never_done_is_said(make_records) -> None:
    """The area is worked from May to August and at night; the second square only by day in May and June."""
    rows = [
        (species, 0, 0, 100, f"2005-{month:02d}-{day:02d}", 1, {"time_of_day": "night"})
        for month in (5, 6, 7, 8) for day in (2, 3, 4) for species in range(3)
    ]
    rows += [(1, 2000, 0, 100, f"2005-{month:02d}-{month:02d}", 1, {"time_of_day": "day"}) for month in (5, 5, 6)]
    rows += [(1, 2000, 0, 100, "2005-06-20", 1, {"time_of_day": "day"})]
    rows += [(1, 6000, 0, 100, "2005-06-20", 1, {"time_of_day": "day"})]
    rows += [(1, 4000, 0, 100, "2005", 1)]
    frame = effort(make_records(rows), 2000, CLASSES)
    east, silent = (int(pack(1, 2000, 500_000 + step, 600_000).item()) for step in (2000, 4000))
    assert row(frame, 1)["not_done"] == ""
    assert row(frame, 1, east)["not_done"] == "never in July to August; never at dusk or night"
    assert (row(frame, 1, east)["best_month"], row(frame, 1, east)["best_time"]) == (7, "night")
    assert row(frame, 1, silent)["not_done"] == ""
    assert row(frame, 1, int(pack(1, 2000, 506_000, 600_000).item()))["not_done"] == ""  # one list says little


def test_months_in_words_wrap_round_the_year() -> None:
    assert months_to_words(0b110000000011) == "November to February"


@pytest.mark.parametrize(
    ("month", "latitude", "hour", "word"),
    [
        # Edinburgh (56° N): the sun rises at about 4:30 and sets at 22:00 by the clock in mid-June, civil twilight
        # ends at 22:55; in mid-December 8:40 and 15:40, dawn from 7:55 (almanac values, from memory)
        (6, 56, 5, "day"), (6, 56, 20, "day"), (6, 56, 22, "dusk"), (6, 56, 0, "night"),
        (12, 56, 7, "night"), (12, 56, 9, "day"), (12, 56, 17, "night"),
        # Cape Town, winter and summer; and beyond the polar circle, where the sun stays up or down
        (6, -34, 18, "night"), (12, -34, 18, "day"), (6, 80, 0, "day"), (12, 80, 12, "night"),
    ],
)
def test_hours_of_the_day(month: int, latitude: float, hour: int, word: str) -> None:
    assert hours_to_words(month, latitude)[hour] == word


@pytest.mark.parametrize(("method", "is_dark"), [
    ("Moth-trap", True), ("by torchlight", True), ("UV lamps", True), ("headlamp", True), ("overnight pitfall", True),
    ("midnight walk", True), ("fortnightly transect", False), ("electrofishing for lamprey", False),
    ("clamped net", False), ("beating nightshade", False), ("", False),
])  # fmt: skip
def test_what_a_method_says_of_the_dark(make_records, method: str, is_dark: bool) -> None:
    """Whole words (common practice, no source): a fortnight is no night and a lamprey no lamp."""
    records = make_records([(1, 0, 0, 1000, "2010-05-01", 1, {"method": method})])
    assert effort(records, 2000, CLASSES)["night_visits"].tolist() == [int(is_dark), 0, int(is_dark)]
