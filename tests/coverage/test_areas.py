"""Hectads, the area's summary and growth by year, from small pictures."""

from __future__ import annotations

import pandas as pd
import pytest
import shapely

from gapmap.coverage.areas import growth, land_shares, roll_up, summary
from gapmap.coverage.completeness import STANDINGS
from gapmap.coverage.tally import tally
from gapmap.grid.squares import children, pack
from gapmap.grid.systems import system_named
from gapmap.settings import ThresholdsSection

HECTAD = int(pack(1, 10_000, 500_000, 600_000).item())
TETRADS = children(HECTAD, 2000)


def standings(words: dict[int, str], visits: dict[int, float] | None = None) -> pd.DataFrame:
    """A standing of one date class: tetrads of the hectad by their place in it."""
    needed = visits or {}
    return pd.DataFrame({
        "square": [int(TETRADS[place]) for place in words], "date_class": 0, "standing": list(words.values()),
        "visits_needed": [needed.get(place, float("nan")) for place in words],
    })


def test_a_hectad_of_twentyfive_tetrads() -> None:
    frame = roll_up(standings({0: "well covered", 1: "begun", 2: "part covered"}, {0: 0.0, 2: 4.0}), 10_000)
    one = frame[frame["date_class"] == 0].iloc[0]
    assert (one["square"], one["squares"]) == (HECTAD, 25)
    assert {word: one[word] for word in STANDINGS if one[word]} == {
        "well covered": 1, "begun": 1, "part covered": 1, "not visited": 22,
    }
    assert one["done_share"] == pytest.approx(1 / 25)
    assert one["visits_needed"] == 4
    assert one["needs"].split("; ")[0] == "OQ00K"  # A, F, K, Q, V along the lowest row (common practice)


def test_boundary_squares_count_by_their_share_of_land() -> None:
    """The area is the western 3 km of the hectad: one whole column of tetrads, and half of the next."""
    west = shapely.box(500_000, 600_000, 503_000, 610_000)
    land = land_shares(TETRADS, west, system_named("british"))
    assert len(land) == 10
    assert land[int(TETRADS[0])] == pytest.approx(1)
    assert land[int(TETRADS[1])] == pytest.approx(0.5)
    frame = roll_up(standings({0: "well covered", 1: "well covered", 4: "well covered"}), 10_000, land)
    one = frame[frame["date_class"] == 0].iloc[0]
    assert one["squares"] == pytest.approx(7.5)
    assert one["well covered"] == pytest.approx(1.5)
    assert one["done_share"] == pytest.approx(0.2)


def test_summary_counts_every_word() -> None:
    frame = summary(standings({0: "well covered", 1: "begun", 2: "begun"}))
    assert frame["standing"].tolist() == list(STANDINGS)
    assert frame.set_index("standing")["squares"].to_dict() == {
        **dict.fromkeys(STANDINGS, 0), "well covered": 1, "begun": 2,
    }
    assert frame["share"].sum() == pytest.approx(1)


def test_no_number_of_visits_is_said_where_none_is_known() -> None:
    """A square nobody visited needs visits, and nobody knows how many: that is not none."""
    table = summary(standings({0: "well covered", 1: "begun", 2: "not visited"}, {0: 0, 1: 4})).set_index("standing")
    assert table.loc[["well covered", "begun"], "visits_needed"].tolist() == [0, 4]
    assert table.loc[["not visited", "gone stale"], "visits_needed"].isna().all()
    assert table.loc["gone stale", "squares"] == 0


def test_a_square_without_land_is_counted_and_has_no_share() -> None:
    """Three squares on the map; of their land, one and a half squares, one lies in the square that is well covered."""
    frame = standings({0: "well covered", 1: "begun", 2: "begun"})
    table = summary(frame, pd.Series({frame["square"].iloc[0]: 1.0, frame["square"].iloc[1]: 0.5})).set_index("standing")
    assert table.loc[["well covered", "begun"], "squares"].tolist() == [1, 2]
    assert table.loc[["well covered", "begun"], "share"].tolist() == pytest.approx([2 / 3, 1 / 3])


def test_nothing_to_sum_up() -> None:
    assert len(summary(standings({}))) == 0
    assert len(roll_up(standings({}), 10_000)) == 0


def grown(records, enough: int = 6, squares: list[int] | None = None) -> pd.DataFrame:
    counts = tally(records, 2000, ())
    counts = counts if squares is None else counts[counts["square"].isin(squares)]
    return growth(records, counts, 2000, ThresholdsSection(begun_visits=1, enough_visits=enough)).set_index("year")


def test_growth_by_year(make_records) -> None:
    """Square A in 2001 and 2003, square B in 2003; two lists are enough here."""
    records = make_records([
        (1, 0, 0, 1000, "2001-05-01", 1), (2, 0, 0, 1000, "2001-05-01", 1),
        (1, 0, 0, 1000, "2003-05-01", 1), (3, 2000, 0, 1000, "2003-05-01", 1), (3, 2000, 0, 1000, "2003", 1),
        (3, 2000, 0, 1000, "1990/2005", 1),
    ])
    frame = grown(records, 2)
    assert frame.index.tolist() == [2001, 2002, 2003]
    assert frame["records"].tolist() == [2, 0, 3]
    assert frame["lists"].tolist() == [1, 0, 3]
    assert frame["squares"].tolist() == [1, 0, 2]
    assert frame["squares_so_far"].tolist() == [1, 1, 2]
    assert frame["species_so_far"].tolist() == [2, 2, 3]
    assert frame["enough_so_far"].tolist() == [0, 0, 2]
    assert len(grown(make_records([]))) == 0


def test_what_is_known_from_dates_of_several_years_only_is_known_from_the_first_of_them(make_records) -> None:
    """As in the tally, so that the last row has every species and every square whose dates are known at all."""
    frame = grown(make_records([(1, 0, 0, 1000, "2001-05-01", 1), (2, 2000, 0, 1000, "1998/2003", 1),
                                (3, 4000, 0, 1000, "", 1)]))
    assert frame.index.tolist() == [1998, 1999, 2000, 2001]
    assert frame["records"].tolist() == [0, 0, 0, 1]
    assert frame["squares_so_far"].tolist() == frame["species_so_far"].tolist() == [1, 1, 1, 2]


def test_a_night_into_the_new_year_is_a_list_of_the_old_one(make_records) -> None:
    """As among the lists, whose years the page counts."""
    night = {"date_kind": "days", "is_visit": True}
    frame = grown(make_records([(1, 0, 0, 1000, "2003-12-31/2004-01-01", 1, night)]))
    assert frame.loc[2003, ["records", "lists", "squares", "squares_so_far"]].tolist() == [1, 1, 1, 1]
    assert frame["lists"].sum() == 1


def test_growth_counts_no_square_away_from_the_map(make_records) -> None:
    """Square A is on the map and B is not: what was found in B alone is not known here."""
    records = make_records([(1, 0, 0, 1000, "2001-05-01", 1), (3, 2000, 0, 1000, "2003-05-01", 1)])
    on_the_map = pack(1, 2000, [500_000], [600_000]).tolist()
    frame = grown(records, squares=on_the_map)
    assert frame.index.tolist() == [2001]
    assert frame[["records", "squares_so_far", "species_so_far"]].values.tolist() == [[1, 1, 1]]
    assert len(grown(records, squares=[])) == 0
