"""Backtests on many cuts of real records: python tests/benchmarks/backtest.py [FILE SIDE UNTIL [GROUP]].

One line a case: pairs and finds; the model's gain in AUC on the best of the three plain rules, *as known afterwards*,
with its 95 % interval when whole squares are drawn again with replacement (bootstrap, Efron 1979); log loss against
the best plain rule's; calibration slope with its interval; total promised over total found. Then averages over
families of cases, also against each plain rule by itself: nobody knows beforehand which of the three will be best.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd
from cases import Case, all_cases, one_case

from gapmap.expected.backtest import Backtest, backtest
from gapmap.expected.scores import auc, calibration

Numbers = npt.NDArray[np.float64]
#: Finds and misses from which a case is scored, pairs redrawn in all for an interval, and fewest and most draws.
_FEWEST, _PAIRS_DRAWN, _DRAWS = 20, 4_000_000, (40, 400)


def main(cases: list[Case]) -> pd.DataFrame:
    """Score each case and print it."""
    rows = []
    for case in cases:
        result = backtest(case.lists, case.finds, case.species, case.until)
        found = result.table["found"]
        if min(found.sum(), len(found) - found.sum()) >= _FEWEST:
            rows.append({"family": case.family} | row_of(case, result))
            print(_line(rows[-1]), flush=True)
    return pd.DataFrame(rows)


def row_of(case: Case, result: Backtest) -> dict[str, object]:
    """Scores of one case."""
    model, plain = result.scores.loc["model"], result.scores.drop(index="model")
    gains, slopes = redraw(result, str(plain["auc"].idxmax()))
    low, high = np.quantile(gains, [0.025, 0.975])
    slope_low, slope_high = np.quantile(slopes, [0.025, 0.975])
    return {
        "case": f"{case.name}, until {case.until}",
        "pairs": len(result.table),
        "finds": int(result.table["found"].sum()),
        "plain_auc": plain["auc"].max(),
        "plain_log_loss": plain["log_loss"].min(),
        "auc": model["auc"] - plain["auc"].max(),
        "auc_low": low,
        "auc_high": high,
        "log_loss": model["log_loss"] / plain["log_loss"].min() - 1,
        "slope": model["calibration_slope"],
        "slope_low": slope_low,
        "slope_high": slope_high,
        "promised": result.table["chance"].sum() / result.table["found"].sum(),
        **{f"auc over {name}": model["auc"] - plain.loc[name, "auc"] for name in plain.index},
        **{f"log loss over {name}": model["log_loss"] / plain.loc[name, "log_loss"] - 1 for name in plain.index},
    }


def redraw(result: Backtest, best: str) -> tuple[Numbers, Numbers]:
    """Gains in AUC on a plain rule, and calibration slopes, with squares drawn again with replacement."""
    generator = np.random.default_rng(1)
    chance, plain = result.table["chance"].to_numpy(), result.plain[best].to_numpy()
    found = result.table["found"].to_numpy(np.float64)
    code, squares = pd.factorize(result.table["square"])
    pairs = np.split(np.argsort(code, kind="stable"), np.cumsum(np.bincount(code))[:-1])
    gains, slopes = [], []
    for _ in range(int(np.clip(_PAIRS_DRAWN / len(found), *_DRAWS))):
        drawn = np.concatenate([pairs[n] for n in generator.integers(0, len(squares), len(squares))])
        label = found[drawn]
        if 0 < label.sum() < len(drawn):
            gains.append(auc(label, chance[drawn]) - auc(label, plain[drawn]))
            slopes.append(calibration(label, np.clip(chance[drawn], 1e-6, 1 - 1e-6))[0])
    return np.array(gains), np.array(slopes)


def summary(table: pd.DataFrame) -> pd.DataFrame:
    """Averages, worst cases, and how many reach the goals, by family of cases."""
    rows = {}
    for family, part in [*table.groupby("family"), ("all", table)]:
        rows[family] = {
            "cases": len(part),
            "AUC": part["auc"].mean(),
            "worst": part["auc"].min(),
            "surely worse": (part["auc_high"] < 0).sum(),
            "surely better": (part["auc_low"] > 0).sum(),
            "log loss": part["log_loss"].mean(),
            "worst ll": part["log_loss"].max(),
            "both goals": ((part["auc"] >= 0.01) & (part["log_loss"] <= -0.03)).sum(),
            "slope": part["slope"].median(),
            "slope 0.9-1.1": part["slope"].between(0.9, 1.1).sum(),
            "slope in reach": ((part["slope_low"] <= 1.1) & (part["slope_high"] >= 0.9)).sum(),
            **{column: part[column].mean() for column in part if " over " in str(column)},
        }
    return pd.DataFrame(rows).T


def _line(row: dict[str, object]) -> str:
    return (
        "{case:56s} {pairs:7d} {finds:6d}; plain {plain_auc:.3f} {plain_log_loss:.3f}; AUC {auc:+.3f} ({auc_low:+.3f} to "
        "{auc_high:+.3f}), log loss {log_loss:+.1%}, slope {slope:.2f} ({slope_low:.2f} to {slope_high:.2f}), "
        "promised {promised:.2f}"
    ).format(**row)


if __name__ == "__main__":
    words = sys.argv[1:]
    given = [one_case(Path(words[0]), int(words[1]), int(words[2]), *words[3:4])] if words else list(all_cases())
    table = main(given)
    if not words:
        print(summary(table).round(3).to_string())
