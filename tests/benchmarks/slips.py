"""Injected slips: 2 % of real records damaged with one kind at a time, then looked for among all.

Run ``python tests/benchmarks/slips.py``. The references are damaged as text in a copy of the file, and the copy goes
through the whole reading. Printed for each kind, at 5 % of all records flagged: how many damaged records are found,
beside the plain rule "farther than X km from the nearest other record of the species" with X set so that it flags the
same 5 %; how often the true reference is among the first three repairs offered; every rate with its 95 % Wilson
interval. A damaged reference that the reading itself refuses is counted apart. ``--shuffled`` puts the rows in random
order first, which takes the rows beside a record away as a witness. At the end: the newest year on undamaged data.

Data: the open ladybird and Edinburgh files kept beside the project (see ``open_data``); coordinates are left out.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
from scipy.stats import binomtest

from gapmap.checks.range import load_known
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import AreaSection, Settings

DAMAGED, FLAGGED = 0.02, 0.05
OPEN_DATA = Path(__file__).resolve().parents[3] / "shared" / "data"
LETTERS = "ABCDEFGHJKLMNOPQRSTUVWXYZ"
Damage = Callable[[str, np.random.Generator, list[str]], str]


def wrong_letters(text: str, random: np.random.Generator, used: list[str]) -> str:
    """One of the two letters is another, readable or not."""
    at = random.integers(2)
    other = random.choice([letter for letter in LETTERS if letter != text[at]])
    return text[:at] + other + text[at + 1 :]


def letters_of_the_file(text: str, random: np.random.Generator, used: list[str]) -> str:
    """Letters that other records of the file have: the hardest case, for they lie where people record."""
    others = [letters for letters in used if letters != text[:2]]
    return str(random.choice(others)) + text[2:] if others else text


def exchanged(text: str, random: np.random.Generator, used: list[str]) -> str:
    """Easting and northing change places."""
    half = (len(text) - 2) // 2
    return text[:2] + text[2 + half :] + text[2 : 2 + half]


def leading_digit(text: str, random: np.random.Generator, used: list[str]) -> str:
    """The first digit of one half is another."""
    at = 2 + random.integers(2) * ((len(text) - 2) // 2)
    return text[:at] + str((int(text[at]) + random.integers(1, 10)) % 10) + text[at + 1 :]


KINDS: dict[str, Damage] = {
    "wrong letters": wrong_letters,
    "letters of the file": letters_of_the_file,
    "exchanged": exchanged,
    "leading digit": leading_digit,
}


def open_data(name: str) -> tuple[pd.DataFrame, str, Settings] | None:
    """A file of real records as text, the header of its references, and settings; None when it is not there."""
    file = OPEN_DATA / ("be_ladybirds_utm1km.csv" if name == "ladybirds" else "edinburgh_2000_2016.csv")
    if not file.exists():
        return None
    frame = pd.read_csv(file, dtype="str")
    if name == "ladybirds":
        settings = Settings(area=AreaSection(grid="utm", zones=("31U", "32U"), square="1km"))
        return frame[["utm1km", "year", "scientific_name"]], "utm1km", settings
    groups = {
        "edinburgh": ["Butterfly", "Hymenopteran"],
        "edinburgh birds": ["Bird"],
        "edinburgh molluscs": ["Mollusc"],
        "edinburgh mammals": ["Mammal"],
        "edinburgh all": list(frame["taxonGroup"].unique()),
    }[name]
    return frame[frame["taxonGroup"].isin(groups)].reset_index(drop=True), "gridReference", Settings()


def damage(frame: pd.DataFrame, column: str, kind: str, seed: int) -> tuple[pd.DataFrame, np.ndarray]:
    """The frame with DAMAGED of its references damaged, and the rows that are; tetrad letters are left alone."""
    random = np.random.default_rng(seed)
    texts = frame[column].to_numpy(object).copy()
    used = sorted({text[:2] for text in texts})
    rows = np.sort(random.choice(len(texts), int(DAMAGED * len(texts)), replace=False))
    changed = []
    for row in rows:
        before = str(texts[row])
        if before[2:].isdigit() and len(before) % 2 == 0:
            texts[row] = KINDS[kind](before, random, used)
            if texts[row] != before:
                changed.append(row)
    return frame.assign(**{column: texts}), np.array(changed, dtype=np.int64)


def rate(hits: int, of: int) -> str:
    """A share with its 95 % Wilson interval."""
    if not of:
        return "none"
    interval = binomtest(hits, of).proportion_ci(method="wilson")
    return f"{hits / of:6.1%} ({interval.low:.1%}–{interval.high:.1%})"


def try_kind(name: str, kind: str, seed: int, shuffled: bool) -> dict[str, Any] | None:
    """Damage, read, judge and count; None when the data are not there or nothing could be damaged."""
    opened = open_data(name)
    if opened is None:
        return None
    frame, column, settings = opened
    if shuffled:
        frame = frame.sample(frac=1, random_state=seed).reset_index(drop=True)
    broken, rows = damage(frame, column, kind, seed)
    if not len(rows):
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.csv"
        broken.to_csv(path, index=False)
        records = read_records([path], settings)
        started = time.perf_counter()
        _, judged, repairs = load_known(records, settings)
        seconds = time.perf_counter() - started
        place = pd.Series(np.arange(len(judged)), index=records.frame("source_row")["source_row"])
    kept = place.reindex(rows + 2).dropna().astype(int)
    flags = int(FLAGGED * len(judged))
    top = _highest(judged["one_in"].to_numpy(float), flags)
    plain = _highest(judged["nearest_m"].to_numpy(float), flags)
    found = kept[kept.isin(top)]
    return {
        "data": name + (" shuffled" if shuffled else ""),
        "kind": kind,
        "damaged": len(kept),
        "refused": len(rows) - len(kept),
        "found": len(found),
        "plain": int(kept.isin(plain).sum()),
        "seconds": seconds,
        "repaired": _repaired(repairs, found, frame[column], settings),
    }


def _highest(values: np.ndarray, count: int) -> np.ndarray:
    return np.argsort(-np.nan_to_num(values, posinf=1e12), kind="stable")[:count]


def _repaired(repairs: pd.DataFrame, found: pd.Series, texts: pd.Series, settings: Settings) -> int:
    """How many found records have their true reference among the repairs offered (at most three)."""
    original = texts.iloc[found.index.to_numpy() - 2]
    squares = references_to_squares(original.tolist(), settings.area.grid, settings.area.zones).squares
    system, side, easting, northing = unpack(squares)
    truth = pd.DataFrame(
        {"row": found.to_numpy(), "system": system, "precision_m": side, "easting": easting, "northing": northing}
    )
    return int(truth.merge(repairs, on=list(truth.columns))["row"].nunique())


def newest_year(name: str) -> str | None:
    """Flags among the newest year's records of the undamaged file."""
    opened = open_data(name)
    if opened is None:
        return None
    frame, _, settings = opened
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.csv"
        frame.to_csv(path, index=False)
        records = read_records([path], settings)
        _, judged, _ = load_known(records, settings)
        years = records.frame("date_from")["date_from"].dt.year.to_numpy()
    flagged = judged["one_in"].to_numpy(float) >= 1 / FLAGGED
    new = years == years.max()
    share = rate(int(flagged[new].sum()), int(new.sum()))
    return f"{name}: {share} of the {new.sum()} records of {years.max()} are flagged at one in 20"


