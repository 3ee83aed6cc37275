"""Is this record believable? Judge every record against all the others, or one against everything known.

Nothing is rejected here: each finding says how odd a record is, in what way, which single slip would make it
ordinary, and what to ask for. People decide (decisions.py).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence
from gapmap.checks.known import Known
from gapmap.checks.learn import know
from gapmap.checks.told import WORTH_A_LOOK, judge_record, tell
from gapmap.records.table import Records
from gapmap.settings import Settings

__all__ = ["WORTH_A_LOOK", "findings", "judge_record", "load_known"]

Whole = npt.NDArray[np.int64]
Progress = Callable[[float, str], None]


def findings(
    records: Records,
    settings: Settings,
    *,
    folder: Path | None = None,
    area: Whole | None = None,
    progress: Progress | None = None,
) -> pd.DataFrame:
    """Judge every record against all the others, each out of its own evidence.

    Parameters
    ----------
    records
        Cleaned records.
    settings
        The area's settings; their rasters are read when they name any.
    folder
        Folder that the rasters' names are relative to.
    area
        Packed squares of the area, of the map's side; None when they are not known.
    progress
        Callable(fraction, sentence).

    Returns
    -------
    pandas.DataFrame
        As columns.FINDINGS, one row a record in the order of record_id. ``reasons``, ``slip``, ``slips`` (all that are
        offered, one a line) and ``ask_for`` are filled for records at least as odd as one in WORTH_A_LOOK, the oddest
        MOST_WORDED of them; ``first`` says which are to be looked at first, ``in_metres`` which points were typed as
        easting and northing.
    """
    known, judged, repairs = load_known(records, settings, folder=folder, area=area, progress=progress)
    return tell(known, judged, repairs, np.arange(len(judged)), progress)


def load_known(
    records: Records,
    settings: Settings,
    *,
    folder: Path | None = None,
    area: Whole | None = None,
    progress: Progress | None = None,
) -> tuple[Known, pd.DataFrame, pd.DataFrame]:
    """Everything known from the records, the measures of each and the repairs of the odd ones (as know gives them).

    Load once, then judge as many single records as you like with judge_record.
    """
    count = len(records.species)
    evidence = Evidence(records.frame(), records.system, species_count=count, people=records.people, progress=progress)
    return know(evidence, records.species, settings, folder=folder, area=area, progress=progress)
