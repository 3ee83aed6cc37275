"""What the standings are worth on the invented island, where it is known which species really live in each square.

Run ``python tests/benchmarks/standing_truth.py``. The island is made first when it is missing. For every tetrad and
date class it sets beside each other

- the estimated number of species and the number that really lived there (bias, RMSE, cover of the 95 % interval);
- the share of the species found, as estimated (by the estimate, and by the upper end of its interval) and as it is;
- "under-recorded" and "poor", as the standing says it and as a ranking by the number of species found says it.

Chao2 is a lower bound: species that nearly nobody can find or name leave no trace among those found once or twice.
Its interval is therefore expected to miss the truth more often than one time in twenty, on the low side.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.coverage.completeness import POOR, STANDINGS, WELL, standing
from gapmap.coverage.effort import effort
from gapmap.coverage.tally import tally
from gapmap.grid.squares import square_at
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import Settings, read_settings
from gapmap.typed import DateClass

DEMO = Path(__file__).resolve().parents[2] / "demo"
LAST_YEAR = 2026


def read_island() -> tuple[Records, Settings]:
    """The island's records, read as a user would read them."""
    subprocess.run([sys.executable, str(DEMO / "make.py")], check=True, stdout=subprocess.DEVNULL)
    settings = read_settings(DEMO / "area" / "area.toml")
    files = sorted(one for one in (DEMO / "area" / "records").iterdir() if one.is_file())
    return read_records(files, settings, folder=DEMO / "area"), settings


def lives_in(classes: tuple[DateClass, ...], side: int) -> pd.DataFrame:
    """Square × species × date class that is really so: the species lived there in at least one year of the class."""
    presence = pd.read_parquet(DEMO / "truth" / "presence.parquet")
    square = square_at(1, presence["easting"].to_numpy(), presence["northing"].to_numpy(), side)
    first_recorded = int(pd.read_parquet(DEMO / "truth" / "visits.parquet")["date"].dt.year.min())
    parts = []
    for index, one in enumerate(classes):
        first, last = one.first or first_recorded, one.last or LAST_YEAR
        there = (presence["arrives"] <= last) & (presence["leaves"] > first)
        parts.append(pd.DataFrame({"square": square[there], "name": presence["name"][there], "date_class": index}))
    return pd.concat(parts).drop_duplicates()


def beside_truth(records: Records, settings: Settings) -> pd.DataFrame:
    """The standing of every square of land and class, with ``truth`` (species) and ``true_share`` (of them found)."""
    side, classes = settings.area.side_m, settings.area.date_classes
    lives = lives_in(classes, side)
    counts = tally(records, side, classes)
    work = effort(records, side, classes, squares=lives["square"].unique())
    stand = standing(counts, work, settings.thresholds)
    names = counts[counts["counts"]].merge(records.species[["species_id", "name"]], on="species_id")
    keys = ["square", "date_class"]
    found = names.merge(lives, on=[*keys, "name"]).groupby(keys).size().rename("truly_found")
    truth = lives.groupby(keys).size().rename("truth")
    frame = stand[stand["date_class"] >= 0].merge(truth.reset_index(), on=keys).merge(
        found.reset_index(), on=keys, how="left"
    )
    frame["true_share"] = frame["truly_found"].fillna(0) / frame["truth"]
    return frame


def print_estimates(frame: pd.DataFrame, label: str) -> None:
    """Bias, RMSE and cover of the estimate, and of the share found."""
    known = frame.dropna(subset="estimate")
    if known.empty:
        return
    off = known["estimate"] - known["truth"]
    share_off, low_off = (known[name] - known["true_share"] for name in ("share", "share_low"))
    inside = (known["estimate_low"] <= known["truth"]) & (known["truth"] <= known["estimate_high"])
    found_off = known["species"] - known["truth"]
    print(
        f"  {label:<12}{len(known):>6}{off.mean():>9.1f}{np.sqrt((off**2).mean()):>8.1f}{found_off.mean():>12.1f}"
        f"{inside.mean():>9.0%}{(known['estimate_low'] <= known['truth']).mean():>10.0%}"
        f"{share_off.mean():>+13.2f}{np.sqrt((share_off**2).mean()):>8.2f}"
        f"{low_off.mean():>+11.2f}{np.sqrt((low_off**2).mean()):>8.2f}"
    )


def print_gaps(frame: pd.DataFrame, share: float) -> None:
    """Precision and recall of "under-recorded", by the standing and by the number of species found."""
    gap = (frame["true_share"] < share).to_numpy()
    said = ~frame["standing"].isin([WELL, POOR]).to_numpy()
    ranked = np.zeros(len(frame), bool)
    ranked[np.argsort(frame["species"].to_numpy(), kind="stable")[: said.sum()]] = True
    print(f"\nUnder-recorded: less than {share:.0%} of the species that live there found; {gap.sum()} of {len(gap)}")
    print_hits("standing", said, gap)
    print_hits("fewest species", ranked, gap)


