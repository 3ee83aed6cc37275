"""Is this record believable? Judge every record against all the others, or one against everything known.

Nothing is rejected here: each finding says how odd a record is, in what way, which single slip would make it
ordinary, and what to ask for. People decide (decisions.py).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from gapmap.checks.evidence import Evidence
from gapmap.checks.known import Known, know
from gapmap.checks.reasons import reasons
from gapmap.checks.written import read_one_record
from gapmap.columns import FINDINGS
from gapmap.records.table import Records
from gapmap.settings import Settings

#: Records at least as odd as one in this many accepted records are put into words and into the queue.
WORTH_A_LOOK = 20.0

Progress = Callable[[float, str], None]


def findings(records: Records, settings: Settings, *, folder: Path | None = None, progress: Progress | None = None) -> pd.DataFrame:
    """Judge every record against all the others, each out of its own evidence.

    Parameters
    ----------
    records
        Cleaned records.
    settings
        The area's settings; their rasters are read when they name any.
    folder
        Folder that the rasters' names are relative to.
    progress
        Callable(fraction, sentence).

    Returns
    -------
    pandas.DataFrame
        As columns.FINDINGS, one row a record in the order of record_id. ``reasons``, ``slip`` and ``ask_for`` are
        filled for records at least as odd as one in WORTH_A_LOOK.
    """
    known, judged = load_known(records, settings, folder=folder, progress=progress)
    return _told(known, judged, np.arange(len(judged)), progress)


def load_known(
    records: Records, settings: Settings, *, folder: Path | None = None, progress: Progress | None = None,
) -> tuple[Known, pd.DataFrame]:
    """Everything known from the records, and the measures of each: load once, judge many (see judge_record)."""
    evidence = Evidence(records.frame(), records.system, progress=progress)
    return know(evidence, records.species, settings, folder=folder, progress=progress)


def judge_record(known: Known, text: str, people: pd.DataFrame | None = None) -> pd.DataFrame:
    """Judge one record written as ``Oniscus asellus, OR467723, 12 May 2026``, with the recorder after it if known.

    Parameters
    ----------
    known
        From load_known.
    text
        Species, reference (or latitude and longitude in decimal degrees), date, recorder: separated by commas.
    people
        Frame as in columns.PEOPLE, to recognise the recorder.

    Returns
    -------
    pandas.DataFrame
        One row as columns.FINDINGS, with record_id 0; reasons are given however ordinary it is.

    Raises
    ------
    GapmapError
        The text names no known species or no place.
    """
    wider = known.with_record(read_one_record(text, known, people))
    row = np.array([len(wider.evidence.x) - 1])
    judged = wider.judge(wider.measure(row), row)
    return _told(wider, judged, row, None, least=0.0)


def _told(known: Known, judged: pd.DataFrame, rows: np.ndarray, progress: Progress | None, least: float = WORTH_A_LOOK) -> pd.DataFrame:
    if progress:
        progress(0.8, "Putting the odd ones into words")
    chosen = np.flatnonzero(judged["one_in"].to_numpy(float) >= least)
    told = pd.DataFrame({
        "record_id": known.evidence.records["record_id"].to_numpy(np.int64)[-len(rows):],
        "one_in": judged["one_in"].to_numpy(float),
        "nearest_m": judged["others_m"].replace(np.inf, np.nan).to_numpy(float),
        "reasons": "", "slip": "", "ask_for": "",
    }).astype({"reasons": object, "slip": object, "ask_for": object})
    told.loc[chosen, "reasons"] = reasons(known, rows[chosen], judged.iloc[chosen])
    told.loc[chosen, "ask_for"] = [_ask(judged.iloc[index]) for index in chosen]
    return FINDINGS.check(told.astype({"reasons": "str", "slip": "str", "ask_for": "str"}))


def _ask(row: pd.Series) -> str:
    asks = [str(row["ask"])] if row["ask"] else []
    if row["slip_odd"] > row["range_odd"]:
        asks.append("the reference as it stands in the notebook")
    elif row["range_odd"] > 0:
        asks.append("a photograph or a voucher, and the reference as it stands in the notebook")
    if row["season_odd"] > 3:
        asks.append("the date as it stands in the notebook")
    return "; ".join(asks) or "a few words about the circumstances"
