"""How a find was made: the short forms that field notebooks use, written out."""

from __future__ import annotations

import re
from collections.abc import Sequence

import pandas as pd

#: Short forms of methods (common practice, no source). Kept short on purpose: forms that mean different things to
#: different people (MT, SS, VS) are left as they are written.
SHORT_METHODS = {
    "bl": "beating",
    "hs": "hand search",
    "lt": "light trap",
    "mv": "light trap",
    "pf": "pitfall trap",
    "pt": "pitfall trap",
    "sn": "sweep net",
    "sv": "sieving",
    "sw": "sweep net",
}


def texts_to_method(texts: Sequence[str]) -> pd.DataFrame:
    """Methods as people write them, short forms written out; anything else stays as it is.

    Returns
    -------
    DataFrame
        ``value`` and the four columns of a verdict, which is always empty.

    Examples
    --------
    >>> texts_to_method(["hs", "P.T.", "grubbing under bark", ""]).value.tolist()
    ['hand search', 'pitfall trap', 'grubbing under bark', '']
    """
    values = [SHORT_METHODS.get(re.sub(r"[.\s]", "", text).casefold(), text) for text in texts]
    empty = pd.DataFrame("", index=range(len(values)), columns=["code", "severity", "sentence", "suggestion"])
    return pd.concat([pd.DataFrame({"value": pd.Series(values, dtype="str")}), empty.astype("str")], axis=1)
