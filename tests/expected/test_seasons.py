"""Seasons and hours: the trade's check values, on invented species and simulated records.

That a hunter of the small hours is under-recorded because nobody looks then, that males leaving their webs make an
autumn peak, and that strays indoors do not live there are common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from gapmap.expected.evidence import gather
from gapmap.expected.hours import hour_calendar
from gapmap.expected.methods import method_table
from gapmap.expected.model import expect
from gapmap.expected.seasons import calendar, months_of
from gapmap.expected.ways import find_ways
from gapmap.grid.squares import pack
from gapmap.settings import Settings
from tests.expected.conftest import make_finds, make_lists, make_species


def record(seed: int, month: np.ndarray, chance: np.ndarray) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Lists in the given months over 64 squares; chance is lists × species."""
    generator = np.random.default_rng(seed)
    x, y = np.divmod(np.arange(64), 8)
    squares = pack(1, 2_000, 500_000 + x * 2_000, 1_210_000 + y * 2_000)
    square = squares[generator.integers(0, 64, len(month))]
    row, kind = np.nonzero(generator.random(chance.shape) < chance)
    lists = make_lists(square, month=month, year=generator.integers(2000, 2020, len(month)), time_of_day="day")
    return lists, make_finds(row + 1, kind)


def test_hunter_of_the_small_hours() -> None:
    """Everything is looked for by day; species 0 belongs to the night and turns up by day now and then."""
    month = np.tile(np.arange(1, 13), 40)
    chance = np.column_stack([np.full(480, 0.02), *(np.full(480, share) for share in (0.5, 0.4, 0.3, 0.2))])
    lists, finds = record(1, month, chance)
    species = make_species(5, time_of_day={0: "night"})
    result = expect(lists, finds, species, [], Settings())
    row = result.table[result.table["species_id"] == 0]
    assert (row["time_of_day"] == "night").all()
    assert row["why"].str.contains("nobody has looked at night here").all()
    by_day = result.model.chance_found(1, time_of_day="day")[:, 0]
    lives = result.model.chance_lives()[:, 0]
    assert (lives > 3 * by_day).all()
    assert result.model.detection(time_of_day="night")[0] > 2 * result.model.detection(time_of_day="day")[0]


def test_months_of_the_checklist_where_no_list_tells_its_own() -> None:
    """Years only: of two species recorded alike the one that the checklist gives to summer is seldom met in January."""
    lists, finds = record(3, np.zeros(200, dtype=int), np.full((200, 2), 0.4))
    model = expect(lists, finds, make_species(2, months={0: "6-8"}), [], Settings()).model
    january, july = model.chance_found(1, month=1), model.chance_found(1, month=7)
    assert (january[:, 0] < 0.5 * july[:, 0]).all()
    np.testing.assert_allclose(january[:, 1], july[:, 1])


def test_males_of_autumn() -> None:
    """A species that lives there all year but is met five times as often in September and October."""
    month = np.repeat(np.arange(1, 13), [10, 10, 40, 80, 120, 120, 120, 80, 40, 30, 10, 10])
    often = np.where(np.isin(month, [9, 10]), 0.5, 0.1)
    lists, finds = record(2, month, np.column_stack([often, np.full(len(month), 0.7), np.full(len(month), 0.3)]))
    table = calendar(lists, finds, make_species(3))
    own = table[(table["species_id"] == 0) & (table["time_of_day"] == "day")].set_index("month")
    assert own.loc[[9, 10], "activity"].min() > 1.5 * own.loc[[4, 5, 6, 7], "activity"].max()
    # more finds were made in the busy summer than in autumn: effort is what the calendar takes out
    assert own.loc[[5, 6, 7], "finds"].sum() > own.loc[[9, 10], "finds"].sum() * 0.6
    assert (own["rate_low"] <= own["rate"]).all()
    assert (own["rate"] <= own["rate_high"]).all()
    assert own.loc[6, "rate_high"] > 0.1 * 0.7
    assert table["rate_high"].max() <= 1, "a list holds a species or not: no more than all lists do"
    result = expect(lists, finds, make_species(3), [], Settings())
    assert (result.table.loc[result.table["species_id"] == 0, "best_months"] == "Sep–Oct").all()
    assert (result.model.chance_lives()[:, 0] > result.model.chance_found(1, month=6)[:, 0]).all()


def test_strays_indoors_send_nobody_indoors() -> None:
    """Most finds of species 0 are strays in houses; its other finds are by sieving."""
    method = np.array(["indoors", "sieving", "sweeping"])[np.arange(300) % 3]
    often = np.where(method == "indoors", 0.8, np.where(method == "sieving", 0.2, 0.02))
    lists, finds = record(
        3, np.tile(np.arange(1, 13), 25), np.column_stack([often, np.full(300, 0.6), np.full(300, 0.4)])
    )
    lists["method"] = method
    result = expect(lists, finds, make_species(3), [], Settings())
    assert (result.table.loc[result.table["species_id"] == 0, "method"] == "sieving").all()


