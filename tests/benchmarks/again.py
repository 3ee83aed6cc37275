"""Are species found again as often as said? Backtests of what was known in its square: python tests/benchmarks/again.py.

One line a case: pairs and how many were found again; the model's AUC, log loss, slope and total promised over total
found; beside it the plain rule that each list to come finds the species as often as the square's lists did before.
Then, by families of cases, what was said against what was found.
"""

from __future__ import annotations

import sys

import pandas as pd
from cases import all_cases

from gapmap.expected.backtest import backtest
from gapmap.expected.scores import reliability

#: Names of cases that begin so are tried when none are named.
USUAL = ("ladybirds, 5 km, until", "ladybirds, 10 km, until", "Butterfly", "all groups", "the demo's island")
#: Pairs from which a case is scored.
_FEWEST = 80


def main(names: tuple[str, ...]) -> None:
    """Score the cases whose names begin so, and print."""
    rows, tables = [], []
    for case in all_cases():
        name = f"{case.name}, until {case.until}"
        if not name.startswith(names):
            continue
        again = backtest(case.lists, case.finds, case.species, case.until).again
        if len(again.table) < _FEWEST:
            continue
        rows.append({"family": case.family, "case": name, **_scores_of(again.scores), **_totals(again.table)})
        tables.append(again.table.assign(family=case.family))
        print(
            "{case:44s} {pairs:6d} pairs, {found:.0%} found; AUC {auc:.3f} (own lists {auc_plain:.3f}), log loss "
            "{log_loss:.3f} ({log_loss_plain:.3f}), slope {slope:.2f}, promised {promised:.2f}".format(**rows[-1]),
            flush=True,
        )
    print(pd.DataFrame(rows).groupby("family").mean(numeric_only=True).round(3).to_string())
    for family, part in pd.concat(tables).groupby("family"):
        print(family, reliability(part["found"], part["chance"]).round(2).to_string(index=False), sep="\n")


def _scores_of(scored: pd.DataFrame) -> dict[str, float]:
    model, plain = scored.loc["model"], scored.loc["own lists"]
    return {
        "auc": model["auc"], "auc_plain": plain["auc"], "log_loss": model["log_loss"],
        "log_loss_plain": plain["log_loss"], "slope": model["calibration_slope"],
    }  # fmt: skip


def _totals(table: pd.DataFrame) -> dict[str, float]:
    found = table["found"]
    return {"pairs": len(table), "found": found.mean(), "promised": table["chance"].sum() / found.sum()}


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or USUAL)
