"""Backtests on record files: python tests/benchmarks/backtest.py [FILE SIDE UNTIL [GROUP]].

Without words: ladybirds and several groups around Edinburgh from the open data beside the project, at cuts and
square sizes that the defaults must all carry. One line a case: pairs, best plain rule, and the model's gain on it,
with the 95 % interval of the gain in AUC when whole squares are drawn again with replacement (bootstrap, Efron 1979).
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.coverage.tally import lists_and_finds
from gapmap.expected.backtest import Backtest, backtest
from gapmap.expected.scores import auc
from gapmap.records.clean import read_records
from gapmap.settings import Settings, text_to_classes

OPEN_DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
LADYBIRDS, EDINBURGH = OPEN_DATA / "be_ladybirds_utm1km.csv", OPEN_DATA / "edinburgh_2000_2016.csv"
CASES = [
    *((LADYBIRDS, side, until, "") for side, until in ((5_000, 2009), (10_000, 2004), (10_000, 2009), (20_000, 2004))),
    *(
        (EDINBURGH, 2_000, 2008, group)
        for group in ("Butterfly", "Mollusc", "Mammal", "Bird", "Hymenopteran", "Beetle", "Flowering.Plants")
    ),
]


def gain_interval(result: Backtest, draws: int = 200) -> tuple[float, float]:
    """95 % interval of the model's AUC less the best plain rule's, by drawing squares again with replacement."""
    generator = np.random.default_rng(1)
    best = result.scores.drop(index="model")["auc"].idxmax()
    chance, plain = result.table["chance"].to_numpy(), result.plain[best].to_numpy()
    found = result.table["found"].to_numpy(np.float64)
    code, squares = pd.factorize(result.table["square"])
    pairs = np.split(np.argsort(code, kind="stable"), np.cumsum(np.bincount(code))[:-1])
    gains = []
    for _ in range(draws):
        drawn = np.concatenate([pairs[n] for n in generator.integers(0, len(squares), len(squares))])
        if 0 < found[drawn].sum() < len(drawn):
            gains.append(auc(found[drawn], chance[drawn]) - auc(found[drawn], plain[drawn]))
    low, high = np.quantile(gains, [0.025, 0.975])
    return float(low), float(high)


def main(cases: list[tuple[Path, int, int, str]]) -> None:
    """Read each file once and print one line a case."""
    read = {}
    for path, side, until, group in cases:
        if path not in read:
            area = {"grid": "utm", "zones": ["31U", "32U"]} if path == LADYBIRDS else {}
            read[path] = read_records([path], Settings.model_validate({"area": area}))
        records = read[path]
        species = records.species[records.species["group"] == group] if group else records.species
        lists, finds = lists_and_finds(records, side, text_to_classes(f"-{until}, {until + 1}-"))
        finds = finds[finds["species_id"].isin(species["species_id"])]
        result = backtest(lists[lists["list_id"].isin(finds["list_id"])], finds, species, until)
        model, plain = result.scores.loc["model"], result.scores.drop(index="model")
        low, high = gain_interval(result)
        print(
            f"{path.stem[:12]:12s} {group:12s} {side // 1000:3d} km, until {until}: {len(result.table):6d} pairs, "
            f"{result.table['found'].mean():5.1%} found; plain AUC {plain['auc'].max():.3f}, log loss "
            f"{plain['log_loss'].min():.3f}; model {model['auc'] - plain['auc'].max():+.3f} ({low:+.3f} to {high:+.3f}), "
            f"{model['log_loss'] / plain['log_loss'].min() - 1:+.1%}, slope {model['calibration_slope']:.2f}",
            flush=True,
        )


if __name__ == "__main__":
    words = sys.argv[1:]
    main([(Path(words[0]), int(words[1]), int(words[2]), words[3] if len(words) > 3 else "")] if words else CASES)
