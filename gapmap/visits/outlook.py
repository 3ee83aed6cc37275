"""From what is expected to what a season of visits may gain: where, when, and by whom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.coverage.completeness import near_misses
from gapmap.expected.model import Expectation, Model
from gapmap.expected.regression import chance_of
from gapmap.expected.seasons import TIMES
from gapmap.settings import Settings, ThresholdsSection, VisitsSection
from gapmap.visits.prospects import Condition, Prospects
from gapmap.visits.rules import Rules
from gapmap.visits.volunteers import MEANS, Volunteer

Numbers = npt.NDArray[np.float64]
#: Times of day that a visit can be planned for.
TIMES_OF_DAY = TIMES[1:]
#: Where it lives, a species is hard or easy to find: the chance that an ordinary visit finds it, in either case. What
#: lies between is part this, part that; what is harder still counts in part.
HARD, EASY = 0.25, 0.9


@dataclass(frozen=True)
class Outlook:
    """What may be gained, weighed and unweighed.

    Parameters
    ----------
    prospects
        As the planner takes it, with everything weighed; each species stands in it twice, where it is hard to find
        and where it is easy.
    chance
        S × K: chance that the species lives there and is still to find or to find again; unweighed.
    again
        S × K: whether it is to find again rather than new.
    parts
        S × 2K: the chance, hard and easy apart; unweighed.
    """

    prospects: Prospects
    chance: Numbers
    again: npt.NDArray[np.bool_]
    parts: Numbers


def look_out(
    told: Expectation,
    standing: pd.DataFrame,
    rules: Rules,
    settings: Settings,
    conditions: Sequence[Condition],
) -> Outlook:
    """Put the expectation into the arrays of the planner.

    Parameters
    ----------
    told
        What is expected where. A chance that the table cannot say counts at the model's own guess.
    standing
        As in columns.STANDING: squares near a threshold get the extra worth of the settings.
    rules
        Where and when the area lets people go.
    settings
        Weights of the section [visits].
    conditions
        Months and times of day in question.
    """
    weights = settings.visits
    squares, species = told.model.evidence.squares, told.model.evidence.species
    chance, again = _chances(told)
    parts = _by_ease(chance, chance_of(told.model.score_again(weights.lists_a_visit)))
    worth = parts * np.tile(np.where(again, weights.refind_worth, 1.0), 2)
    near = near_squares(standing, settings.thresholds)
    worth *= np.where(np.isin(squares, near), 1.0 + weights.near_worth, 1.0)[:, None]
    return Outlook(
        Prospects(
            squares=squares,
            species_id=np.tile(species, 2),
            worth=worth,
            conditions=tuple(conditions),
            detect=_detections(told.model, conditions),
            open_squares=rules.open_squares(squares, conditions),
            two_people=rules.two_people(squares, conditions),
            agreed=np.zeros(len(squares), dtype=np.int64),
        ),
        chance,
        again,
        parts,
    )


def near_squares(standing: pd.DataFrame, thresholds: ThresholdsSection) -> npt.NDArray[np.int64]:
    """Squares a visit or two from well covered in the last date class."""
    if standing.empty:
        return np.zeros(0, dtype=np.int64)
    rows = near_misses(standing, thresholds)
    near: npt.NDArray[np.int64] = rows.loc[rows["date_class"] == standing["date_class"].max(), "square"].to_numpy(
        np.int64
    )
    return near


def conditions_of(volunteers: Sequence[Volunteer], others: Sequence[Condition] = ()) -> tuple[Condition, ...]:
    """Months and times of day in which somebody gives days, and those of visits agreed already."""
    months = {month for v in volunteers for month, days in v.month_days.items() if days > 0}
    by_day = {Condition(month, "day") for month in months}
    dark = {month for v in volunteers if v.night for month, days in v.month_days.items() if days > 0}
    after = {Condition(month, time) for month in dark for time in ("dusk", "night")}
    return tuple(sorted(by_day | after | set(others), key=lambda c: (c.month, TIMES_OF_DAY.index(c.time_of_day))))


def skills_of(
    volunteers: Sequence[Volunteer], told: Expectation, species: pd.DataFrame, weights: VisitsSection
) -> Numbers:
    """V × 2K: share of what there is to find that each volunteer would find and get named, hard and easy alike.

    A species in a group that the volunteer cannot name, or that takes more than the means at hand, is named by
    others in part; one whose usual method the volunteer does not use is found in part.
    """
    kinds = species.set_index("species_id").reindex(told.model.evidence.species)
    groups = kinds["group"].fillna("").astype(str).str.lower().to_numpy()
    takes = kinds["difficulty"].fillna("").astype(str).str.lower()
    level = takes.map({word: n for n, word in enumerate(MEANS)}).fillna(-1).to_numpy(np.int64)
    methods = told.table.drop_duplicates("species_id").set_index("species_id")["method"]
    method = methods.reindex(told.model.evidence.species).fillna("").astype(str).str.lower().to_numpy()
    skills = np.ones((len(volunteers), len(kinds)))
    for number, volunteer in enumerate(volunteers):
        if volunteer.groups:
            skills[number] *= np.where(np.isin(groups, [*volunteer.groups, ""]), 1.0, weights.other_groups_share)
        if volunteer.means:
            skills[number] *= np.where(level <= MEANS.index(volunteer.means), 1.0, weights.voucher_share)
        if volunteer.methods:
            skills[number] *= np.where(np.isin(method, [*volunteer.methods, ""]), 1.0, weights.other_method_share)
    return np.tile(skills, 2)


def by_species(parts: Numbers) -> Numbers:
    """K: what was told apart by ease put together again."""
    together: Numbers = parts.reshape(2, -1).sum(axis=0)
    return together


def _by_ease(chance: Numbers, found: Numbers) -> Numbers:
    """S × 2K: the chance that it lives there, split so that an ordinary visit finds it with the chance given."""
    detect = np.minimum(found / np.maximum(chance, 1e-9), EASY)
    easy = np.maximum(detect - HARD, 0.0) / (EASY - HARD)
    hard = np.minimum(detect / HARD, 1.0) - easy
    return np.hstack([chance * hard, chance * easy])


def _detections(model: Model, conditions: Sequence[Condition]) -> Numbers:
    """C × 2K: chance that a visit finds a species that is hard, and one that is easy to find, then."""
    cells = np.array([c.month * len(TIMES) + TIMES.index(c.time_of_day) for c in conditions], dtype=np.int64)
    when = model.evidence.outings[cells]
    return np.hstack([1 - (1 - ease) ** when for ease in (HARD, EASY)])


def _chances(told: Expectation) -> tuple[Numbers, npt.NDArray[np.bool_]]:
    evidence = told.model.evidence
    rows = pd.Index(evidence.squares).get_indexer(pd.Index(told.table["square"]))
    columns = pd.Index(evidence.species).get_indexer(pd.Index(told.table["species_id"]))
    chance = np.zeros((len(evidence.squares), len(evidence.species)))
    again = np.zeros(chance.shape, dtype=bool)
    said = told.table["chance"].to_numpy(np.float64)
    guess = told.model.chance_lives()[rows, columns]
    chance[rows, columns] = np.where(np.isnan(said), guess, said)
    again[rows, columns] = told.table["found_before"].to_numpy(np.int64) != 0
    return chance, again
