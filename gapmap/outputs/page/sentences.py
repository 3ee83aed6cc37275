"""Texts that are alike but for their numbers: the different sentences once, and the numbers beside them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.outputs.page.planes import Whole

#: Stands in a sentence for a whole number lifted out of it; taken out of every text that comes in.
HOLE = "\x01"
#: Stands around the name of the column whose number belongs in a sentence; taken out of every text too.
BESIDE = "\x02"
_NUMBER = re.compile(r"0|[1-9][0-9]{0,7}")
_CONTROL = re.compile(r"[\x00-\x09\x0b-\x1f\x7f]")


def clean(text: str) -> str:
    """Text without control characters (a line break stays) and without halves of characters."""
    return _CONTROL.sub(" ", text).encode("utf-8", "replace").decode("utf-8")


def texts_to_sentences(
    texts: Sequence[str] | pd.Series, beside: Mapping[str, Whole] | None = None
) -> tuple[list[str], Whole, Whole]:
    """Lift the whole numbers out of texts.

    A number that stands in another column anyway is not kept a second time: the sentence names the column.

    Parameters
    ----------
    texts
        Texts (n,).
    beside
        Columns (n,) of whole numbers that the page has anyway, by name.

    Returns
    -------
    list of str, array, array
        The different sentences with their holes; the sentence (n,) of each text; the numbers (n, most holes) of each
        in the order of its holes, 0 after the last.

    Examples
    --------
    >>> forms, form, numbers = texts_to_sentences(["5 of 12", "7 of 12", ""])
    >>> [text.replace(HOLE, "_") for text in forms], form.tolist(), numbers.tolist()
    (['_ of _', ''], [0, 0, 1], [[5, 12], [7, 12], [0, 0]])
    """
    said = pd.Series(texts, dtype=None if len(texts) else "str")
    # Up to pandas 2 a zero ends a text when texts are compared.
    codes, different = pd.factorize(said.str.replace("\0", " ", regex=False), use_na_sentinel=False)
    cleaned = ["" if pd.isna(text) else clean(str(text)) for text in different]
    form_of, forms = pd.factorize(np.array([_NUMBER.sub(HOLE, text) for text in cleaned], dtype=object))
    lifted = [_NUMBER.findall(text) for text in cleaned]
    table = np.zeros((len(lifted), max(map(len, lifted), default=0)), dtype=np.int64)
    for row, digits in enumerate(lifted):
        table[row, : len(digits)] = [int(each) for each in digits]
    sentences, form, numbers = [str(text) for text in forms], form_of[codes].astype(np.int64), table[codes]
    return _name_columns(sentences, form, numbers, beside) if beside else (sentences, form, numbers)


def _name_columns(
    forms: list[str], form: Whole, numbers: Whole, beside: Mapping[str, Whole]
) -> tuple[list[str], Whole, Whole]:
    """Name a column in place of each number that stands in it; the numbers that are left are kept."""
    named: dict[str, int] = {}
    form, numbers = form.copy(), numbers.copy()
    for code, text in enumerate(forms):
        rows = np.flatnonzero(form == code)
        pieces = text.split(HOLE)
        found = [_column_of(numbers[rows, hole], rows, beside) for hole in range(len(pieces) - 1)]
        fits = np.stack([fit for _, fit in found], axis=1) if found else np.zeros((rows.size, 0), dtype=bool)
        for fit in np.unique(fits, axis=0):
            alike = rows[(fits == fit).all(axis=1)]
            marks = [f"{BESIDE}{name}{BESIDE}" if is_there else HOLE
                     for (name, _), is_there in zip(found, fit, strict=True)]
            told = pieces[0] + "".join(mark + rest for mark, rest in zip(marks, pieces[1:], strict=True))
            form[alike] = -1 - named.setdefault(told, len(named))
            left = numbers[np.ix_(alike, np.flatnonzero(~fit))]
            numbers[alike] = 0
            numbers[alike, : left.shape[1]] = left
    holes = max((text.count(HOLE) for text in named), default=0)
    return list(named), -1 - form, numbers[:, :holes]


def _column_of(values: Whole, rows: Whole, beside: Mapping[str, Whole]) -> tuple[str, npt.NDArray[np.bool_]]:
    """The column that holds most of these numbers, and where it does; none that holds fewer than half of them."""
    fits = {name: column[rows] == values for name, column in beside.items()}
    name = max(fits, key=lambda each: int(fits[each].sum()))
    return name, fits[name] & (2 * int(fits[name].sum()) >= len(rows))