def test_what_a_method_finds_is_told_though_empty_lists_are_never_sent_in() -> None:
    """By beating 0.3 of what sieving brings, but one species half as much again; no list where nothing was found.

    The truth is the simulation's own, of searches as long as it happens (exponential).
    """
    generator = np.random.default_rng(21)
    sieving = generator.random(5_000) < 0.6
    strength = np.where(sieving[:, None], 1.0, np.where(np.arange(12) == 5, 1.5, 0.3))
    long = generator.exponential(1.0, 5_000)[:, None]
    found = generator.random((5_000, 12)) < 1 - np.exp(-np.linspace(0.05, 0.6, 12) * long * strength)
    kept = np.flatnonzero(found.any(axis=1))
    lists = make_lists(np.zeros(len(kept), "int64"), method=np.where(sieving[kept], "sieving", "beating"))
    finds = make_finds(*((part + first) for part, first in zip(np.nonzero(found[kept]), (1, 0), strict=True)))
    table = method_table(lists, finds, make_species(12)).set_index(["species_id", "method"])
    by = table["activity"].unstack()
    ratio = by["beating"] / by["sieving"]
    assert 1.1 < ratio[5] < 2.0
    assert 0.2 < ratio.drop(5).median() < 0.45
    rate = table["rate"].unstack()
    assert (rate["beating"] / rate["sieving"]).drop(5).median() > 0.5, "by the lists alone it looks better than it is"


def test_wrong_season_says_nothing() -> None:
    """Two squares with as many lists without species 0: in its month they speak against it, out of it hardly."""
    month = np.tile([6, 12], 200)
    chance = np.column_stack([np.where(month == 6, 0.6, 0.0), np.full(400, 0.7), np.full(400, 0.4)])
    lists, finds = record(4, month, chance)
    evidence = expect(lists, finds, make_species(3), [], Settings()).model.evidence
    weight = evidence.months_hours.reshape(13, 4, 3)[:, 0, 0]
    assert weight[12] < 0.25 * weight[6]


def test_poor_nights_are_told_though_empty_lists_are_never_sent_in() -> None:
    """By night 0.4 of what the day brings; what found nothing is not written down, and of every third only one species.

    The truth is the simulation's own, of searches as long as it happens (exponential): the lists that exist make the
    night look better than it is.
    """
    generator = np.random.default_rng(12)
    searches = 4_000
    night = generator.random(searches) < 0.3
    long = generator.exponential(1.0, searches) * np.where(night, 0.4, 1.0)
    found = generator.random((searches, 12)) < 1 - np.exp(-np.linspace(0.05, 0.6, 12) * long[:, None])
    casual = np.flatnonzero(generator.random(searches) < 1 / 3)
    noticed = np.argmax(found[casual] * generator.random((len(casual), 12)), axis=1)
    found[casual] &= np.arange(12) == noticed[:, None]
    kept = np.flatnonzero(found.any(axis=1))
    square = pack(1, 2_000, 500_000 + 2_000 * (kept % 64), np.full(len(kept), 1_210_000))
    lists = make_lists(square, time_of_day=np.where(night[kept], "night", "day"))
    finds = make_finds(*((part + first) for part, first in zip(np.nonzero(found[kept]), (1, 0), strict=True)))
    evidence = expect(lists, finds, make_species(12), [], Settings()).model.evidence
    of_lists, of_outings = (part[3].mean() / part[1].mean() for part in (evidence.months_hours, evidence.outings))
    assert of_lists > 0.55
    assert 0.32 < of_outings < 0.52


def test_months_of_a_checklist() -> None:
    assert months_of("9-11") == (9, 10, 11)
    assert months_of("1-5,9-12") == (1, 2, 3, 4, 5, 9, 10, 11, 12)
    assert months_of("13") == ()


def test_hours_are_corrected_for_when_people_go_out() -> None:
    """People go out at noon nine times in ten; species 0 is about from midnight to two, species 1 at all hours."""
    generator = np.random.default_rng(7)
    month = np.tile(np.arange(1, 13), 100)
    hour = np.where(generator.random(1_200) < 0.9, 12, generator.integers(0, 24, 1_200))
    often = np.where(np.isin(hour, [0, 1]), 0.6, 0.02)
    lists, finds = record(5, month, np.column_stack([often, np.full(1_200, 0.5), np.full(1_200, 0.6)]))
    lists["hour"] = hour
    table = hour_calendar(lists, finds, make_species(3))
    night = table[(table["species_id"] == 0) & (table["month"] == 0)].set_index("hour")
    assert night.loc[12, "finds"] > night.loc[[0, 1], "finds"].sum()
    assert night.loc[[0, 1], "activity"].min() > 1.3 * night.loc[3:22, "activity"].max()
    assert night.loc[[0, 1], "rate_low"].min() > night.loc[12, "rate_high"]
    steady = table[(table["species_id"] == 1) & (table["month"] == 0)].set_index("hour")
    assert steady["activity"].between(0.6, 1.6).all()
    assert (night["rate_low"].fillna(0) <= night["rate"].fillna(0)).all()
    assert not night.loc[night["lists"] < 5, "can_say"].any()
    assert set(table.loc[table["month"] == 0, "hour"]) == set(range(24))
    own = table[(table["species_id"] == 0) & (table["month"] > 0)]
    assert own["lists"].min() > 0
    assert own["finds"].sum() == night["finds"].sum()