def print_poor(frame: pd.DataFrame, part: float) -> None:
    """Of the squares with few species found: which are called poor, and which are?"""
    judged = frame.dropna(subset="estimate")
    usual = judged.groupby("date_class")[["species", "truth"]].transform("median")
    few = judged["species"] < part * usual["species"]
    poor = (judged["truth"] < part * usual["truth"])[few].to_numpy()
    words = judged.loc[few, "standing"]
    print(f"  {few.sum()} squares have fewer species found than {part:.0%} of the median; in {poor.sum()} of them "
          f"fewer than {part:.0%} of the median really live")
    print_hits("called poor", (words == POOR).to_numpy(), poor)
    print_hits("called covered", words.isin([WELL, POOR]).to_numpy(), poor)
    print(f"  a ranking by species calls all of them gaps: right for {1 - poor.mean():.2f}, no poor one told")


def print_hits(label: str, said: np.ndarray, so: np.ndarray) -> None:
    """One line of precision and recall."""
    hit = (said & so).sum()
    print(f"  {label:<16} says {said.sum():>5}: precision {hit / max(said.sum(), 1):.2f}, "
          f"recall {hit / max(so.sum(), 1):.2f}")


def print_words(frame: pd.DataFrame) -> None:
    """What share of the truth each word stands for."""
    print("\nShare of the species living there that is found, by standing: median, and how many squares")
    for word in STANDINGS:
        rows = frame[frame["standing"] == word]
        if len(rows):
            print(f"  {word:<28}{rows['true_share'].median():>6.0%}{len(rows):>8}")


def replayed(records: Records, settings: Settings, rounds: int = 6, seed: int = 3) -> pd.DataFrame:
    """The island's squares visited again by lot: 1 to 30 visits each, every species found as easily as it really is.

    Unlike real visits these find a species with the same chance every time, so the standings do better on them.
    """
    rng = np.random.default_rng(seed)
    side, classes = settings.area.side_m, settings.area.date_classes
    lives = lives_in(classes, side)
    lives = lives[lives["date_class"] == len(classes) - 1].merge(records.species[["species_id", "name"]], on="name")
    counts, work = tally(records, side, classes), effort(records, side, classes)
    now = ["square", "date_class"]
    there = lives.merge(work[[*now, "visits"]], on=now)
    found = lives.merge(counts[[*now, "species_id", "visits"]], on=[*now, "species_id"])
    chance = (found.groupby("species_id")["visits"].sum() / there.groupby("species_id")["visits"].sum()).fillna(0)
    parts = []
    for turn in range(rounds):
        number = lives["square"].rank(method="dense").astype("int64") + 1000 * turn
        visits = rng.integers(1, 31, int(number.max()) + 1)
        times = rng.binomial(visits[number], chance.reindex(lives["species_id"]).fillna(0).clip(0, 1))
        parts.append(pd.DataFrame({
            "square": number, "species_id": lives["species_id"], "visits": times, "units": visits[number],
        }))
    drawn = pd.concat(parts)
    seen = drawn[drawn["visits"] > 0]
    one_class = seen.assign(date_class=0, lists=seen["visits"], counts=True, known_from=1)
    both = pd.concat([one_class.assign(date_class=-1), one_class]).sort_values(["square", "species_id", "date_class"])
    squares = drawn.groupby("square").agg(visits=("units", "first"), truth=("species_id", "size")).reset_index()
    squares["species"] = squares["square"].map(seen.groupby("square").size()).fillna(0).astype("int64")
    rows = squares.assign(
        date_class=0, lists=squares["visits"], records=squares["species"], undated=0, single_lists=0,
        longest_list=squares["species"], not_done="", best_month=0, best_time="",
    )
    frame = standing(both, pd.concat([rows.assign(date_class=-1), rows], ignore_index=True), settings.thresholds)
    frame = frame[frame["date_class"] == 0].merge(squares[["square", "truth"]], on="square")
    return frame.assign(true_share=frame["species"] / frame["truth"])


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.parse_args()
    records, settings = read_island()
    frame = beside_truth(records, settings)
    print("Estimated species beside the truth, squares with an estimate:")
    print(
        "               squares  bias    RMSE  (found: bias)  in 95 %  low≤truth   share: bias    RMSE"
        "  low: bias    RMSE"
    )
    print_estimates(frame, "all classes")
    for index, one in enumerate(settings.area.date_classes):
        print_estimates(frame[frame["date_class"] == index], one.label)
    for label, rows in frame.dropna(subset="estimate").groupby(pd.cut(frame["sampled"], [5, 10, 20, 40, 10_000])):
        print_estimates(rows, f"{label.left + 1:.0f}–{label.right:.0f}" if label.right < 1000 else "over 40")
    for share in (0.5, 0.75):
        print_gaps(frame, share)
    part = settings.thresholds.poor_share
    print("\nPoor, or under-recorded?")
    print_poor(frame, part)
    print_words(frame)
    again = replayed(records, settings)
    print("\nThe same squares visited again by lot, 1 to 30 visits each:")
    print_estimates(again, "replayed")
    print_poor(again, part)
    print_words(again)


if __name__ == "__main__":
    main()
