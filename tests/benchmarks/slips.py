"""Injected slips: 2 % of real records damaged with one kind at a time, then looked for among all.

Run ``python tests/benchmarks/slips.py``. The references are damaged as text in a copy of the file, and the copy goes
through the whole reading. Printed for each kind, at 5 % of all records flagged: how many damaged records are found,
beside the plain rule "farther than X km from the nearest other record of the species" with X set so that it flags the
same 5 %; how often the true reference is among the first three repairs offered; every rate with its 95 % Wilson
interval. A damaged reference that the reading itself refuses is counted apart.

``--as`` changes the file first: ``shuffled`` puts the rows in random order, which takes the rows beside a record away
as a witness; ``tenth`` keeps every tenth of the shuffled rows; ``hectads`` coarsens all references to 10 km and
shuffles. ``--demo`` says what the default queue holds of the odd records hidden on the invented island, and
``--million`` how long judging takes. At the end of each file: the newest year on undamaged data.

Data: the open ladybird and Edinburgh files kept beside the project (see ``open_data``), coordinates left out; the
invented society's table of the demo (recorder and day); the look-alike of lookalike.py (recorder and day, no pattern of
species in space at all).
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

sys.path.insert(0, str(Path(__file__).resolve().parent))

from lookalike import write_lookalike

from gapmap.checks.range import findings, load_known
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import AreaSection, Settings
from gapmap.workflow.source import open_source

DAMAGED, FLAGGED = 0.02, 0.05
PROJECT = Path(__file__).resolve().parents[2]
OPEN_DATA = PROJECT.parent / "shared" / "data"
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


WAYS = ("as it is", "shuffled", "tenth", "hectads")
KINDS: dict[str, Damage] = {
    "wrong letters": wrong_letters,
    "letters of the file": letters_of_the_file,
    "exchanged": exchanged,
    "leading digit": leading_digit,
}


def open_data(name: str) -> tuple[pd.DataFrame, str, Settings] | None:
    """A file of records as text, the header of its references, and settings; None when it is not there."""
    if name == "demo":
        table = PROJECT / "demo" / "area" / "records" / "society records 2000 onwards.csv"
        return (pd.read_csv(table, dtype="str"), "Grid reference", Settings()) if table.exists() else None
    if name == "lookalike":
        with tempfile.TemporaryDirectory() as folder:
            write_lookalike(Path(folder) / "records.csv", 60_000)
            table = pd.read_csv(Path(folder) / "records.csv", dtype="str")
        return table[table["Grid reference"].str.match(r"O[QR]\d+[A-Z]?$")].reset_index(drop=True), "Grid reference", Settings()
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


def changed(frame: pd.DataFrame, column: str, how: str, seed: int) -> pd.DataFrame:
    """The file as it is, ``shuffled``, a ``tenth`` of it shuffled, or with references coarsened to ``hectads``."""
    if how == "hectads":
        digits = frame[column].str.extract(r"^([A-Z]{2})(\d+)")
        digits = digits.fillna("")
        half = digits[1].str.len() // 2
        first = [text[:1] + text[size : size + 1] for text, size in zip(digits[1], half, strict=True)]
        frame = frame.assign(**{column: (digits[0] + first).where(digits[0] != "", frame[column])})
    if how == "as it is":
        return frame
    return frame.sample(frac=0.1 if how == "tenth" else 1, random_state=seed).reset_index(drop=True)


def damage(frame: pd.DataFrame, column: str, kind: str, seed: int) -> tuple[pd.DataFrame, np.ndarray]:
    """The frame with DAMAGED of its references damaged, and the rows that are; tetrad letters are left alone."""
    random = np.random.default_rng(seed)
    texts = frame[column].to_numpy(object).copy()
    used = sorted({str(text)[:2] for text in texts if str(text)[:2].isupper()})
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


def try_kind(name: str, kind: str, seed: int, how: str = "as it is") -> dict[str, Any] | None:
    """Damage, read, judge and count; None when the data are not there or nothing could be damaged."""
    opened = open_data(name)
    if opened is None:
        return None
    frame, column, settings = opened
    frame = changed(frame, column, how, seed)
    broken, rows = damage(frame, column, kind, seed)
    if not len(rows):
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.csv"
        broken.to_csv(path, index=False)
        records = read_records([path], settings)
        started = time.process_time()
        known, judged, repairs = load_known(records, settings)
        seconds = time.process_time() - started
        laid = known.evidence
        apart = laid.of_species.nearest(laid.species, laid.x, laid.y, laid.outing).metres
        place = pd.Series(np.arange(len(judged)), index=records.frame("source_row")["source_row"])
    kept = place.reindex(rows + 2).dropna().astype(int)
    flags = int(FLAGGED * len(judged))
    top = _highest(judged["one_in"].to_numpy(float), flags)
    plain = _highest(apart, flags)
    found = kept[kept.isin(top)]
    return {
        "data": name if how == "as it is" else f"{name}, {how}",
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
    """How many of the newest year's records of the undamaged file are flagged, and how many are to be looked at first."""
    opened = open_data(name)
    if opened is None:
        return None
    frame, _, settings = opened
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "records.csv"
        frame.to_csv(path, index=False)
        records = read_records([path], settings)
        _, judged, _ = load_known(records, settings)
        years = records.frame("date_to")["date_to"].dt.year.to_numpy(float)
    enough = [year for year in np.unique(years[np.isfinite(years)]) if (years == year).sum() >= 100]
    one_in = judged["one_in"].to_numpy(float)
    first = (one_in >= settings.checks.look_first) | judged["likely"].to_numpy(bool)
    lines = [f"{name}, undamaged: {len(judged):,} records, {rate(int(first.sum()), len(first))} to be looked at first"]
    for year in sorted({np.nanmax(years), enough[-1]} if enough else {np.nanmax(years)}):
        new = years == year
        lines.append(
            f"  {year:.0f} ({new.sum():,} records): {rate(int((one_in[new] >= 1 / FLAGGED).sum()), int(new.sum()))} "
            f"flagged at one in 20; {rate(int(first[new].sum()), int(new.sum()))} to be looked at first"
        )
    return "\n".join(lines)


