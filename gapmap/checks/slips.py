"""What single slip of the pen would make a record's place ordinary?

Every place one slip away is tried. Those with something to say for them (the rest of the list, the rows beside it, the
recorder's usual ground, the species itself) are measured, and scored by how much more ordinary the record would be
there and how common such a slip is. The best are offered as questions; nothing is mended by machine.

That some slip would explain a record says little by itself: thirty-six places are one digit away, and one of them is
often a good one. How much it says is learned for each kind of slip by itself, from records moved on purpose beside
records left alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.evidence import Evidence, Trial
from gapmap.checks.odds import Odds, place_measures, tried, ways_of
from gapmap.checks.transforms import KINDS, Places

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: How many repairs of a record are offered.
OFFERED = 3
#: Repairs of a record that are measured in full, those with most to say for them at first sight.
MEASURED = 10
#: Side in metres of the squares in which a first look is taken for the species and for the same people.
_NEAR_M = 2_000
_GROUND_M = 10_000
_ROWS_AT_ONCE = 1_000
_CORES = 2
_ACROSS = 400_000  # squares of the first look from one end of the plane to the other
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
        self.around = np.unique([self.anything + east * _ACROSS + north for east in (-1, 0, 1) for north in (-1, 0, 1)])

    def promise(self, evidence: Evidence, trial: Trial) -> Number:
        """What speaks for each place at first sight; minus infinity where nothing has ever been recorded near it.

        The points are our judgement: they only choose which places are measured in full.
        """
        keys = _keys(trial.x, trial.y, _NEAR_M, np.zeros(len(trial.row), np.int64))
        near = np.flatnonzero(_among(self.around, keys))
        beside = evidence.rows_beside(trial.at(near))[:, 0]
        worth = _among(self.anything, keys[near]) | (beside <= _NEAR_M)
        good, beside = near[worth], beside[worth]
        promise, some = np.full(len(trial.row), -np.inf), trial.at(good)
        people = evidence.people[some.row]
        points = 3.0 * (evidence.listed_with(some) > 0) + 3.0 * (beside <= 2_000) + 1.5 * (beside <= 10_000)
        points += 1.5 * _among(self.species, _keys(some.x, some.y, _NEAR_M, some.species))
        points += 2.0 * ((people > 0) & _among(self.people, _keys(some.x, some.y, _GROUND_M, people)))
        promise[good] = points
        return promise


@dataclass(frozen=True)
class Search:
    """What is needed to look for repairs.

    Parameters
    ----------
    evidence
        The records laid out.
    odds
        Learned odds that a place is a slip.
    squares
        Hundred-kilometre squares that letters may be meant for, shape (m, 3).
    look
        First look at places.
    """

    evidence: Evidence
    odds: Odds
    squares: npt.NDArray[np.int64]
    look: FirstLook

    def repairs(self, places: Places) -> pd.DataFrame:
        """Places one slip away from the given ones that were worth measuring.

        Parameters
        ----------
        places
            Positions of records, each record at most once; those that are not laid on the plane are passed over.

        Returns
        -------
        pandas.DataFrame
            At most MEASURED rows a record, the likeliest first: ``row``, ``kind`` (of transforms.KINDS), ``gain``
            (natural log of how many times likelier the record is with this slip than without), ``worth`` (the same
            without the part of the place as written), ``system``, ``easting``, ``northing``, ``precision_m``,
            ``is_point`` of the repair, and the measures of place there.
        """
        laid = places.at(np.isfinite(self.evidence.x[places.row]))
        starts = range(0, len(laid.row), _ROWS_AT_ONCE)
        chunks = [laid.at(np.arange(start, min(start + _ROWS_AT_ONCE, len(laid.row)))) for start in starts]
        with ThreadPoolExecutor(_CORES) as pool:
            parts = list(pool.map(self._repairs, chunks))
        return pd.concat(parts, ignore_index=True) if parts else no_repairs()

    def _repairs(self, places: Places) -> pd.DataFrame:
        evidence = self.evidence
        frame, there = _promising(evidence, self.look, places, ways_of(evidence, places, self.squares))
        if not len(frame):
            return no_repairs()
        measures = place_measures(evidence, tried(evidence, there))
        now = place_measures(evidence, tried(evidence, places))
        as_it_is = pd.Series(self._odds(now), index=places.row).reindex(there.row).to_numpy(float)
        frame = frame.assign(
            gain=as_it_is - self._odds(measures) + frame["log_share"],
            worth=frame["log_share"] - self.odds.of(measures),
        )
        found = pd.concat([frame, measures], axis=1).sort_values(
            ["row", "gain"], ascending=[True, False], kind="stable"
        )
        return found.drop_duplicates(["row", "system", "easting", "northing", "precision_m"]).drop(columns="log_share")

    def _odds(self, measures: pd.DataFrame) -> Number:
        return self.odds.of(measures) + _TIE_BREAK * self.odds.plain(measures)


def offered(found: pd.DataFrame) -> pd.DataFrame:
    """The OFFERED likeliest repairs of each record."""
    return found.groupby("row").head(OFFERED)


@dataclass(frozen=True)
class Explained:
    """Natural log of how many times likelier a record is as a slip of some kind than as it stands.

    Parameters
    ----------
    kinds
        Kinds of slip that are weighed together: those of which many examples were drawn stand alone.
    odds
        For each, the odds from ``here`` (odds of the place as written) and ``with_slip`` (plus the worth of the best
        repair), with what the number of examples adds to them taken out.
    share
        For each, the share among slips.
    slips
        Share of slips among all records, as it was estimated.
    """

    kinds: tuple[tuple[str, ...], ...]
    odds: tuple[Odds, ...]
    share: tuple[float, ...]
    slips: float

    def is_likely(self, weighed: Number) -> npt.NDArray[np.bool_]:
        """Whether records that ``of`` weighed so are likelier slips than not."""
        likely: npt.NDArray[np.bool_] = weighed + np.log(self.slips / (1 - self.slips)) > 0
        return likely

    def of(self, rows: Whole, here: Number, found: pd.DataFrame) -> Number:
        """Weigh records (shape (n,), with the odds of their places as written) by the repairs found for them."""
        parts = [
            np.log(share) + odds.of(with_slip(rows, here, found, kinds))
            for kinds, odds, share in zip(self.kinds, self.odds, self.share, strict=True)
        ]
        whole: Number = np.logaddexp.reduce(parts, axis=0)
        return whole


def with_slip(rows: Whole, here: Number, found: pd.DataFrame, kinds: tuple[str, ...]) -> pd.DataFrame:
    worth = found.loc[found["kind"].isin(kinds)].groupby("row")["worth"].max().reindex(rows).to_numpy(float)
    return pd.DataFrame({"here": here, "with_slip": here + worth})


def _promising(
    evidence: Evidence,
    look: FirstLook,
    places: Places,
    ways: Iterator[tuple[str, Places]],
) -> tuple[pd.DataFrame, Places]:
    """The ways with most promise, MEASURED a record, as a frame and as places."""
    rows = places.row
    tries = [(kind, there) for kind, there in ways if len(there.row)]
    if not tries:
        return no_repairs(), places.at(rows[:0])
    joined = Places(
        *(
            np.concatenate([getattr(there, name) for _, there in tries])
            for name in ("row", "system", "easting", "northing", "precision_m", "is_point")
        )
    )
    kinds = np.concatenate([np.full(len(there.row), list(KINDS).index(kind)) for kind, there in tries])
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


def no_repairs() -> pd.DataFrame:
    """A frame as from Search.repairs without a row."""
    whole = ("row", "system", "easting", "northing", "precision_m")
    return pd.DataFrame({name: pd.Series(dtype="int64") for name in whole}).assign(
        kind="", gain=0.0, worth=0.0, is_point=False
    )


def _keys(x: Number, y: Number, side: int, layer: Whole) -> Whole:
    east = (np.nan_to_num(x, nan=-9e7) // side).astype(np.int64) + 100_000
    north = (np.nan_to_num(y, nan=-9e7) // side).astype(np.int64) + 100_000
    return (layer * _ACROSS + east) * _ACROSS + north


def _among(ordered: Whole, keys: Whole) -> npt.NDArray[np.bool_]:
    if not len(ordered):
        return np.zeros(len(keys), bool)
    at = np.minimum(np.searchsorted(ordered, keys), len(ordered) - 1)
    same: npt.NDArray[np.bool_] = ordered[at] == keys
    return same
