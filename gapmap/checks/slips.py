"""What single slip of the pen would make a record's place ordinary?

Every place one slip away is tried. Those with something to say for them (the rest of the list, the rows beside it, the
recorder's usual ground, the species itself) are measured, and scored by how much more ordinary the record would be
there and how common such a slip is. The best are offered as questions; nothing is mended by machine.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence, Trial
from gapmap.checks.odds import Odds, place_measures, places_of, tried
from gapmap.checks.transforms import KINDS, Places, repairs

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: How many repairs of a record are offered.
OFFERED = 3
#: Repairs of a record that are measured in full, those with most to say for them at first sight.
MEASURED = 10
#: Side in metres of the squares in which a first look is taken for the species and for the same people.
_NEAR_M = 2_000
_GROUND_M = 10_000
_ROWS_AT_ONCE = 4_000
#: How much measures that the odds set aside still count when repairs of one record are compared.
_TIE_BREAK = 0.25


class FirstLook:
    """Quick answers about a place: is the species in its square, have the same people been in its hectad?"""

    def __init__(self, evidence: Evidence) -> None:
        kept = evidence.bears_witness
        x, y = evidence.x[kept], evidence.y[kept]
        self.species = np.unique(_keys(x, y, _NEAR_M, evidence.species[kept]))
        self.people = np.unique(_keys(x, y, _GROUND_M, evidence.people[kept]))
        self.anything = np.unique(_keys(x, y, _NEAR_M, np.zeros(int(kept.sum()), np.int64)))

    def promise(self, evidence: Evidence, trial: Trial) -> Number:
        """What speaks for each place at first sight; minus infinity where nothing has ever been recorded near it."""
        beside = evidence.rows_beside(trial)[:, 0]
        people = evidence.people[trial.row]
        in_use = _among(self.anything, _keys(trial.x, trial.y, _NEAR_M, np.zeros_like(people)))
        promise = 3.0 * (evidence.listed_with(trial) > 0) + 3.0 * (beside <= 2_000) + 1.5 * (beside <= 10_000)
        promise += 1.5 * _among(self.species, _keys(trial.x, trial.y, _NEAR_M, trial.species))
        promise += 2.0 * ((people > 0) & _among(self.people, _keys(trial.x, trial.y, _GROUND_M, people)))
        return np.where(in_use | (beside <= 2_000), promise, -np.inf)


def repairs_of(
    evidence: Evidence,
    odds: Odds | None,
    squares: npt.NDArray[np.int64],
    look: FirstLook,
    rows: Whole,
) -> pd.DataFrame:
    """Places one slip away from the chosen records, the likeliest first.

    Parameters
    ----------
    evidence
        The records laid out.
    odds
        Learned odds; without them nothing is offered.
    squares
        Hundred-kilometre squares that letters may be meant for, shape (m, 3).
    look
        First look at places.
    rows
        Shape (n,): rows of the evidence.

    Returns
    -------
    pandas.DataFrame
        At most OFFERED rows a record: ``row``, ``kind`` (of transforms.KINDS), ``gain`` (natural log of how many times
        likelier the record is with this slip than without), ``system``, ``easting``, ``northing``, ``precision_m``,
        ``is_point`` of the repair, and the measures of place there.
    """
    laid = rows[np.isfinite(evidence.x[rows])]
    if odds is None or not len(laid):
        return _none()
    parts = [
        _best(evidence, odds, squares, look, laid[start : start + _ROWS_AT_ONCE])
        for start in range(0, len(laid), _ROWS_AT_ONCE)
    ]
    return pd.concat(parts, ignore_index=True)


def _best(evidence: Evidence, odds: Odds, squares: npt.NDArray[np.int64], look: FirstLook, rows: Whole) -> pd.DataFrame:
    frame, places = _promising(evidence, look, rows, repairs(places_of(evidence, rows), squares))
    if not len(frame):
        return _none()
    measures = place_measures(evidence, tried(evidence, places))
    now = _odds(odds, place_measures(evidence, evidence.as_they_stand(rows)))
    as_it_is = pd.Series(now, index=rows).reindex(places.row).to_numpy(float)
    frame = frame.assign(gain=as_it_is - _odds(odds, measures) + frame["log_share"])
    found = pd.concat([frame, measures], axis=1).sort_values(["row", "gain"], ascending=[True, False], kind="stable")
    found = found.drop_duplicates(["row", "system", "easting", "northing", "precision_m"])
    return found.groupby("row").head(OFFERED).drop(columns="log_share")


def _promising(
    evidence: Evidence,
    look: FirstLook,
    rows: Whole,
    ways: Iterator[tuple[str, Places]],
) -> tuple[pd.DataFrame, Places]:
    """The ways with most promise, MEASURED a record, as a frame and as places."""
    tries = [(kind, places) for kind, places in ways if len(places.row)]
    if not tries:
        return _none(), places_of(evidence, rows[:0])
    joined = Places(
        *(
            np.concatenate([getattr(places, name) for _, places in tries])
            for name in ("row", "system", "easting", "northing", "precision_m", "is_point")
        )
    )
    kinds = np.concatenate([np.full(len(places.row), list(KINDS).index(kind)) for kind, places in tries])
    position = np.argsort(rows)[np.searchsorted(rows, joined.row, sorter=np.argsort(rows))]
    log_share = _log_shares(kinds, position, len(rows))
    promise = look.promise(evidence, tried(evidence, joined))
    good = np.flatnonzero(promise > 0)
    joined = joined.at(good)
    frame = pd.DataFrame(
        {name: getattr(joined, name) for name in ("row", "system", "easting", "northing", "precision_m", "is_point")}
    )
    frame = frame.assign(kind=np.array(list(KINDS), dtype=object)[kinds[good]], log_share=log_share[good])
    order = (frame["log_share"] + promise[good]).sort_values(ascending=False, kind="stable").index
    chosen = np.sort(frame.loc[order].groupby("row").head(MEASURED).index.to_numpy())
    return frame.loc[chosen].reset_index(drop=True), joined.at(chosen)


def _log_shares(kinds: Whole, position: Whole, records: int) -> Number:
    """Log of how common each slip is: the share of its kind, spread evenly over a record's ways of making it."""
    shares = np.array([share for share, _ in KINDS.values()])
    pair = position * len(KINDS) + kinds
    ways = np.bincount(pair, minlength=records * len(KINDS))
    answer: Number = np.log(shares[kinds] / ways[pair])
    return answer


def _odds(odds: Odds, measures: pd.DataFrame) -> Number:
    return odds.of(measures) + _TIE_BREAK * odds.plain(measures)


def _none() -> pd.DataFrame:
    whole = ("row", "system", "easting", "northing", "precision_m")
    return pd.DataFrame({name: pd.Series(dtype="int64") for name in whole}).assign(kind="", gain=0.0, is_point=False)


def _keys(x: Number, y: Number, side: int, layer: Whole) -> Whole:
    east = (np.nan_to_num(x, nan=-9e7) // side).astype(np.int64) + 100_000
    north = (np.nan_to_num(y, nan=-9e7) // side).astype(np.int64) + 100_000
    return (layer * 400_000 + east) * 400_000 + north


def _among(ordered: Whole, keys: Whole) -> npt.NDArray[np.bool_]:
    if not len(ordered):
        return np.zeros(len(keys), bool)
    at = np.minimum(np.searchsorted(ordered, keys), len(ordered) - 1)
    same: npt.NDArray[np.bool_] = ordered[at] == keys
    return same