def default_queue() -> str | None:
    """What of the odd records and mistakes hidden on the invented island is to be looked at first by default."""
    truth = PROJECT / "demo" / "truth"
    if not truth.exists():
        return None
    source = open_source([str(PROJECT / "demo" / "area")])
    records = read_records(source.files, source.settings)
    told = findings(records, source.settings, folder=source.folder)
    names = dict(zip(records.files["file_id"], records.files["file"], strict=True))
    rows = records.frame("file_id, source_row")
    place = pd.MultiIndex.from_arrays([rows["file_id"].map(names), rows["source_row"]])
    first, worth = told["first"].to_numpy(bool), told["one_in"].to_numpy(float) >= 1 / FLAGGED
    odd = pd.read_csv(truth / "odd_records.csv")
    is_odd = place.isin(pd.MultiIndex.from_frame(odd[["file", "row"]]))
    slips = odd[odd["kind"].isin(["wrong letters", "easting and northing exchanged", "two digits exchanged", "wrong leading digit"])]
    is_slip = place.isin(pd.MultiIndex.from_frame(slips[["file", "row"]]))
    mistakes = pd.read_csv(truth / "mistakes.csv")
    is_seeded = is_odd | place.isin(pd.MultiIndex.from_frame(mistakes[["file", "row"]]))
    return "\n".join([
        f"demo: {first.sum()} of {len(told):,} records to be looked at first, {worth.sum():,} at one in 20",
        f"  recall: {rate(int((is_odd & first).sum()), int(is_odd.sum()))} of the hidden odd records; "
        f"{rate(int((is_slip & first).sum()), int(is_slip.sum()))} of those with a slip of place; "
        f"at one in 20 {rate(int((is_odd & worth).sum()), int(is_odd.sum()))}",
        f"  precision: {rate(int((is_odd & first).sum()), int(first.sum()))} hidden odd records; "
        f"{rate(int((is_seeded & first).sum()), int(first.sum()))} with the mistakes hidden in recorders' files",
    ])  # fmt: skip


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
    lines = []
    for count in (copies_to // 10, copies_to * 3 // 10, copies_to):
        part = many.head(count)
        connection = duckdb.connect()
        connection.register("given", part)
        connection.execute("create view records as select * from given")
        begun, worked = time.perf_counter(), time.process_time()
        told = findings(Records(connection, records.system, records.files, species, records.people), settings)
        lines.append(
            f"{count:,} records judged and {(told['reasons'] != '').sum():,} put into words in "
            f"{time.perf_counter() - begun:.1f} s ({time.process_time() - worked:.1f} s of work)"
        )
    return "\n".join(lines)


def _line(r: dict[str, Any]) -> str:
    return (
        f"{r['data']:22}{r['kind']:21}{r['damaged']:8}{r['refused']:8}  {rate(r['found'], r['damaged']):24}"
        f"{rate(r['plain'], r['damaged']):24}{rate(r['repaired'], r['found']):28}{r['seconds']:.1f}"
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--data", nargs="*", default=["ladybirds", "edinburgh", "demo", "lookalike"])
    parser.add_argument("--as", dest="how", nargs="*", default=["as it is", "shuffled"], choices=WAYS)
    parser.add_argument("--demo", action="store_true", help="the default queue on the invented island")
    parser.add_argument("--million", action="store_true", help="time a million records")
    parser.add_argument("--seed", type=int, default=2026)
    given = parser.parse_args()
    if given.data:
        print(f"{'data':22}{'kind':21}{'damaged':>8}{'refused':>8}  {'found at 5 % flagged':24}{'plain rule':24}", end="")
        print(f"{'true repair in first three':28}seconds of work")
    for name in given.data:
        for how in given.how:
            for kind in KINDS:
                tried = try_kind(name, kind, given.seed, how)
                if tried:
                    print(_line(tried), flush=True)
        print(newest_year(name) or f"{name}: not there, nothing to measure", flush=True)
    if given.demo:
        print(default_queue() or "The demo has not been made.", flush=True)
    if given.million:
        print(million() or "The open data are not there.")


if __name__ == "__main__":
    main()
