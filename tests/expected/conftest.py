"""Small invented areas with a known truth, and the open data where they lie beside the project."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gapmap.grid.squares import pack, unpack

OPEN_DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


def make_species(count: int, **facts: dict[int, str]) -> pd.DataFrame:
    """Species table with empty facts but those given by species number."""
    frame = pd.DataFrame({"species_id": np.arange(count), "name": [f"Inventa {n}" for n in range(count)]})
    for column in ("group", "months", "time_of_day", "difficulty"):
        frame[column] = pd.Series([facts.get(column, {}).get(n, "") for n in range(count)], dtype="str")
    return frame.assign(counts=True)


def make_lists(square: np.ndarray, **columns: object) -> pd.DataFrame:
    """Lists of whole squares, but for the columns given."""
    frame = pd.DataFrame({"list_id": np.arange(len(square)) + 1, "square": square})
    plain: dict[str, object] = {
        **dict(zip(("system", "precision_m", "easting", "northing"), unpack(square), strict=True)),
        "year": 2020,
        "month": 0,
        "time_of_day": "",
        "hour": -1,
        "method": "",
        "date_class": -1,
        "is_visit": True,
        "people_id": 0,
    }
    for name, value in (plain | columns).items():
        frame[name] = value
    return frame


def make_finds(list_id: np.ndarray, species_id: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame({"list_id": list_id, "species_id": species_id, "records": 1})


@pytest.fixture(scope="session")
def invented() -> Callable[..., tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, np.ndarray, np.ndarray]]:
    """Invented recording: lists, finds, species, squares and presence (S × K), deterministic by seed."""

    def make(width: int = 14, kinds: int = 30, lists: int = 6, seed: int = 1):
        generator = np.random.default_rng(seed)
        x, y = np.divmod(np.arange(width * width), width)
        squares = pack(1, 2_000, 500_000 + x * 2_000, 1_210_000 + y * 2_000)
        middle = generator.uniform(0, width, (kinds, 2))
        reach = generator.uniform(2, width / 2, kinds)
        near = np.exp(-((x[:, None] - middle[:, 0]) ** 2 + (y[:, None] - middle[:, 1]) ** 2) / (2 * reach**2))
        presence = generator.random(near.shape) < near
        detect = generator.beta(1, 4, kinds)
        made = generator.poisson(generator.gamma(1, lists, width * width))
        at = np.repeat(np.arange(width * width), made)
        hit = generator.random((len(at), kinds)) < presence[at] * detect
        kept = hit.any(axis=1)
        row, kind = np.nonzero(hit[kept])
        table = make_lists(squares[at][kept], year=generator.integers(1990, 2021, kept.sum()))
        finds = make_finds(table["list_id"].to_numpy()[row], kind)
        return table, finds, make_species(kinds), squares, presence

    return make
