"""Chances against presence on the invented island, where it is known what lives in which square.

Run ``python tests/benchmarks/presence_truth.py``. Pairs are a square of land and a species that was recorded on the
island but never in that square; the label is whether the species really lived there in some year of the last date
class. The chance that it lives there is scored against that, without and with the area's rasters, beside what the
three plain rules say when no effort is taken into account.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.expected.baselines import baselines
from gapmap.expected.evidence import INSIDE
from gapmap.expected.ground import read_ground
from gapmap.expected.model import Expectation, expect
from gapmap.expected.scores import reliability, scores
from gapmap.grid.covering import shares_inside
from gapmap.grid.squares import square_at
from gapmap.settings import Settings
from gapmap.workflow.source import open_source
from gapmap.workflow.stages import Counted, read_and_count

DEMO = Path(__file__).resolve().parents[2] / "demo"
LAST_YEAR = 2026


def truth_of(squares: npt.NDArray[np.int64], names: list[str], settings: Settings) -> npt.NDArray[np.bool_]:
    """S × K: whether the species really lived in the square in some year of the last date class."""
    first = settings.area.date_classes[-1].first or 0
    presence = pd.read_parquet(DEMO / "truth" / "presence.parquet")
    there = presence[(presence["arrives"] <= LAST_YEAR) & (presence["leaves"] > first)]
    square = square_at(1, there["easting"].to_numpy(), there["northing"].to_numpy(), settings.area.side_m)
    rows, columns = pd.Index(squares).get_indexer(pd.Index(square)), pd.Index(names).get_indexer(there["name"])
    lives = np.zeros((len(squares), len(names)), dtype=bool)
    lives[rows[(rows >= 0) & (columns >= 0)], columns[(rows >= 0) & (columns >= 0)]] = True
    return lives


def copy_area(area: Path, to: Path) -> None:
    """A copy of the area folder, so that no other run is kept waiting; without what earlier runs left there."""
    shutil.copytree(area, to, ignore=shutil.ignore_patterns("gapmap*", ".*"))


def count_island(folder: Path) -> tuple[Counted, Settings]:
    """Read and count the island as a user would."""
    source = open_source((str(folder),), {})
    return read_and_count(source, None), source.settings


def expect_island(counted: Counted, settings: Settings, folder: Path | None) -> Expectation:
    """What is expected in the squares of land; with the rasters of an area folder, or with its outline alone."""
    lists, finds = counted.lists_and_finds()
    squares = np.asarray(counted.squares, dtype=np.int64)
    rasters = settings.rasters
    ground = read_ground(squares, folder / rasters.habitat, folder / rasters.height) if folder else read_ground(squares)
    assert counted.boundary is not None
    shares = shares_inside(counted.boundary.geometry.union_all(), squares, counted.records.system)
    here = lists[lists["square"].isin(squares)]
    return expect(here, finds, counted.records.species, squares, settings, ground.assign(**{INSIDE: shares}))


def score_presence(
    told: Expectation, counted: Counted, settings: Settings
) -> tuple[pd.DataFrame, pd.DataFrame, npt.NDArray[np.float64]]:
    """Scores of the model and the plain rules against presence, the model's reliability, and AUC by species."""
    evidence = told.model.evidence
    names = counted.records.species.set_index("species_id")["name"].reindex(evidence.species).tolist()
    lives = truth_of(evidence.squares, names, settings)
    rows, columns = np.nonzero(evidence.finds == 0)
    label = lives[rows, columns].astype(float)
    chance = told.model.chance_lives()[rows, columns]
    plain = baselines(evidence, np.ones(len(evidence.squares)))
    methods = {"model": chance} | {name: part[rows, columns] for name, part in plain.items()}
    scored = {name: scores(label, part, evidence.squares[rows]) for name, part in methods.items()}
    table = pd.DataFrame(scored).T
    table["promised"] = [part.sum() / label.sum() for part in methods.values()]
    table["auc_species"] = [_by_species(label, part, columns) for part in methods.values()]
    return table, reliability(label, chance), label


def score_squares(told: Expectation, counted: Counted, settings: Settings) -> dict[str, float]:
    """Species still to find in each square: said less true, cover of the 95 % interval, and rank with the truth."""
    evidence, said = told.model.evidence, told.squares
    names = counted.records.species.set_index("species_id")["name"].reindex(evidence.species).tolist()
    true = (truth_of(evidence.squares, names, settings) & (evidence.finds == 0)).sum(axis=1)
    sure = said["still_to_find"].notna().to_numpy()
    miss = said["still_to_find"].to_numpy()[sure] - true[sure]
    inside = (said["still_low"].to_numpy() <= true) & (true <= said["still_high"].to_numpy())
    return {
        "squares": float(sure.sum()),
        "true": float(true[sure].mean()),
        "bias": float(miss.mean()),
        "rmse": float((miss**2).mean() ** 0.5),
        "cover": float(inside[sure].mean()),
        "correlation": float(np.corrcoef(said["still_to_find"].to_numpy()[sure], true[sure])[0, 1]),
    }


def _by_species(label: npt.NDArray[np.float64], chance: npt.NDArray[np.float64], kind: npt.NDArray[np.int64]) -> float:
    frame = pd.DataFrame({"kind": kind, "label": label, "chance": chance})
    each = [
        scores(part["label"], part["chance"], part["kind"])["auc"]
        for _, part in frame.groupby("kind")
        if min(part["label"].sum(), (1 - part["label"]).sum()) >= 5
    ]
    return float(np.mean(each))


def main() -> None:
    """Print scores and reliability without and with rasters."""
    subprocess.run([sys.executable, str(DEMO / "make.py")], check=True, stdout=subprocess.DEVNULL)
    with tempfile.TemporaryDirectory() as place:
        area = Path(place) / "area"
        copy_area(DEMO / "area", area)
        counted, settings = count_island(area)
        for words, folder in (("without rasters", None), ("with rasters", area)):
            told = expect_island(counted, settings, folder)
            table, bins, label = score_presence(told, counted, settings)
            print(f"{words}: {len(label)} pairs, {label.mean():.1%} live there")
            print(table.round(3).to_string())
            print({name: round(value, 3) for name, value in score_squares(told, counted, settings).items()})
            print(bins[["low", "high", "pairs", "chance", "found"]].round(3).to_string(index=False))


if __name__ == "__main__":
    main()
