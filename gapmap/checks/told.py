"""From measures to findings: how odd, in what way, which slip would explain it, what to ask for."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.known import Known
from gapmap.checks.others import nearest_by_others
from gapmap.checks.questions import questions
from gapmap.checks.reasons import WORTH_SAYING, reasons
from gapmap.checks.written import read_one_record
from gapmap.columns import FINDINGS
from gapmap.errors import GapmapError

#: Records at least as odd as one in this many accepted records are in the queue …
WORTH_A_LOOK = 20.0
#: … and put into words, the oddest first, up to so many.
MOST_WORDED = 5_000

#: Said of a record tried that is in the files: it was judged as the row it is, and was no evidence for itself.
ALREADY_THERE = "It is among the records already, and was judged without its own evidence."
#: Said of a record tried with more behind it than species, place, date and a recorder of the files.
NOT_KNOWN = "“{}” is no recorder of the files; the record was judged as if nobody were named."
#: Said of a record tried without a date.
NO_DATE = "No date was given, so that nothing was judged by its year or season."

Progress = Callable[[float, str], None]


def tell(
    known: Known,
    judged: pd.DataFrame,
    repairs: pd.DataFrame,
    rows: npt.NDArray[np.int64],
    progress: Progress | None,
    least: float = WORTH_A_LOOK,
) -> pd.DataFrame:
    """Put measures into words, for records at least as odd as one in so many; as columns.FINDINGS."""
    one_in = judged["one_in"].to_numpy(float)
    first = (one_in >= known.settings.checks.look_first) | judged["likely"].to_numpy(bool)
    if progress:
        progress(0.85, "Putting the odd ones into words")
    worth = np.flatnonzero((one_in >= least) | first)
    chosen = np.sort(worth[np.lexsort((-one_in[worth], ~first[worth]))][:MOST_WORDED])
    told = pd.DataFrame(
        {
            "record_id": known.evidence.records["record_id"].to_numpy(np.int64)[-len(rows) :],
            "one_in": one_in.round(1),
            "nearest_m": np.nan,
            "reasons": "",
            "slip": "",
            "ask_for": "",
            "slips": "",
            "first": first,
            "in_metres": known.evidence.in_metres[rows],
        }
    ).astype(dict.fromkeys(("reasons", "slip", "ask_for", "slips"), object))
    others = nearest_by_others(known.evidence, rows[chosen])
    few = judged.iloc[chosen].assign(others_m=others.metres, others_are_wide=others.is_wide)
    slips = questions(known, rows[chosen], few, repairs)
    told.loc[chosen, "nearest_m"] = few["others_m"].replace(np.inf, np.nan).to_numpy(float)
    told.loc[chosen, "reasons"] = reasons(known, rows[chosen], few)
    told.loc[chosen, "slips"] = ["\n".join(asked) for asked in slips]
    told.loc[chosen, "slip"] = [asked[0] if asked else "" for asked in slips]
    told.loc[chosen, "ask_for"] = [_ask(row) for row in few.to_dict("records")]
    told = told.astype(dict.fromkeys(("reasons", "slip", "ask_for", "slips"), "str"))
    if progress:
        progress(1.0, "Judged every record")
    return FINDINGS.check(told)


def _ask(row: dict[Hashable, Any]) -> str:
    asks = [str(row["ask"])] if row["ask"] and row["identification_odd"] > 0 else []
    if row["slip_odd"] > row["range_odd"] or row["gain"] > 3:
        asks.append("the reference as it stands in the notebook")
    elif row["range_odd"] > WORTH_SAYING and not asks:
        asks.append("a photograph or a voucher, and the reference as it stands in the notebook")
    if row["season_odd"] > WORTH_SAYING or row["year_odd"] > WORTH_SAYING:
        asks.append("the date as it stands in the notebook")
    return "; ".join(asks) or "a few words about the circumstances"


def judge_record(
    known: Known, text: str, people: pd.DataFrame | None = None, checklist: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Judge one record written as ``Oniscus asellus, OR467723, 12 May 2026``, with the recorder after it if known.

    Parameters
    ----------
    known
        From load_known.
    text
        Species, reference (or latitude and longitude in decimal degrees), date, recorder: separated by commas.
    people
        Frame as in columns.PEOPLE, to recognise the recorder.
    checklist
        The area's checklist as read_checklist gives it, to recognise synonyms.

    Returns
    -------
    pandas.DataFrame
        One row as columns.FINDINGS, with record_id 0; reasons are given however ordinary it is. ``among`` is how many
        accepted records with a place it was held against, ``as_odd`` how many of them are as odd (itself, where it is
        one), ``remarks`` what is to be known about the judging, one sentence a line.

    Raises
    ------
    GapmapError
        The text names no recorded species, no place or one too wide, or nothing at all is known to hold it against.
    """
    if not len(known.evidence.x):
        do = "see what gapmap check says of the files"
        raise GapmapError("There is no record with a place to hold this one against", found=text, do=do)
    record, not_known = read_one_record(text, known, people, checklist)
    wider = known.with_record(record)
    row = np.array([wider.evidence.last_or_its_like()])
    if not np.isfinite(wider.evidence.x[row[0]]):
        do = "give it as a reference of 10 km or finer"
        raise GapmapError("The place is too wide to say how odd the record is there", found=text, do=do)
    measures, repairs = wider.explain(wider.measure(row), row, row)
    judged = wider.ranked(wider.judge(measures, row), row)
    is_filed = bool(wider.evidence.is_filed(row)[0])
    remarks = [
        *([ALREADY_THERE] if is_filed else []),
        *([NOT_KNOWN.format(not_known)] if not_known else []),
        *([NO_DATE] if record["date_kind"] == "unknown" and not is_filed else []),
    ]
    return tell(wider, judged, repairs, row, None, least=0.0).assign(
        among=int(known.evidence.bears_witness.sum()),
        as_odd=max(wider.as_odd(judged)[0], int(wider.evidence.bears_witness[row[0]])),
        remarks="\n".join(remarks),
    )
