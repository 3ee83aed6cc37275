"""The generator itself: the same bytes twice, and a season walked by the truth."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest


@pytest.fixture(scope="module")
def land(demo_folder: Path) -> object:
    from island.whole import make_land

    return make_land()


def test_the_same_bytes_twice(demo_folder: Path, tmp_path: Path) -> None:
    import make

    make.make(tmp_path)
    for part in ("area", "truth"):
        again = {path.relative_to(tmp_path): path for path in (tmp_path / part).rglob("*") if path.is_file()}
        assert len(again) >= 6
        for name, path in again.items():
            digests = {hashlib.sha256(file.read_bytes()).hexdigest() for file in (path, demo_folder / name)}
            assert len(digests) == 1, name


def test_chance_to_find_is_heavy_tailed() -> None:
    """Gamma luck with shape k: chance 1 − (1 + r/k)^(−k), the zero term of the negative binomial (textbook)."""
    from island.recording import chance_found
    from scipy.stats import nbinom

    rates = np.array([0.0, 0.1, 1.0, 5.0])
    k = 0.9
    assert chance_found(rates) == pytest.approx(1 - nbinom.pmf(0, k, k / (k + rates)))
    assert (chance_found(rates) <= 1 - np.exp(-rates)).all()


def test_season_finds_only_what_lives_there(land: object) -> None:
    from island.season import season_finds

    fauna = land.fauna  # type: ignore[attr-defined]
    plan = pd.DataFrame(
        {
            "easting": [646_000, 600_000],
            "northing": [672_000, 650_000],
            "side": 2000,
            "month": [5, 10],
            "time_of_day": ["day", "night"],
            "volunteer": ["Tobit Hallowgarth", "Thessaly Orrowby"],
        }
    )
    finds = season_finds(fauna, plan, seed=1)
    assert finds.equals(season_finds(fauna, plan, seed=1))
    assert not finds.equals(season_finds(fauna, plan, seed=2))
    lives = fauna.lives(2027)
    for visit, part in finds.groupby("visit"):
        inside = (fauna.monads["easting"] // 2000 * 2000 == plan["easting"][visit]) & (
            fauna.monads["northing"] // 2000 * 2000 == plan["northing"][visit]
        )
        here = set(fauna.species["name"][lives[:, inside.to_numpy()].any(axis=1)])
        assert set(part["name"]) <= here
        assert 3 <= len(part) <= len(here)


def test_nothing_is_found_in_the_sea(land: object) -> None:
    from island.season import season_finds

    plan = pd.DataFrame(
        {
            "easting": [690_000],
            "northing": [610_000],
            "side": 2000,
            "month": [5],
            "time_of_day": ["day"],
            "volunteer": ["A stranger"],
        }
    )
    assert season_finds(land.fauna, plan).empty  # type: ignore[attr-defined]


def test_slips_change_a_cell_as_they_say() -> None:
    """Worked by hand."""
    from island.slips import Surroundings, make_slips
    from shapely.geometry import MultiPolygon, box

    slips = make_slips(
        Surroundings(frozenset({"Oniscus asellus"}), MultiPolygon([box(640_000, 670_000, 650_000, 680_000)]))
    )
    row = {"name": "Oniscus asellus", "ref": "OR 467 723", "date": "27/05/2003"}
    generator = np.random.default_rng(1)

    def after(kind: str, column: str) -> object:
        return slips[kind].make(row, column, generator)

    assert after("easting and northing exchanged", "ref") == "OR723467"
    assert after("reference in the sea", "ref") == "OR723467"
    assert after("tetrad letter that cannot be", "ref") == "OR47O"
    assert after("month before day", "date") == "05/27/2003"
    assert after("date before 1600", "date") == "27/05/1003"
    assert after("name abbreviated", "name") == "O. asellus"
    assert len(str(after("reference with an odd number of digits", "ref"))) == 7
    assert after("day and month exchanged", "date") is None  # there is no month 27
