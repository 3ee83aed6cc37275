"""What a planned season would really find: a way to judge plans by the truth."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from island.chance import stream
from island.fauna import Fauna
from island.recorders import RECORDERS
from island.recording import chance_found, find_rates, make_searcher
from island.terrain import CODE_OF


def season_finds(
    fauna: Fauna, plan: pd.DataFrame, seed: int = 0, year: int = 2027, hours: float = 6.0
) -> pd.DataFrame:
    """Walk the visits of a plan on the island.

    Parameters
    ----------
    plan
        One row a visit: easting, northing (metres, south-west corner of the square), side (metres), month (1 to 12),
        time_of_day (day, dusk or night) and volunteer (names of RECORDERS joined by "; "; others see as a keen
        beginner does). A column ``method`` is used where there is one.
    seed
        Another seed, another season.
    year
        The year of the season.
    hours
        Field hours a visit, spread over the monads of the square and their habitats.

    Returns
    -------
    DataFrame
        visit (row of the plan, 0, 1 …) and name: every species found and named, once a visit.
    """
    eyes = _eyes(fauna, {name for names in plan["volunteer"] for name in names.split("; ")})
    rows: list[tuple[int, str]] = []
    names = fauna.species["name"].to_numpy()
    for number, visit in enumerate(plan.itertuples(index=False)):
        generator = stream(
            "season", seed, number, visit.volunteer, visit.easting, visit.northing, visit.month
        )
        party = visit.volunteer.split("; ")
        eye = sum(eyes[name] for name in party) / len(party) ** 0.3  # as on any outing: they share the ground
        inside = _monads_inside(fauna, visit.easting, visit.northing, visit.side)
        grounds = [(monad, habitat) for monad in inside for habitat in _grounds(fauna, monad)]
        grounds = [grounds[i] for i in sorted(generator.permutation(len(grounds))[:6])]
        method = getattr(visit, "method", "") or ("torch" if visit.time_of_day != "day" else "hand search")
        found = np.zeros(len(names), bool)
        for monad, habitat in grounds:
            effort = hours / 1.5 / len(grounds)
            rates = find_rates(
                fauna, monad, habitat, year, visit.month, visit.time_of_day, method, effort, eye
            )
            found |= generator.random(len(names)) < chance_found(rates)
        rows += [(number, name) for name in names[found]]
    return pd.DataFrame(rows, columns=["visit", "name"])


def _eyes(fauna: Fauna, volunteers: set[str]) -> Mapping[str, np.ndarray]:
    known = {recorder.name: recorder for recorder in RECORDERS}
    eyes = {}
    for name in sorted(volunteers):
        recorder = known.get(name, RECORDERS[-1])
        searcher = make_searcher(name, recorder.groups, recorder.skill, fauna.species)
        eyes[name] = searcher.finds * np.where(searcher.names, 1, 0.25)
    return eyes


def _monads_inside(fauna: Fauna, easting: int, northing: int, side: int) -> list[int]:
    east, north = fauna.monads["easting"], fauna.monads["northing"]
    inside = (east >= easting) & (east < easting + side) & (north >= northing) & (north < northing + side)
    return [int(row) for row in np.nonzero(inside.to_numpy())[0]]


def _grounds(fauna: Fauna, monad: int) -> list[int]:
    row = fauna.monads.iloc[monad]
    return [code for name, code in CODE_OF.items() if row[name] > 0.05 and name != "lake"]
