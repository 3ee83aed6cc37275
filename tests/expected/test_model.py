"""The model against a known truth, and the frame it hands on."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from gapmap.columns import EXPECTED
from gapmap.expected.model import MOST_THOROUGH, expect, expected
from gapmap.expected.scores import auc
from gapmap.expected.words import neighbours_with
from gapmap.grid.squares import pack
from gapmap.settings import AreaSection, Settings
from tests.expected.conftest import make_finds, make_lists, make_species


def test_chances_follow_where_species_really_live(invented) -> None:
    lists, finds, species, squares, presence = invented(width=18, kinds=40)
    model = expect(lists, finds, species, squares, Settings()).model
    row = pd.Index(squares).get_indexer(pd.Index(model.evidence.squares))
    truth = presence[row][:, model.evidence.species]
    unknown = model.evidence.finds == 0
    lives = model.chance_lives()
    by_species = [
        auc(truth[unknown[:, kind], kind].astype(float), lives[unknown[:, kind], kind])
        for kind in range(truth.shape[1])
        if 5 <= truth[unknown[:, kind], kind].sum() <= unknown[:, kind].sum() - 5
    ]
    assert np.mean(by_species) > 0.75
    assert 0.6 < lives[unknown].sum() / truth[unknown].sum() < 1.6


def test_more_visits_never_lower_the_chance(invented) -> None:
    lists, finds, species, squares, _ = invented()
    model = expect(lists, finds, species, squares, Settings()).model
    chances = [model.chance_found(visits).mean() for visits in (1, 3, 10, MOST_THOROUGH)]
    assert chances == sorted(chances)
    assert (model.chance_lives() >= model.chance_found(1) - 1e-9).all()


def test_frame_keeps_the_contract(invented) -> None:
    lists, finds, species, squares, _ = invented()
    table = EXPECTED.check(expected(lists, finds, species, squares, Settings()))
    said = table.dropna(subset=["chance"])
    assert (said["chance_low"] <= said["chance"]).all()
    assert (said["chance"] <= said["chance_high"]).all()
    assert (said["chance_if_visited"] <= said["chance"]).all()
    assert (table.loc[table["grade"] == "can't say", "chance"].isna()).all()
    joined = finds.merge(lists, on="list_id")[["square", "species_id"]].drop_duplicates()
    assert table.merge(joined, on=["square", "species_id"]).empty


def test_found_long_ago_is_to_find_again(invented) -> None:
    lists, finds, species, squares, _ = invented()
    settings = Settings(area=AreaSection(classes="-2010, 2011-"))
    result = expect(lists, finds, species, squares, settings)
    again = result.table[result.table["found_before"] > 0]
    assert len(again)
    assert (again["found_before"] <= 2010).all()
    joined = finds.merge(lists, on="list_id")
    late = joined.loc[joined["year"] >= 2011, ["square", "species_id"]].drop_duplicates()
    assert again.merge(late, on=["square", "species_id"]).empty
    never = result.table[result.table["found_before"] == 0]
    assert again["chance"].mean() > never["chance"].mean()


def test_what_was_recorded_on_no_list_is_not_still_to_find(invented) -> None:
    """A fact of the trade, common practice, no source: "1950 to 1975" is a record of the square, if an old one."""
    lists, finds, species, squares, _ = invented()
    settings = Settings(area=AreaSection(classes="-2010, 2011-"))
    plain = expect(lists, finds, species, squares, settings)
    old, late, unknown = plain.table[plain.table["found_before"] == 0].iloc[:3][["square", "species_id"]].to_numpy()
    told = pd.DataFrame([old, late, unknown], columns=["square", "species_id"])
    tally = told.assign(date_class=-1, lists=0, last=[1975, 2014, 0])
    result = expect(lists, finds, species, squares, settings, tally=tally)
    found = result.table.set_index(["square", "species_id"])["found_before"]
    assert (found[tuple(old)], found[tuple(unknown)]) == (1975, 1)
    assert tuple(late) not in found.index
    assert len(result.table) == len(plain.table) - 1
    lost = plain.squares["still_to_find"].sum() - result.squares["still_to_find"].sum()
    chances = plain.table.set_index(["square", "species_id"])["chance"]
    assert lost == pytest.approx(sum(chances[tuple(pair)] for pair in (old, late, unknown)))


def test_what_lies_in_the_last_class_is_not_to_find_again_whichever_record_tells(invented) -> None:
    """Three species of one square's old list. One is on a list of New Year 2015/16, one in a record of "2016 to 2019"
    on no list; by the rules of the date classes both are found now, and the third alone is to find again.
    """
    lists, finds, species, squares, _ = invented()
    settings = Settings(area=AreaSection(classes="-2010, 2011-"))
    plain = expect(lists, finds, species, squares, settings)
    again = plain.table[plain.table["found_before"] > 0]
    square = int(again["square"].mode().iloc[0])
    one, two, three = again.loc[again["square"] == square, "species_id"].iloc[:3]
    new_year = make_lists(np.array([square]), year=0, date_class=1).assign(list_id=9999)
    tally = pd.DataFrame(
        [(square, two, -1, 1, 1990), (square, two, 1, 0, 2019), (square, three, -1, 1, 1990)],
        columns=["square", "species_id", "date_class", "lists", "last"],
    )
    told = expect(
        pd.concat([lists, new_year], ignore_index=True),
        pd.concat([finds, make_finds(np.array([9999]), np.array([one]))], ignore_index=True),
        species, squares, settings, tally=tally,
    )  # fmt: skip
    kept = set(told.table.loc[(told.table["square"] == square) & (told.table["found_before"] > 0), "species_id"])
    before = set(again.loc[again["square"] == square, "species_id"])
    assert three in kept
    assert before - kept == {one, two}


def test_the_reason_counts_the_lists_that_held_what_is_to_find_again() -> None:
    """In a square of four lists one held it: it was not "not on 4 lists"."""
    x = np.arange(30)
    squares = pack(1, 2_000, 500_000 + x * 2_000, np.full(30, 1_210_000))
    lists = make_lists(np.concatenate([squares, squares[[0, 0, 0]]]), year=np.r_[np.full(30, 1990), [2012, 2013, 2014]])
    finds = make_finds(
        np.concatenate([x + 1, [31, 32, 33], x[:10] + 1]), np.concatenate([np.zeros(33, int), np.ones(10, int)])
    )
    table = expected(lists, finds, make_species(2), squares, Settings(area=AreaSection(classes="-2010, 2011-")))
    row = table[(table["square"] == squares[0]) & (table["species_id"] == 1)].iloc[0]
    assert row["found_before"] == 1990
    assert row["why"].endswith("on 1 of 4 lists here that could have held it")
    never = table[(table["square"] == squares[20]) & (table["species_id"] == 1)].iloc[0]
    assert never["why"].endswith("not on 1 list here that could have held it")


def test_no_interval_holds_more_species_than_are_left_to_find(invented) -> None:
    lists, finds, species, squares, _ = invented(kinds=4)
    told = expect(lists, finds, species, squares, Settings())
    joined = finds.merge(lists, on="list_id").drop_duplicates(["square", "species_id"])
    left = 4 - told.squares["square"].map(joined.groupby("square").size()).fillna(0)
    said = told.squares["still_high"].notna()
    assert (told.squares["still_high"] <= left + 1e-9)[said].all()
    assert (told.squares["still_to_find"] <= told.squares["still_high"] + 1e-9)[said].all()


def test_nothing_is_said_where_the_data_cannot_carry_it() -> None:
    squares = pack(1, 2_000, [500_000, 502_000], [1_210_000, 1_210_000])
    told = expect(
        make_lists(squares), make_finds(np.array([1, 2]), np.array([0, 1])), make_species(2), squares, Settings()
    )
    assert len(told.table) == 2
    assert (told.table["grade"] == "can't say").all()
    assert told.table["chance"].isna().all()
    assert told.squares[["still_to_find", "still_low", "still_high", "to_refind"]].isna().all(axis=None)


def test_no_records_at_all() -> None:
    empty = make_lists(np.zeros(0, "int64"))
    result = expect(empty, make_finds(np.zeros(0, int), np.zeros(0, int)), make_species(2), [], Settings())
    assert result.table.empty
    assert result.squares.empty


def test_lists_of_another_group_say_nothing() -> None:
    """Birds were listed everywhere, moths in ten squares: a bird list is no effort for moths."""
    x = np.arange(20)
    squares = pack(1, 2_000, 500_000 + x * 2_000, np.full(20, 1_210_000))
    lists = make_lists(np.concatenate([squares, squares[:10]]))
    finds = make_finds(np.concatenate([x + 1, x[:10] + 21]), np.concatenate([np.zeros(20, int), np.ones(10, int)]))
    species = make_species(2, group={0: "bird", 1: "moth"})
    evidence = expect(lists, finds, species, squares, Settings()).model.evidence
    order = np.argsort(np.argsort(squares))
    assert evidence.effort[order[:10], 1].tolist() == [1.0] * 10
    assert evidence.effort[order[10:], 1].tolist() == [0.0] * 10
    moth = np.ones(2, dtype="int64")
    looked, with_it = neighbours_with(evidence, order[[5, 15]], moth)
    assert looked.tolist() == [2, 0], "in a row of squares each has two neighbours; about moths nobody looked in the last"
    assert with_it.tolist() == [2, 0]


def test_a_sliver_of_the_area_holds_fewer_species(invented) -> None:
    """On a sixteenth of the ground about half as many live, the fourth root (Preston 1962, Ecology 43; from memory)."""
    lists, finds, species, squares, _ = invented()
    lists = lists[~lists["square"].isin(squares[::7])]
    room = pd.DataFrame({"inside": np.where(np.isin(squares, squares[::7]), 1 / 16, 1.0)}, index=squares)
    models = [expect(lists, finds, species, squares, Settings(), table).model for table in (None, room)]
    row = pd.Index(models[0].evidence.squares).get_indexer(pd.Index(squares[::7]))
    whole, sliver = (model.chance_found(1)[row] for model in models)
    rare = whole < 0.1
    assert rare.sum() > 100
    assert 0.4 < (sliver[rare] / whole[rare]).mean() < 0.6
    assert (sliver < whole).all()
