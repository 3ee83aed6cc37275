"""The backtest: nothing after the cut leaks, plain rules by hand, and the figures on open data."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from gapmap.coverage.tally import lists_and_finds
from gapmap.errors import GapmapError
from gapmap.expected.backtest import backtest, verdict
from gapmap.expected.baselines import baselines
from gapmap.expected.evidence import gather
from gapmap.expected.scores import SCORES, scores
from gapmap.grid.squares import pack
from gapmap.records.clean import read_records
from gapmap.settings import Settings
from gapmap.typed import text_to_classes
from tests.expected.conftest import OPEN_DATA, make_finds, make_lists, make_species


def test_what_is_found_after_the_cut_changes_no_chance(invented) -> None:
    lists, finds, species, _, _ = invented()
    plain = backtest(lists, finds, species, 2010)
    late = lists.loc[lists["year"] > 2010, "list_id"].to_numpy()
    swapped = finds.copy()
    hidden = swapped["list_id"].isin(late)
    swapped.loc[hidden, "species_id"] = np.random.default_rng(5).permutation(swapped.loc[hidden, "species_id"])
    swapped = swapped.drop_duplicates(["list_id", "species_id"])
    other = backtest(lists, swapped, species, 2010)
    pd.testing.assert_series_equal(plain.table["chance"], other.table["chance"])
    assert (plain.table["found"] != other.table["found"]).any()


def test_pairs_are_those_of_the_protocol(invented) -> None:
    lists, finds, species, _, _ = invented()
    table = backtest(lists, finds, species, 2010).table
    joined = finds.merge(lists, on="list_id")
    before = set(map(tuple, joined.loc[joined["year"] <= 2010, ["square", "species_id"]].to_numpy()))
    after = set(map(tuple, joined.loc[joined["year"] > 2010, ["square", "species_id"]].to_numpy()))
    known = {kind for _, kind in before}
    visited = set(lists.loc[lists["year"] > 2010, "square"])
    pairs = {(square, kind) for square in visited for kind in known} - before
    got = {(row.square, row.species_id): row.found for row in table.itertuples()}
    assert set(got) == pairs
    assert all(found == (pair in after) for pair, found in got.items())


def test_plain_rules_by_hand() -> None:
    """Two squares one apart; A and B found in the first (2 lists), A in the second (1 list); 1 and 4 lists to come."""
    squares = pack(1, 1_000, [500_000, 501_000], [1_200_000, 1_200_000])
    lists = make_lists(squares[[0, 0, 1]])
    finds = make_finds(np.array([1, 2, 3]), np.array([0, 1, 0]))
    got = baselines(gather(lists, finds, make_species(2), squares), np.array([1.0, 4.0]))
    power = np.sqrt(4 / 2.5)
    assert got["frequency"][1, 1] == pytest.approx(1 - 0.5**power)
    weight, looked = np.exp(-1 / 72), 2 / 6
    near = (weight * looked + 0.3 * 0.5) / (weight * looked + 0.3)
    assert got["neighbours"][1, 1] == pytest.approx(1 - (1 - near) ** power)
    company = (1 / 2 + 0.5) / (1 + 1)
    assert got["company"][1, 1] == pytest.approx(1 - (1 - company) ** power)


def test_model_beats_the_plain_rules_on_invented_recording(invented) -> None:
    lists, finds, species, _, _ = invented(width=20, kinds=40)
    scored = backtest(lists, finds, species, 2008).scores
    assert scored.loc["model", "log_loss"] < scored.drop(index="model")["log_loss"].min()
    assert scored.loc["model", "auc"] > scored.drop(index="model")["auc"].max()


def test_plain_chances_are_of_the_same_pairs(invented) -> None:
    lists, finds, species, _, _ = invented()
    result = backtest(lists, finds, species, 2010)
    for name, chance in result.plain.items():
        again = scores(result.table["found"], chance, result.table["square"])
        assert again == pytest.approx(result.scores.loc[name].to_dict())


def test_result_fits_a_json_file(invented) -> None:
    lists, finds, species, _, _ = invented()
    answer = json.loads(json.dumps(backtest(lists, finds, species, 2010).to_dict(), allow_nan=False))
    assert set(answer["scores"]) == {"model", "frequency", "neighbours", "company"}
    assert set(answer["scores"]["model"]) == set(SCORES)
    assert set(answer["again"]["scores"]) == {"model", "own lists"}
    assert answer["again"]["pairs"] > answer["again"]["found"] > 0


def test_a_cut_with_nothing_after_is_said(invented) -> None:
    lists, finds, species, _, _ = invented()
    with pytest.raises(GapmapError, match="nothing to test on"):
        backtest(lists, finds, species, 2030)


def test_too_little_is_said_of_what_was_too_little() -> None:
    """Of 100 pairs 5 found, and of 100 pairs 95 found: what is scarce is counted in the rows."""
    for found, word in ((5, "found"), (95, "missed")):
        table = pd.DataFrame({"chance": 0.5, "found": [1] * found + [0] * (100 - found)})
        assert verdict(table, pd.DataFrame()) == (
            f"Too little was {word} after the cut to say how far the list can be trusted: {found} of 100 pairs of a "
            "square and a species were found."
        )


@pytest.mark.open_data
@pytest.mark.skipif(not OPEN_DATA.exists(), reason="the open data do not lie beside the project")
@pytest.mark.parametrize(
    ("side", "until", "pairs", "found"), [(5_000, 2009, 34_152, 0.185), (10_000, 2004, 8_399, 0.337)]
)
def test_ladybirds_beat_the_plain_rules(side: int, until: int, pairs: int, found: float) -> None:
    """Belgian ladybirds (repository inbo/ladybird): pairs and share found as an independent count gave them."""
    pyproj = pytest.importorskip("pyproj")
    data = pd.read_csv(OPEN_DATA / "be_ladybirds_utm1km.csv")
    move = pyproj.Transformer.from_crs(4326, 32631, always_xy=True)
    east, north = (np.asarray(part) for part in move.transform(data["long"], data["lat"]))
    square = pack(131, side, (east // side * side).astype("int64"), (north // side * side).astype("int64"))
    names = pd.factorize(data["scientific_name"])
    data = data.assign(square=square, species_id=names[0], list_id=data.groupby(["utm1km", "year"]).ngroup())
    lists = make_lists(np.zeros(0, "int64"))
    one = data.drop_duplicates("list_id")
    lists = make_lists(one["square"].to_numpy(), year=one["year"].to_numpy()).assign(list_id=one["list_id"].to_numpy())
    finds = data[["list_id", "species_id"]].drop_duplicates().assign(records=1)
    result = backtest(lists, finds, make_species(len(names[1])), until)
    assert len(result.table) == pairs
    assert result.table["found"].mean() == pytest.approx(found, abs=0.0006)
    model, plain = result.scores.loc["model"], result.scores.drop(index="model")
    assert model["auc"] >= plain["auc"].max() + 0.01
    assert model["log_loss"] <= 0.97 * plain["log_loss"].min()
    assert 0.9 <= model["calibration_slope"] <= 1.1
    again = result.again
    assert 0.9 < again.table["chance"].sum() / again.table["found"].sum() < 1.15
    assert again.scores.loc["model", "auc"] > again.scores.loc["own lists", "auc"] + 0.02
    assert again.scores.loc["model", "log_loss"] < 0.9 * again.scores.loc["own lists", "log_loss"]


@pytest.mark.open_data
@pytest.mark.skipif(not OPEN_DATA.exists(), reason="the open data do not lie beside the project")
@pytest.mark.parametrize("until", [2005, 2008, 2011])
def test_butterflies_of_few_squares_are_told_no_worse(until: int) -> None:
    """Twenty tetrads around Edinburgh (a public teaching data set): too few finds to tell who is better.

    The best of three plain rules is known only afterwards; no rule by itself may be clearly better.
    """
    records = read_records([OPEN_DATA / "edinburgh_2000_2016.csv"], Settings())
    lists, finds = lists_and_finds(records, 2_000, text_to_classes(f"-{until}, {until + 1}-"))
    kinds = records.species[records.species["group"] == "Butterfly"]
    own = finds[finds["species_id"].isin(kinds["species_id"])]
    scored = backtest(lists[lists["list_id"].isin(own["list_id"])], own, kinds, until).scores
    model, plain = scored.loc["model"], scored.drop(index="model")
    assert model["log_loss"] < plain["log_loss"].min()
    assert model["auc"] > plain["auc"].max() - 0.01


def test_habitat_tells_where_neighbours_cannot() -> None:
    """Species keep to one of two habitats that lie mixed at random; company tells most of it, the raster the rest."""
    generator = np.random.default_rng(11)
    x, y = np.divmod(np.arange(225), 15)
    squares = pack(1, 2_000, 500_000 + x * 2_000, 1_210_000 + y * 2_000)
    first = generator.random(225) < 0.5
    own = np.arange(20) % 2 == 0
    at = np.repeat(np.arange(225), 6)
    hit = generator.random((len(at), 20)) < 0.2 * (first[at][:, None] == own[None, :])
    row, kind = np.nonzero(hit)
    lists = make_lists(squares[at], year=generator.integers(2000, 2020, len(at)))
    finds = make_finds(row + 1, kind)
    ground = pd.DataFrame({"habitat 1": first * 1.0, "habitat 2": ~first * 1.0}, index=pd.Index(squares, name="square"))
    without, with_ = (backtest(lists, finds, make_species(20), 2010, ground=g) for g in (None, ground))
    assert with_.scores.loc["model", "auc"] > without.scores.loc["model", "auc"] + 0.01
    assert with_.scores.loc["model", "log_loss"] < without.scores.loc["model", "log_loss"]
    pd.testing.assert_frame_equal(with_.plain, without.plain)
