"""The sentence behind each standing, made of the square's own numbers."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pandas as pd

from gapmap.coverage.standings import BEGUN, CASUAL, NOT_VISITED, PART, POOR, STALE, UNKNOWN, WELL
from gapmap.settings import ThresholdsSection


def reasons(numbers: pd.DataFrame, thresholds: ThresholdsSection) -> list[str]:
    """Say why each row stands as it does.

    Parameters
    ----------
    numbers
        The columns of a standing, with ``records``, ``undated``, ``surveys``, ``longest_list``, ``usual`` and
        ``on_units`` (species on the visits or lists).
    thresholds
        The thresholds the standing was made with.

    Returns
    -------
    list of str
        One or two sentences a row.
    """
    return [
        " ".join(filter(None, (_SAID[str(row.standing)](row, thresholds), _known(row, thresholds), _units(row))))
        for row in numbers.itertuples(index=False)
    ]


def percent(share: float, short_of: float = 1.0) -> str:
    """A share as a whole percentage, never rounded up to all, nor to a share that it falls short of.

    Examples
    --------
    >>> percent(0.996), percent(1.0), percent(0.004)
    ('99 %', '100 %', '0 %')
    >>> percent(0.746), percent(0.746, short_of=0.75)
    ('75 %', '74 %')
    """
    rounded = math.floor(100 * share + 0.5)
    misses = any(share < limit <= rounded / 100 for limit in (short_of, 1.0))
    return f"{math.floor(100 * share) if misses else rounded} %"


def some(count: float, one: str, many: str = "") -> str:
    """A number with its noun.

    Examples
    --------
    >>> some(1, "visit"), some(3, "visit"), some(2, "species", "species")
    ('1 visit', '3 visits', '2 species')
    """
    return f"{count:.0f} {one if count == 1 else many or one + 's'}"


def side_words(side: int) -> str:
    """A side in metres as people say it.

    Examples
    --------
    >>> side_words(2000), side_words(100)
    ('2 km', '100 m')
    """
    return f"{side // 1000} km" if side >= 1000 else f"{side} m"


def _sampled(row: Any) -> str:
    return some(row.sampled, row.units[:-1])


def _species(count: float) -> str:
    return some(count, "species", "species")


def _not_visited(row: Any, _: ThresholdsSection) -> str:
    return "No record lies in these dates."


def _casual(row: Any, thresholds: ThresholdsSection) -> str:
    found = f"{some(row.records, 'record')} of {_species(row.species)}"
    if row.surveys == 0:
        return f"{found}, and no list of two species or more."
    surveys = some(row.surveys, "list")
    return f"{found}: {surveys} of two species or more, none of {thresholds.survey_list} or more."


def _begun(row: Any, thresholds: ThresholdsSection) -> str:
    if row.sampled < thresholds.enough_visits:
        more = some(thresholds.enough_visits - row.sampled, f"more {row.units[:-1]}")
        return f"{_sampled(row)} found {_species(row.on_units)}; {more} before it can be judged."
    return _judged(row, thresholds)


def _judged(row: Any, thresholds: ThresholdsSection) -> str:
    text = (
        f"{_sampled(row)} found {_species(row.on_units)} of at least {_estimate(row.estimate)} estimated to be there "
        f"({percent(row.share, thresholds.well_share)})"
    )
    if row.visits_needed > 0:
        text += f"; about {some(row.visits_needed, f'more {row.units[:-1]}')} to {percent(thresholds.well_share)}"
    elif thresholds.well_share <= row.share and row.share_low < thresholds.sure_share:
        text += f"; but the data would allow up to {row.estimate_high:.0f}"
    return text + "."


def _estimate(species: float) -> str:
    """A number of species with its tenth, which the share beside it is reckoned with.

    Examples
    --------
    >>> _estimate(12.36), _estimate(24.0)
    ('12.4', '24')
    """
    return f"{species:.1f}".removesuffix(".0")


def _poor(row: Any, thresholds: ThresholdsSection) -> str:
    usual = f"Well covered squares usually have {row.usual:.0f}"
    return f"{_judged(row, thresholds)} {usual}: this one is poor, not a gap."


def _stale(row: Any, thresholds: ThresholdsSection) -> str:
    if row.records == 0:
        return f"{_species(row.known_before)} known from before, and no record in these dates."
    if row.to_refind == row.known_before:
        return f"None of {_species(row.known_before)} known from before found again."
    return f"Only {_refound(row, thresholds)}"


def _unknown(row: Any, thresholds: ThresholdsSection) -> str:
    if row.records == 0:
        return f"{some(row.undated, 'record')} may belong here, but the dates reach beyond these years."
    if row.on_units == 0:
        return f"{_sampled(row)} found nothing that counts as a species: how many there are cannot be estimated."
    found = f"{_sampled(row)} found {_species(row.on_units)}, each only once"
    return f"{found}: how many there are cannot be estimated."


def _known(row: Any, thresholds: ThresholdsSection) -> str:
    """What is known from before, where the standing does not already say it."""
    if row.standing == STALE or row.known_before == 0:
        return ""
    if row.records == 0:
        return f"{_species(row.known_before)} known from before."
    if row.to_refind == 0:
        all_known = "The one species" if row.known_before == 1 else f"All {row.known_before} species"
        return f"{all_known} known from before found again."
    if row.to_refind == row.known_before:
        return f"{_species(row.known_before)} known from before not found again."
    return _refound(row, thresholds)


def _refound(row: Any, thresholds: ThresholdsSection) -> str:
    again, known = row.known_before - row.to_refind, _species(row.known_before)
    share = percent(row.refound_share, thresholds.well_share)
    return f"{again} of {known} known from before found again ({share})."


def _units(row: Any) -> str:
    """What the numbers count, where it is not visits or not all that is known."""
    if row.standing not in _COUNTED_IN_UNITS or row.sampled == 0:
        return ""
    by_lists, more = row.units == "lists", row.species - row.on_units
    said = ["Lists stand in for visits, as most lack their day."] if by_lists else []
    if more > 0:
        lacking = "whose dates are too wide for a list" if by_lists else "that lack their day"
        said.append(f"{some(more, 'more species is', 'more species are')} known from records {lacking}.")
    return " ".join(said)


_COUNTED_IN_UNITS = (BEGUN, PART, WELL, POOR, UNKNOWN)

_SAID: dict[str, Callable[[Any, ThresholdsSection], str]] = {
    NOT_VISITED: _not_visited,
    CASUAL: _casual,
    BEGUN: _begun,
    PART: _judged,
    WELL: _judged,
    POOR: _poor,
    STALE: _stale,
    UNKNOWN: _unknown,
}
