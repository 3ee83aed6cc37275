"""Species that live around the area and are in no square of it yet."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from gapmap.expected.newcomers import COLUMNS, Seen, expect_newcomers
from gapmap.grid.squares import pack
from tests.expected.conftest import make_finds, make_lists, make_species

SIDE = 2_000


def square(x: np.ndarray | int, y: np.ndarray | int) -> np.ndarray:
    return pack(1, SIDE, 500_000 + np.atleast_1d(x) * SIDE, 1_210_000 + np.atleast_1d(y) * SIDE)


@pytest.fixture(scope="module")
def around() -> tuple[Seen, Seen, np.ndarray]:
    """An area of 8 × 8 squares and, west of it, 8 × 8 more: species 0 and 1 live in both, 2 and 3 in the west only.

    Species 2 lives in every western square, species 3 in the two columns farthest from the area, 4 in one square.
    """
    generator = np.random.default_rng(3)
    x, y = np.divmod(np.arange(64), 8)
    here, west = square(x + 8, y), square(x, y)

    def seen(squares: np.ndarray, chance: np.ndarray, names: list[str]) -> Seen:
        at = np.repeat(np.arange(len(squares)), 6)
        row, kind = np.nonzero(generator.random((len(at), chance.shape[1])) < chance[at])
        lists = make_lists(squares[at], year=generator.integers(2000, 2021, len(at)))
        return Seen(lists, make_finds(row + 1, kind), make_species(chance.shape[1]).assign(name=names))

    common = np.tile([0.7, 0.5], (64, 1))
    far, one = np.where(x < 2, 0.5, 0.0), np.where(np.arange(64) == 60, 0.8, 0.0)
    everywhere = np.full(64, 0.5)
    wider = seen(west, np.column_stack([everywhere, common, far, one]), ["Near", "B", "A", "Far", "Once"])
    own = seen(here, common, ["A", "B"])
    listed = pd.concat([own.species, make_species(1).assign(species_id=2, name="Listed only")], ignore_index=True)
    return Seen(own.lists, own.finds, listed), wider, here


def test_the_near_is_expected_most_and_at_the_near_edge(around) -> None:
    own, wider, area = around
    table = expect_newcomers(own, [wider], area)
    assert table.columns.tolist() == list(COLUMNS)
    assert table["species"].tolist()[:2] == ["Near", "Far"]
    near, far = table.iloc[0], table.iloc[1]
    assert near["best_square"] in set(square(8, np.arange(8)).tolist())
    assert near["chance"] > 2 * far["chance"]
    assert near["squares_expected"] > 2 * far["squares_expected"]
    assert near["chance_low"] <= near["chance"] <= near["chance_high"]
    assert (near["nearest_km"], far["nearest_km"]) == (2.0, 14.0)
    number = wider.lists.merge(wider.finds.query("species_id == 0"), on="list_id")["square"].nunique()
    assert near["why"] == f"known from {number} squares around the area, the nearest 2 km off"


def test_one_square_and_a_checklist_alone_carry_no_number(around) -> None:
    own, wider, area = around
    table = expect_newcomers(own, [wider], area).set_index("species")
    assert table.index.tolist()[2:] == ["Once", "Listed only"]
    assert table.loc[["Once", "Listed only"], ["chance", "squares_expected"]].isna().all(axis=None)
    assert table.loc["Once", "why"].endswith("too few to put a number to it")
    assert table.loc["Listed only", "why"] == "only the checklist names it"


def test_what_the_area_has_is_no_newcomer_and_wider_records_inside_are_named_not_counted(around) -> None:
    own, wider, area = around
    late = int(wider.lists["list_id"].max()) + 1
    lists = pd.concat([wider.lists, make_lists(square(12, 4)).assign(list_id=late)], ignore_index=True)
    finds = pd.concat([wider.finds, make_finds(np.array([late, late]), np.array([3, 1]))], ignore_index=True)
    table = expect_newcomers(own, [Seen(lists, finds, wider.species)], area).set_index("species")
    assert not {"A", "B"} & set(table.index)
    assert "ask for that record" in table.loc["Far", "why"]
    assert table.loc["Far", "nearest_km"] == 14.0


def test_own_records_away_from_the_area_count_as_wider_ones(around) -> None:
    own, wider, area = around
    every = expect_newcomers(own, [wider], area).set_index("species")
    start = int(own.lists["list_id"].max())
    number = wider.species["name"].map({"A": 0, "B": 1, "Near": 10, "Far": 11, "Once": 12}).to_numpy()
    lists = pd.concat([own.lists, wider.lists.assign(list_id=wider.lists["list_id"] + start)], ignore_index=True)
    moved = wider.finds.assign(
        list_id=wider.finds["list_id"] + start, species_id=number[wider.finds["species_id"].to_numpy()]
    )
    kinds = make_species(3).assign(species_id=[10, 11, 12], name=["Near", "Far", "Once"])
    one = Seen(
        lists, pd.concat([own.finds, moved], ignore_index=True), pd.concat([own.species, kinds], ignore_index=True)
    )
    alone = expect_newcomers(one, [], area).set_index("species")
    pd.testing.assert_series_equal(alone["chance"].sort_index(), every["chance"].sort_index())


def test_nothing_around_and_nothing_listed() -> None:
    own = Seen(make_lists(square(0, 0)), make_finds(np.array([1]), np.array([0])), make_species(1))
    assert expect_newcomers(own, [], square(0, 0)).empty


def test_few_lists_carry_no_number() -> None:
    """Two lists of the area and three around it, two of them with the newcomer: the rule for chances asks for twenty."""
    own = Seen(make_lists(square([8, 9], 0)), make_finds(np.array([1, 2]), np.zeros(2, int)), make_species(1))
    wider = Seen(make_lists(square([0, 1, 2], 0)), make_finds(np.array([1, 2, 3]), np.array([1, 1, 0])), make_species(2))
    (row,) = expect_newcomers(own, [wider], square([8, 9], 0)).to_dict("records")
    assert (row["species"], row["squares_around"]) == ("Inventa 1", 2)
    assert np.isnan(row["chance"])
    assert np.isnan(row["squares_expected"])
    assert row["why"].endswith("the nearest 14 km off; too few to put a number to it")
