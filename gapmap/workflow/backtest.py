"""``gapmap backtest``: hide the last years, predict them, and score what was said."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gapmap.errors import SettingsError
from gapmap.expected.backtest import Backtest
from gapmap.expected.backtest import backtest as test_back
from gapmap.outputs.reliability import write_backtest_page
from gapmap.outputs.tables import label_squares, write_csv
from gapmap.outputs.whole import whole_file
from gapmap.workflow.expected import ground_at, lists_inside
from gapmap.workflow.source import Source, open_source, output_folder
from gapmap.workflow.stages import Progress, read_and_count

__all__ = ["Tested", "backtest", "open_source", "output_folder"]


@dataclass(frozen=True)
class Tested:
    """What came of it and the files written."""

    result: Backtest
    outputs: tuple[Path, ...]


def backtest(source: Source, until: int, out: Path, progress: Progress | None = None) -> Tested:
    """Predict what was found after a year from what was known by its end, in the area, of what counts as a species.

    Parameters
    ----------
    until
        Last year that is known.

    Raises
    ------
    SettingsError
        Nothing was recorded before, or nothing after.
    """
    counted = read_and_count(source, progress)
    lists, finds = lists_inside(counted)
    years = lists.loc[lists["year"] > 0, "year"]
    if years.empty or not (years.min() <= until < years.max()):
        found = f"lists from {years.min()} to {years.max()}" if len(years) else "no list with a year in the squares"
        raise SettingsError(
            "The year to stop at must have lists before and after it", found=f"{until}, with {found}",
            do="choose a year in between with --until",
        )  # fmt: skip
    ground = ground_at(source, counted, np.unique(lists["square"].to_numpy(np.int64)))
    counting = counted.records.species[counted.records.species["counts"]]
    result = test_back(lists, finds, counting, until, ground=ground, progress=progress)
    names = counting.set_index("species_id")["name"]
    table = label_squares(result.table.assign(species=result.table["species_id"].map(names)), {})
    outputs = (out / "backtest.html", out / "backtest.csv", out / "backtest.json")
    area = source.settings.area
    write_backtest_page(result, f"{area.name}: what was said and what was found", area.notice, outputs[0])
    write_csv(table, outputs[1])
    with whole_file(outputs[2]) as draft:
        draft.write_text(json.dumps(result.to_dict(), indent=2) + "\n", encoding="utf-8")
    return Tested(result, outputs)
