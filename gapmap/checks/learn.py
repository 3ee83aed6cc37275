"""Taking the yardsticks: everything is learned from the records, and every record is judged on the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence
from gapmap.checks.habits import (
    HALF_MONTHS,
    SCALES,
    TIMES,
    HabitTable,
    habit_table,
    habitat_words,
    hour_cells,
    season_cells,
    stage_kinds,
)
from gapmap.checks.known import WAYS, Known, cover_cells, rasters_under
from gapmap.checks.lessons import draw_lesson, learn_explained, learn_odds, squares_in_use
from gapmap.checks.oddness import Spacing, commonness, spacing, yardstick
from gapmap.checks.slips import Explained, FirstLook, Search
from gapmap.checks.spreading import spreads
from gapmap.settings import Settings

Whole = npt.NDArray[np.int64]

#: Measures that a record of no file may lack.
UNSAID = ("ground_m", "outing_m", "rows_m", "rows_second_m", "lists_m", "company")
#: Repairs are tried for this share of the records, those whose places are oddest, and for so many at most.
SHARE_TRIED, SLIPS_TRIED = 0.4, 60_000


def know(
    evidence: Evidence,
    species: pd.DataFrame,
    settings: Settings,
    *,
    folder: Path | None = None,
    area: Whole | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[Known, pd.DataFrame, pd.DataFrame]:
    """Take all yardsticks, and judge every record against them on the way.

    Returns
    -------
    tuple of Known and two pandas.DataFrame
        What is known; the judged measures of every record in the order of the evidence; the repairs of the odd ones.
    """
    tell = progress or (lambda fraction, sentence: None)
    rasters = {
        name: (folder or Path()) / path
        for name, path in (("height", settings.rasters.height), ("habitat", settings.rasters.habitat))
        if path
    }
    under = rasters_under(rasters, evidence, np.arange(len(evidence.x)))
    missing = np.full(len(evidence.x), np.nan)
    tell(0.2, "Learning from the records what a slip looks like")
    words = pd.Index(pd.unique(habitat_words(evidence.records)))
    search, explained = _lesson(evidence)
    known = Known(
        evidence,
        species,
        settings,
        search,
        explained,
        spreads(evidence),
        {},
        words[words != ""],
        rasters,
        under.get("height", missing),
        under.get("habitat", missing),
        {},
        None,
        {},
        area,
    )
    known = replace(known, habits=_tables(known))
    tell(0.35, "Measuring how far each record stands from the others")
    rows, witness = np.arange(len(evidence.x)), evidence.bears_witness
    measures = known.measure(rows)
    # A record of a wide reference is judged by the least distance that can be; among the others it counts by the
    # likeliest, from middle to middle, or else every record of a finer reference would seem far off.
    felt, metres = (measures[name].to_numpy(float) for name in ("middles_felt_m", "middles_m"))
    by_species = spacing(evidence.species, felt, witness, evidence.species_count, metres)
    usual = {name: float(measures.loc[witness, name].median()) for name in UNSAID}
    known = replace(known, usual=usual, spacing=by_species)
    tell(0.5, "Trying which slip of the pen would explain the odd ones")
    measures, repairs = known.explain(measures, rows, _oddest(measures, by_species, evidence))
    known = replace(known, sticks={"slip": yardstick(measures["slip"].to_numpy(float), witness)})
    tell(0.7, "Comparing seasons, hours, habitats and evidence")
    judged = known.judge(measures, rows)
    known = replace(known, sticks=known.sticks | {way: yardstick(judged[way].to_numpy(float), witness) for way in WAYS})
    judged = known.judge(judged, rows)
    known = replace(known, sticks=known.sticks | {"total": yardstick(judged["total"].to_numpy(float), witness)})
    return known, known.ranked(judged, rows), repairs


def _lesson(evidence: Evidence) -> tuple[Search | None, Explained | None]:
    """What a slip looks like and what an explanation is worth, learned from records moved on purpose: twice, so that
    slips among the records left alone spoil neither."""
    squares = squares_in_use(evidence)
    lesson = draw_lesson(evidence, squares)
    if lesson is None:
        return None, None
    first = Search(evidence, learn_odds(evidence, lesson), squares, FirstLook(evidence))
    _, genuine = learn_explained(first, lesson)
    search = replace(first, odds=learn_odds(evidence, lesson, genuine))
    return search, learn_explained(search, lesson)[0]


def _oddest(measures: pd.DataFrame, by_species: Spacing, evidence: Evidence) -> Whole:
    """Rows for which repairs are tried: those with the oddest places by either measure, in rising order."""
    slip = measures["slip"].to_numpy(float)
    witness = evidence.bears_witness
    far = by_species.surprise(evidence.species, measures["felt_m"].to_numpy(float), witness)
    odd = np.where(measures["laid"], np.maximum(commonness(slip, yardstick(slip, witness)), far), -1.0)
    count = min(max(int(SHARE_TRIED * len(odd)), 50), SLIPS_TRIED)
    order = np.argsort(-odd, kind="stable")[:count]
    return np.sort(order[odd[order] >= 0])


def _tables(known: Known) -> dict[str, HabitTable]:
    evidence = known.evidence
    kept = evidence.bears_witness
    records, outing = evidence.records[kept], evidence.outing[kept]
    stages, species = stage_kinds(records), evidence.species[kept]
    words = known.words.get_indexer(pd.Index(habitat_words(records))).astype(np.int64)
    covers = cover_cells(known.covers[kept])
    return {
        "season": habit_table(stages, season_cells(records), outing, HALF_MONTHS, circular=True),
        "hour": habit_table(stages, hour_cells(records), outing, TIMES, circular=False, scales=SCALES),
        "habitat": habit_table(species, words, outing, len(known.words), circular=False),
        "ground_cover": habit_table(species, covers, outing, int(covers.max(initial=0)) + 1, circular=False),
    }
