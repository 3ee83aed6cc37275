"""What a resolver says about one value: a fixed code, how serious it is, a sentence and a suggestion."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import pandas as pd

#: The row cannot be a record until somebody mends the cell.
NOT_A_RECORD = "not a record"
#: The row is kept; somebody should look at it.
DOUBT = "doubt"
#: The row is kept; how it was read is worth knowing.
NOTE = "note"

#: Columns that every resolver adds beside what it found.
VERDICT_COLUMNS = ("code", "severity", "sentence", "suggestion")

_RANK = {"": 0, NOTE: 1, DOUBT: 2, NOT_A_RECORD: 3}


class Verdict(NamedTuple):
    """What there is to say about a value; all four empty when there is nothing."""

    code: str = ""
    severity: str = ""
    sentence: str = ""
    suggestion: str = ""


#: Nothing to say.
FINE = Verdict()


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """The most serious of several verdicts, the first one among equals.

    Examples
    --------
    >>> worst([Verdict("a", NOTE), Verdict("b", DOUBT), Verdict("c", DOUBT)]).code
    'b'
    >>> worst([]) == FINE
    True
    """
    return max(verdicts, key=lambda verdict: _RANK[verdict.severity], default=FINE)


def verdicts_to_frame(verdicts: Sequence[Verdict]) -> pd.DataFrame:
    """Verdicts as the four text columns, one row each, in their order.

    Examples
    --------
    >>> verdicts_to_frame([FINE]).columns.tolist()
    ['code', 'severity', 'sentence', 'suggestion']
    >>> len(verdicts_to_frame([]))
    0
    """
    columns = zip(*verdicts, strict=True) if verdicts else ([], [], [], [])
    return pd.DataFrame(
        {name: pd.Series(list(values), dtype="str") for name, values in zip(VERDICT_COLUMNS, columns, strict=True)}
    )


def quoted(text: str, longest: int = 60) -> str:
    """A value as it is shown in a sentence: on one line, shortened, in quotation marks.

    Examples
    --------
    >>> quoted("12 Mai  1998")
    '“12 Mai 1998”'
    """
    one_line = " ".join(str(text).split())
    return f"“{one_line if len(one_line) <= longest else one_line[: longest - 1] + '…'}”"
