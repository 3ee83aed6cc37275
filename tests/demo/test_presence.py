"""On the invented island it is known what lives where: are the chances right about that, not only about finding?

The bounds are the project's own promises, not common practice: an order better than the plain rules', and about as
many species there as promised. The truth is the generator's, which the model never sees.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pandas as pd
import pytest

_PLACE = Path(__file__).parents[1] / "benchmarks" / "presence_truth.py"
_spec = importlib.util.spec_from_file_location("presence_truth", _PLACE)
assert _spec is not None
assert _spec.loader is not None
presence_truth = importlib.util.module_from_spec(_spec)
sys.modules["presence_truth"] = presence_truth
_spec.loader.exec_module(presence_truth)


Scored = tuple[pd.DataFrame, pd.DataFrame, dict[str, float]]


@pytest.fixture(scope="module")
def scored(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Scored]:
    """Scores against presence, reliability, and scores of the squares' sums, without and with rasters; the area folder is copied, not used."""
    folder = tmp_path_factory.mktemp("island") / "area"
    presence_truth.copy_area(demo_folder / "area", folder)
    counted, settings = presence_truth.count_island(folder)
    answer = {}
    for words, rasters in (("without", None), ("with", folder)):
        told = presence_truth.expect_island(counted, settings, rasters)
        table, bins, _ = presence_truth.score_presence(told, counted, settings)
        answer[words] = (table, bins, presence_truth.score_squares(told, counted, settings))
    return answer


@pytest.mark.parametrize("rasters", ["without", "with"])
def test_chances_are_right_about_presence(scored, rasters: str) -> None:
    table, bins, _ = scored[rasters]
    model, plain = table.loc["model"], table.drop(index="model")
    assert model["auc"] > plain["auc"].max() + 0.01
    assert model["log_loss"] < 0.9 * plain["log_loss"].min()
    assert 0.85 < model["promised"] < 1.15
    assert 0.85 < model["calibration_slope"] < 1.15
    well_filled = bins[bins["pairs"] >= 500]
    assert len(well_filled) >= 8
    assert (well_filled["chance"] - well_filled["found"]).abs().max() < 0.1


def test_rasters_tell_where_within_the_island(scored) -> None:
    """Species keep to their habitats: with the habitat raster each species' squares are told apart better."""
    without, with_ = (scored[words][0].loc["model"] for words in ("without", "with"))
    assert with_["auc_species"] > without["auc_species"] + 0.005
    assert with_["log_loss"] < without["log_loss"]


def test_the_species_still_to_find_in_a_square_are_so_many(scored) -> None:
    for _, _, squares in scored.values():
        assert squares["squares"] > 300
        assert abs(squares["bias"]) < 0.1 * squares["true"]
        assert 0.9 <= squares["cover"] <= 0.99
        assert squares["correlation"] > 0.6
