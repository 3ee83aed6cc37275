"""References whose letters, easting and northing stand in three columns."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from gapmap.columns import NO_SQUARE
from gapmap.records.places.positions import reference_positions
from gapmap.records.verdicts import NOT_A_RECORD, NOTE, VERDICT_COLUMNS, Verdict


def lettered_positions(frame: pd.DataFrame, grid: str, zones: Sequence[str]) -> pd.DataFrame:
    """Positions of references whose letters, easting and northing stand in three columns.

    Parameters
    ----------
    frame
        Text columns letters, easting and northing. Five digits at most count from the corner of the lettered square;
        six or seven count from the grid's own origin, and must agree with the letters.
    grid, zones
        As settings.AreaSection.

    Examples
    --------
    >>> cells = {"letters": ["NT", "NT", "nt"], "easting": ["255", "5", "325500"], "northing": ["706", "706", "670600"]}
    >>> lettered_positions(pd.DataFrame(cells), "", ())[["easting", "northing", "precision_m"]].to_numpy().tolist()
    [[325500, 670600, 100], [300500, 670600, 100], [325500, 670600, 1]]
    """
    digits = {axis: [text.strip().removesuffix(".0") for text in frame[axis]] for axis in ("easting", "northing")}
    texts, widths = [], []
    for letters, east, north in zip(frame["letters"], digits["easting"], digits["northing"], strict=True):
        width = max(len(east), len(north))
        is_plain = (east + north).isdecimal() and bool(east) and bool(north)
        widths.append(width if is_plain else 0)
        pair = east.zfill(width)[-5:] + north.zfill(width)[-5:] if is_plain else f"{east} {north}"
        texts.append(f"{letters.strip()}{pair}".strip())
    found = reference_positions(texts, grid, zones)
    verdicts = {}
    for row, width in enumerate(widths):
        east, north = digits["easting"][row], digits["northing"][row]
        if width > 5 and (int(east), int(north)) != (found["easting"][row], found["northing"][row]):
            words = f"The letters and the numbers of {frame['letters'].iloc[row]} {east} {north} do not agree."
            verdicts[row] = Verdict("reference", NOT_A_RECORD, words, "Ask for the reference again.")
        elif 0 < width <= 5 and len(east) != len(north) and not found["code"][row]:
            words = f"{east} and {north} were read as {texts[row]}: spreadsheets drop a nought in front."
            verdicts[row] = Verdict("nought in front", NOTE, words, "Ask again if that is not what was meant.")
    for place, name in enumerate(VERDICT_COLUMNS):
        found[name] = [verdicts[row][place] if row in verdicts else said for row, said in enumerate(found[name])]
    wrong = found["severity"] == NOT_A_RECORD
    return found.assign(system=found["system"].where(~wrong, NO_SQUARE))