def million(copies_to: int = 1_000_000, seed: int = 3) -> str | None:
    """Time to judge a million records: the ladybirds again and again, each copy moved by whole kilometres and years."""
    opened = open_data("ladybirds")
    if opened is None:
        return None
    frame, _, settings = opened
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.csv"
        frame.to_csv(path, index=False)
        records = read_records([path], settings)
        one = records.frame()
    random = np.random.default_rng(seed)
    parts = []
    for copy in range(-(-copies_to // len(one))):
        east, north = random.integers(-20, 21, 2) * 1000 if copy else (0, 0)
        parts.append(
            one.assign(
                easting=one["easting"] + east,
                northing=one["northing"] + north,
                list_id=one["list_id"] // 64 + copy * 2**57,
                species_id=one["species_id"] + 37 * (copy % 8),
                file_id=copy + 1,
            )
        )
    many = pd.concat(parts, ignore_index=True).head(copies_to)
    many["record_id"] = np.arange(1, len(many) + 1)
    species = pd.concat([records.species] * 8, ignore_index=True).assign(species_id=lambda s: np.arange(len(s)))
    connection = duckdb.connect()
    connection.register("many", many)
    connection.execute("create table records as select * from many")
    larger = Records(connection, records.system, records.files, species, records.people)
    lines = []
    for share in (4, 1):
        connection.execute(
            f"create or replace view part as select * from records where record_id <= {copies_to // share}"
        )
        part = Records(connection, larger.system, larger.files, species, larger.people)
        frame_of_part = part.frame(where=f"record_id <= {copies_to // share}")
        begun, worked = time.perf_counter(), time.process_time()
        from_frame(frame_of_part, part, settings)
        lines.append(
            f"{len(frame_of_part):,} records judged in {time.perf_counter() - begun:.1f} s "
            f"({time.process_time() - worked:.1f} s of work)"
        )
    return "\n".join(lines)


def from_frame(frame: pd.DataFrame, records: Records, settings: Settings) -> None:
    """Judge a frame of records as findings does, before the odd ones are put into words."""
    connection = duckdb.connect()
    connection.register("given", frame)
    connection.execute("create view records as select * from given")
    load_known(Records(connection, records.system, records.files, records.species, records.people), settings)


def _line(r: dict[str, Any]) -> str:
    return (
        f"{r['data']:27}{r['kind']:21}{r['damaged']:8}{r['refused']:8}  {rate(r['found'], r['damaged']):24}"
        f"{rate(r['plain'], r['damaged']):24}{rate(r['repaired'], r['found']):28}{r['seconds']:.1f}"
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", nargs="*", default=["ladybirds", "edinburgh"])
    parser.add_argument("--shuffled", action="store_true", help="rows in random order as well")
    parser.add_argument("--million", action="store_true", help="time a million records")
    parser.add_argument("--seed", type=int, default=2026)
    given = parser.parse_args()
    if not OPEN_DATA.exists():
        sys.exit("The open data sets are not beside the project: nothing to measure.")
    print(f"{'data':27}{'kind':21}{'damaged':>8}{'refused':>8}  {'found at 5 % flagged':24}{'plain rule':24}", end="")
    print(f"{'true repair in first three':28}seconds")
    for name in given.data:
        for shuffled in (False, True) if given.shuffled else (False,):
            for kind in KINDS:
                tried = try_kind(name, kind, given.seed, shuffled)
                if tried:
                    print(_line(tried), flush=True)
        print(newest_year(name), flush=True)
    if given.million:
        print(million())


if __name__ == "__main__":
    main()