def test_a_month_is_not_mistaken_for_an_hour() -> None:
    """Nights are looked at in June only, where species 0 is common at any hour: that is its month, not its hour."""
    month = np.concatenate([np.tile(np.arange(1, 13), 60), np.full(200, 6)])
    hour = np.concatenate([np.full(720, 13), np.full(200, 23)])
    often = np.where(month == 6, 0.5, 0.02)
    lists, finds = record(6, month, np.column_stack([often, np.full(920, 0.6), np.full(920, 0.5)]))
    lists["hour"] = hour
    table = hour_calendar(lists, finds, make_species(3))
    own = table[(table["species_id"] == 0) & (table["month"] == 0)].set_index("hour")
    by_rate, by_activity = (own.loc[23, column] / own.loc[13, column] for column in ("rate", "activity"))
    assert by_rate > 5
    assert by_activity < 0.5 * by_rate


def test_no_hour_told_gives_an_empty_calendar() -> None:
    lists, finds = record(1, np.array([5, 6]), np.ones((2, 2)))
    assert hour_calendar(lists, finds, make_species(2)).empty


def test_nobody_says_when_it_is_best_of_months_and_hours_in_which_nobody_looked() -> None:
    """All lists are of May to September and by day, but for bird lists of every month and of the night: they say nothing
    of beetles. A species of every second beetle list is not "best all year", nor "by day"; where the checklist has it
    from April, April stands beside the months of the records.
    """
    beetles, birds = 5 + np.arange(200) % 5, 1 + np.arange(240) % 12
    x, y = np.divmod(np.arange(440) % 64, 8)
    squares = pack(1, 2_000, 500_000 + x * 2_000, 1_210_000 + y * 2_000)
    time = np.array(["day"] * 200 + ["night", "dusk"] * 120)
    lists = make_lists(squares, month=np.concatenate([beetles, birds]), time_of_day=time)
    number = lists["list_id"].to_numpy()
    finds = make_finds(
        np.concatenate([number, number[:200:2], number[:200:2]]),
        np.repeat([0, 3, 1, 2], [200, 240, 100, 100]),
    )
    group = dict.fromkeys((0, 1, 2), "beetle") | {3: "bird"}
    species = make_species(4, group=group, months={2: "4-9"})
    ways = find_ways(lists, finds, species, gather(lists, finds, species, np.unique(squares)).months_hours)
    assert ways.months == ["May–Sep", "May–Sep", "Apr–Sep", "all year"]
    assert ways.time_of_day[:3] == ["", "", ""]
    assert ways.time_of_day[3] in ("night", "dusk")


def test_a_method_is_one_whatever_its_letters() -> None:
    """Ten lists by "Sieving" and ten by "sieving" are twenty by sieving."""
    x = np.arange(20)
    lists = make_lists(pack(1, 2_000, 500_000 + x * 2_000, np.full(20, 1_210_000)), method=["Sieving", "sieving"] * 10)
    table = method_table(lists, make_finds(x + 1, np.zeros(20, int)), make_species(1))
    assert table[["method", "lists", "finds"]].to_numpy().tolist() == [["sieving", 20, 20]]


def test_a_method_hardly_tried_is_not_how_to_look() -> None:
    """Four lists by torch all hold the species, sixty by hand every second: methods.csv cannot say it of the torch, whose
    lists are fewer than five, and no more can the words.
    """
    x = np.arange(64)
    method = np.where(x < 4, "torch", "hand search")
    lists = make_lists(pack(1, 2_000, 500_000 + x % 8 * 2_000, 1_210_000 + x // 8 * 2_000), method=method)
    finds = make_finds(np.concatenate([x + 1, x[:4] + 1, x[4::2] + 1]), np.repeat([0, 1], [64, 34]))
    species = make_species(2)
    table = method_table(lists, finds, species).query("species_id == 1").set_index("method")
    assert table.loc["torch", "activity"] > table.loc["hand search", "activity"]
    assert not table.loc["torch", "can_say"]
    ways = find_ways(lists, finds, species, gather(lists, finds, species, np.unique(lists["square"])).months_hours)
    assert ways.method[1] == "hand search"
