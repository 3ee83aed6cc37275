"""Is a species on the move? Direction and speed of spread, corrected for where people looked.

For each species: how far from the middle of its early records the outermost tenth of a year's records lies, less the
same for all species of that year; the slope over the years (Theil–Sen, with its interval) is the speed.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import theilslopes

from gapmap.checks.evidence import Evidence
from gapmap.checks.spread import Spread

Number = npt.NDArray[np.float64]

#: Records and years without which nothing is said of a species' spread (our judgement).
LEAST_RECORDS, LEAST_YEARS = 60, 8
#: Records of all species that stand for where people looked, at most.
SAMPLE = 20_000
_COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def spreads(evidence: Evidence) -> dict[int, Spread]:
    """Spread of every species with enough records and years; the others are left out."""
    frame = pd.DataFrame({"species": evidence.species, "x": evidence.x, "y": evidence.y, "year": evidence.one_year})
    frame = frame[evidence.bears_witness & np.isfinite(evidence.one_year)].drop_duplicates()
    everything = frame.sample(min(len(frame), SAMPLE), random_state=1)
    by_species = frame.groupby("species")
    found = {}
    for species in np.unique(frame["species"]):
        own = by_species.get_group(species)
        if len(own) >= LEAST_RECORDS and own["year"].nunique() >= LEAST_YEARS:
            found[int(species)] = _spread(own, everything[everything["species"] != species])
    return found


def _spread(own: pd.DataFrame, everything: pd.DataFrame) -> Spread:
    early = own[own["year"] <= own["year"].quantile(0.25)]
    middle = early["x"].median(), early["y"].median()
    edge = _edge(own, middle)
    years = edge.index.intersection(_edge(everything, middle).index)
    ahead = (edge - _edge(everything, middle)).loc[years]
    if len(ahead) < LEAST_YEARS:
        return Spread(0.0, 0.0, 0.0, "")
    slope = theilslopes(ahead.to_numpy(float), ahead.index.to_numpy(float))
    late = own[own["year"] >= own["year"].quantile(0.75)]
    angle = np.degrees(np.arctan2(late["x"].mean() - early["x"].mean(), late["y"].mean() - early["y"].mean())) % 360
    return Spread(float(slope[0]), float(slope[2]), float(slope[3]), _COMPASS[int((angle + 22.5) // 45) % 8])


def _edge(frame: pd.DataFrame, middle: tuple[float, float]) -> pd.Series:
    """Distance within which nine tenths of each year's records lie, for years with at least five."""
    apart = pd.Series(np.hypot(frame["x"] - middle[0], frame["y"] - middle[1]), index=frame.index)
    by_year = apart.groupby(frame["year"])
    return by_year.quantile(0.9)[by_year.size() >= 5]
