"""Invented pages of any size for tests and benchmarks: squares in the empty sea squares OQ and OR, a fixed seed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gapmap.columns import EXPECTED, FINDINGS, LISTS, SPECIES, VISITS
from gapmap.coverage.completeness import STANDINGS
from gapmap.grid.squares import pack, unpack
from gapmap.grid.systems import System, system_named
from gapmap.outputs.page.contents import Background, Page
from gapmap.typed import text_to_classes

CLASSES = text_to_classes("-2000, 2001-2010, 2011-")
FIRST_YEARS, LAST_YEARS = np.array([1962, 2001, 2011]), np.array([2000, 2010, 2025])


def make_page(
    squares: int = 60,
    species: int = 12,
    per_square: int = 6,
    *,
    side: int = 2_000,
    seed: int = 7,
    system: System | None = None,
    packed: np.ndarray | None = None,
    views: bool = True,
    standing: bool = True,
    **changes: Any,
) -> Page:
    """A page with every view, or with coverage and one species only."""
    chance = np.random.default_rng(seed)
    system = system or system_named("british")
    packed = _disc(squares, side, system) if packed is None else packed
    pairs = _found(chance, len(packed), species, per_square)
    tally, effort = _tally(packed, pairs), _effort(chance, packed, pairs)
    page = Page(
        title="Invented isle",
        system=system,
        side=side,
        classes=CLASSES,
        species=_species(species),
        tally=tally,
        effort=effort,
        made_on=date(2026, 1, 31),
        files=("isle.csv",),
        notice="Invented island, invented records.",
        thresholds=("Well covered: three quarters of the estimate found.",),
        remarks=("312 records know only their year.",),
        too_coarse=888,
        standing=_standing(chance, effort) if standing else None,
        boundary=_outline(packed, side, system),
    )
    if views:
        page = replace(
            page,
            expected=_expected(chance, packed, species, pairs),
            lists=_lists(chance, packed),
            visits=_visits(packed),
            findings=_findings(packed, species),
            background=_background(packed, system),
            too_coarse_squares=pd.DataFrame(
                {"square": pack(system.key, 10_000, [560_000], [-60_000]), "records": [888]}
            ),
        )
    return replace(page, **changes)


def still_of(page: Page) -> pd.DataFrame:
    """Species still to find in each square, by the sum of their chances."""
    assert page.expected is not None
    never = page.expected[page.expected["found_before"] == 0]
    return never.groupby("square")["chance"].sum().rename("still_to_find").reset_index()


def _disc(squares: int, side: int, system: System) -> np.ndarray:
    """The so many squares nearest the middle of a field of them."""
    wide = int(np.ceil(np.sqrt(squares * 1.3))) + 1
    x, y = np.meshgrid(np.arange(wide), np.arange(wide))
    nearest = np.argsort(np.hypot(x - wide / 2, y - wide / 2).ravel(), kind="stable")[:squares]
    easting, northing = system.hundreds.get("OQ", (400_000, 5_600_000))
    return np.sort(
        pack(
            system.key,
            side,
            easting + 60_000 + x.ravel()[nearest] * side,
            northing + 20_000 + y.ravel()[nearest] * side,
        )
    )


def _found(chance: np.random.Generator, squares: int, species: int, per_square: int) -> pd.DataFrame:
    weights = 1 / (np.arange(species) + 8.0)
    square = np.repeat(np.arange(squares), min(per_square, species))
    ids = np.concatenate(
        [np.argsort(-(chance.random(species) ** (1 / weights)))[: min(per_square, species)] for _ in range(squares)]
    )
    classes = chance.random((len(square), 3)) < (0.35, 0.4, 0.55)
    classes[~classes.any(axis=1), 2] = True
    first, last = classes.argmax(axis=1), 2 - classes[:, ::-1].argmax(axis=1)
    return pd.DataFrame(
        {
            "square": square,
            "species_id": ids,
            "records": chance.geometric(0.5, len(square)),
            "first": chance.integers(FIRST_YEARS[first], LAST_YEARS[first] + 1),
            "last": LAST_YEARS[last],
            **{f"in_{k}": classes[:, k] for k in range(3)},
        }
    )


def _tally(packed: np.ndarray, pairs: pd.DataFrame) -> pd.DataFrame:
    parts = []
    for date_class in (-1, 0, 1, 2):
        rows = pairs if date_class < 0 else pairs[pairs[f"in_{date_class}"]]
        parts.append(
            pd.DataFrame(
                {
                    "square": packed[rows["square"]],
                    "species_id": rows["species_id"],
                    "date_class": date_class,
                    "records": rows["records"],
                    "visits": rows["records"],
                    "lists": rows["records"],
                    "first": rows["first"],
                    "last": rows["last"],
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def _effort(chance: np.random.Generator, packed: np.ndarray, pairs: pd.DataFrame) -> pd.DataFrame:
    parts = []
    for date_class in (-1, 0, 1, 2):
        rows = pairs if date_class < 0 else pairs[pairs[f"in_{date_class}"]]
        sums = rows.groupby("square").agg(
            records=("records", "sum"), species=("species_id", "size"), first=("first", "min"), last=("last", "max")
        )
        sums = sums.reindex(range(len(packed)), fill_value=0).astype("int64")
        visits = np.where(sums["records"] > 0, 1 + chance.poisson(sums["species"] / 4), 0)
        parts.append(
            pd.DataFrame(
                {
                    "square": packed,
                    "date_class": date_class,
                    "records": sums["records"],
                    "species": sums["species"],
                    "visits": visits,
                    "lists": visits + (visits > 0),
                    "recorders": np.minimum(visits, 5),
                    "days": visits,
                    "years": np.minimum(visits, 9),
                    "months": np.where(visits > 0, chance.integers(1, 4096, len(packed)), 0),
                    "night_visits": visits // 6,
                    "single_lists": visits // 3,
                    "median_list": sums["species"] / 2,
                    "busiest_share": 0.5,
                    "first": sums["first"],
                    "last": sums["last"],
                    "not_done": np.where(visits > 2, "Never visited at night.", ""),
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def _standing(chance: np.random.Generator, effort: pd.DataFrame) -> pd.DataFrame:
    visits, species = effort["visits"].to_numpy(), effort["species"].to_numpy()
    estimate = np.where(visits >= 4, np.round(species * 1.3 + 1, 1), np.nan)
    word = np.array(STANDINGS)[
        np.where(visits == 0, 0, np.where(visits < 2, 1, chance.integers(2, len(STANDINGS), len(visits))))
    ]
    return pd.DataFrame(
        {
            "square": effort["square"],
            "date_class": effort["date_class"],
            "species": species,
            "estimate": estimate,
            "estimate_low": estimate * 0.9,
            "estimate_high": estimate * 1.4,
            "sample_coverage": np.where(visits >= 4, 0.8, np.nan),
            "refound_share": np.where((effort["date_class"] > 0) & (visits > 0), chance.random(len(visits)), np.nan),
            "visits_needed": np.where(visits >= 4, chance.integers(1, 12, len(visits)), np.nan),
            "standing": word,
            "reason": [
                f"{s} species on {v} visits, which is {100 * s // (s + 3)} % of what is estimated."
                for s, v in zip(species, visits, strict=True)
            ],
        }
    )


def _species(species: int) -> pd.DataFrame:
    return SPECIES.check(
        pd.DataFrame(
            {
                "species_id": np.arange(species),
                "name": [f"Genus{i // 7} species{i}" for i in range(species)],
                "vernacular": [f"Common crawler {i}" if i % 3 == 0 else "" for i in range(species)],
                "group": "woodlice",
                "rank": "species",
                "counts": True,
                "difficulty": "hand lens",
                "months": "4-10",
                "time_of_day": "night",
                "sensitive_m": 0,
            }
        )
    )


def _expected(chance: np.random.Generator, packed: np.ndarray, species: int, pairs: pd.DataFrame) -> pd.DataFrame:
    """Some species of each square that are not found in its last class; a few were found before."""
    last = {
        (s, i): (year if not now else -1)
        for s, i, year, now in zip(pairs["square"], pairs["species_id"], pairs["last"], pairs["in_2"], strict=True)
    }
    square = np.repeat(np.arange(len(packed)), min(species, 20))
    ids = np.concatenate([chance.permutation(species)[:20] for _ in packed])
    before = np.array([last.get(key, 0) for key in zip(square, ids, strict=True)])
    square, ids, before = square[before >= 0], ids[before >= 0], before[before >= 0]
    lives = chance.beta(2, 3, len(square)).round(3)
    return EXPECTED.check(
        pd.DataFrame(
            {
                "square": packed[square],
                "species_id": ids,
                "chance": lives,
                "chance_low": lives * 0.7,
                "chance_high": np.minimum(lives * 1.3, 1),
                "chance_if_visited": lives * 0.6,
                "grade": np.array(["good", "fair", "weak"])[chance.integers(0, 3, len(square))],
                "found_before": before,
                "best_months": np.array(["Apr–Jun", "May–Sep", "Oct–Feb", ""])[ids % 4],
                "time_of_day": np.array(["day", "night"])[ids % 2],
                "method": np.array(["under stones", "sieving litter"])[ids % 2],
                "certainty": np.array(["hand lens", "microscope"])[ids % 2],
                "why": [f"found in {n} of the 8 squares around" for n in chance.integers(0, 9, len(square))],
            }
        )
    )


def _lists(chance: np.random.Generator, packed: np.ndarray) -> pd.DataFrame:
    number = len(packed) * 5
    day = pd.Series(pd.to_datetime(["2001-01-01"] * number)).astype("datetime64[s]")
    return LISTS.check(
        pd.DataFrame(
            {
                "list_id": np.arange(number),
                "square": chance.choice(packed, number),
                "system": 1,
                "easting": 0,
                "northing": 0,
                "precision_m": 1_000,
                "date_from": day,
                "date_to": day,
                "year": chance.integers(1962, 2026, number),
                "month": 5,
                "date_class": 2,
                "is_visit": True,
                "people_id": 1,
                "time_of_day": "",
                "hour": -1,
                "method": "",
                "length": 5,
            }
        )
    )


def _visits(packed: np.ndarray) -> pd.DataFrame:
    chosen = packed[:: max(1, len(packed) // 6)][:6]
    days = pd.Series(pd.to_datetime([f"2027-06-{day:02d}" for day in range(1, len(chosen) + 1)])).astype(
        "datetime64[s]"
    )
    return VISITS.check(
        pd.DataFrame(
            {
                "visit_id": np.arange(1, len(chosen) + 1),
                "volunteer": [["Marwick T", "Isbel Q"][k % 2] for k in range(len(chosen))],
                "square": chosen,
                "month": 6,
                "day": days,
                "time_of_day": "dusk",
                "gain": 2.5,
                "travel_m": 8_600.0,
                "targets": "Oniscus asellus; Porcellio scaber",
            }
        )
    )


def _findings(packed: np.ndarray, species: int) -> pd.DataFrame:
    number = min(9, len(packed))
    return FINDINGS.check(
        pd.DataFrame(
            {
                "record_id": np.arange(number),
                "one_in": 100.0 * np.arange(1, number + 1),
                "nearest_m": 47_000.0,
                "reasons": "47 km from the nearest other record.\nSeven weeks outside its season.",
                "slip": "Was OR47 meant, not OQ47?",
                "ask_for": "a photograph",
                "square": packed[:number],
                "species_id": np.arange(number) % species,
                "date": "3 May 2019",
                "recorders": "Tam O",
                "place": "Brae of Noss",
                "where": "isle.csv, row 31",
            }
        )
    )


def _outline(packed: np.ndarray, side: int, system: System) -> gpd.GeoDataFrame:
    _, _, easting, northing = unpack(packed)
    box = shapely.box(easting.min(), northing.min(), easting.max() + side, northing.max() + side)
    return gpd.GeoDataFrame(geometry=[box.buffer(side)], crs=system.epsg)


def _background(packed: np.ndarray, system: System) -> tuple[Background, ...]:
    _, _, easting, northing = unpack(packed)
    middle = shapely.Point(easting.mean(), northing.mean())
    land = gpd.GeoDataFrame(geometry=[middle.buffer(np.ptp(easting) * 0.6 + 1_000)], crs=system.epsg)
    river = gpd.GeoDataFrame(
        geometry=[shapely.LineString([middle, (middle.x + 9_000, middle.y + 9_000)])], crs=system.epsg
    )
    town = gpd.GeoDataFrame({"name": ["Noss Harbour"]}, geometry=[middle], crs=system.epsg)
    return Background("Land", "land", land), Background("Rivers", "river", river), Background("Towns", "place", town)
