"""Whether a row says that the species was there, or that somebody looked and it was not."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pandas as pd

from gapmap.records.verdicts import FINE, NOT_A_RECORD, Verdict, quoted, verdicts_to_frame

_ABSENT = re.compile(
    r"\W*(?:absen(?:t|ce)|not (?:detected|found|seen|present|recorded)|none|nil|no?|false|0+)\W*", re.IGNORECASE
)


def texts_to_occurrence(texts: Sequence[str]) -> pd.DataFrame:
    """What Darwin Core calls occurrenceStatus: a row that says absent is no record.

    Returns
    -------
    DataFrame
        ``value`` (always empty: a record is a presence) and the verdict, a row a text.

    Examples
    --------
    >>> texts_to_occurrence(["present", "absent", "", "Not detected"])["code"].tolist()
    ['', 'none found', '', 'none found']
    """
    verdicts = [_verdict(str(text)) for text in texts]
    return pd.concat([pd.DataFrame({"value": [""] * len(verdicts)}, dtype="str"), verdicts_to_frame(verdicts)], axis=1)


def _verdict(text: str) -> Verdict:
    if not _ABSENT.fullmatch(text):
        return FINE
    words = f"The row says {quoted(text)}: the species was looked for and not found."
    return Verdict("none found", NOT_A_RECORD, words, "leave the row out, or correct what it says")
