"""The plan of a season, from people and prospects to the visits, their targets, and how good the plan is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.columns import VISITS
from gapmap.expected.model import Expectation
from gapmap.grid.references import squares_to_references
from gapmap.grid.systems import System
from gapmap.settings import Settings, VisitsSection
from gapmap.visits.agreed import Visit, read_agreed, settle
from gapmap.visits.bound import upper_bound
from gapmap.visits.days import give_days
from gapmap.visits.exact import best_plan
from gapmap.visits.meetings import Meeting, plan_meeting
from gapmap.visits.outlook import conditions_of, look_out, skills_of
from gapmap.visits.people import (
    busy_or_not,
    by_volunteer,
    coming,
    season_year,
    strange_groups,
    strange_methods,
    without_reach,
    without_season,
)
from gapmap.visits.plan import plan
from gapmap.visits.prospects import Parties, Prospects, make_parties
from gapmap.visits.rules import Rules, read_rules
from gapmap.visits.targets import tabulate, targets_of
from gapmap.visits.travel import middles, straight_lines, travel_from_table
from gapmap.visits.volunteers import Volunteer
from gapmap.visits.words import close_to_best

Numbers = npt.NDArray[np.float64]
Progress = Callable[[float, str], None]
#: Visits allowed by the rules up to which the exact answer is sought; beyond, the bound alone says how good it is.
_MOST_FOR_EXACT = 60_000


@dataclass(frozen=True)
class Season:
    """A season of field days.

    Parameters
    ----------
    visits
        As in columns.VISITS, in date order, with ``kind`` (planned, agreed, meeting), ``meeting`` (its number, 0 for
        none), ``people`` (how many), ``new`` and ``again`` (species × squares expected for the first time there, and
        found again) and ``near`` (whether the square is near a threshold).
    targets
        A target on a visit, in order: ``visit_id, species_id, chance`` (that it lives there and is still to find),
        ``chance_then`` (that this visit is the one to find it) and the columns of columns.EXPECTED that say how.
    people
        What it asks of everybody, see :func:`gapmap.visits.people.by_volunteer`.
    meetings
        Field meetings: number, base (packed), day.
    sentences
        Everything that could not be planned, a sentence each.
    closeness
        How close to the best possible the plan is, in a sentence.
    share
        The same as a number: value of the planned part over the bound; 1 when there was nothing to plan.
    year
        Year of the season.
    """

    visits: pd.DataFrame
    targets: pd.DataFrame
    people: pd.DataFrame
    meetings: tuple[Meeting, ...]
    sentences: tuple[str, ...]
    closeness: str
    share: float
    year: int


def plan_season(
    told: Expectation,
    standing: pd.DataFrame,
    species: pd.DataFrame,
    settings: Settings,
    system: System,
    volunteers: Sequence[Volunteer],
    *,
    today: date,
    agreed: Path | None = None,
    meetings: Sequence[str] = (),
    travel_table: Path | None = None,
    progress: Progress | None = None,
) -> Season:
    """Plan who goes where and when.

    Parameters
    ----------
    told
        What is expected where.
    standing, species
        As in columns.STANDING and columns.SPECIES.
    settings
        The area file; its section [visits] holds the rules and weights.
    system
        Grid system of the map.
    volunteers
        Those who can be planned for.
    today
        Nothing is planned before it.
    agreed
        A file of visits that stay, see :func:`gapmap.visits.agreed.read_agreed`.
    meetings
        A field meeting for each: a day, a month, or "" for whenever it gains most.
    travel_table
        The user's own travel times.
    progress
        Called with a fraction and a sentence.

    Returns
    -------
    Season
        The same for the same arguments.
    """
    tell = progress or (lambda fraction, sentence: None)
    section, squares = settings.visits, told.model.evidence.squares
    rules, sentences = read_rules(section, settings.area, squares)
    year = season_year(volunteers, section.year, today)
    people, idle = coming(volunteers, year, today)
    kept, refused = _agreed(agreed, people, squares, settings, rules, year, today)
    outlook = look_out(told, standing, rules, settings, conditions_of(people, [v.condition for v in kept]))
    skills = skills_of(people, told, species, section)
    travel = straight_lines(people, squares, system)
    if travel_table is not None:
        travel, unused = travel_from_table(travel_table, people, squares, travel, settings.area)
        sentences += unused
    travel = _by_the_tide(travel, people, squares, rules)
    tell(0.2, "settling what is agreed")
    prospects, left = settle(outlook.prospects, people, skills, kept)
    met, prospects, left, unmet = _meet(meetings, year, today, prospects, left, skills, travel, system, section)
    tell(0.4, "weighing visits")
    parties = make_parties(left, skills, travel, prospects)
    settled = [*kept, *(visit for meeting in met for visit in meeting.visits)]
    planned, share, closeness = _best(prospects, parties, section, len(settled))
    visits = [*settled, *planned]
    tell(0.8, "giving days")
    visits, undated = give_days(visits, people, year, today)
    frame, order = tabulate(visits, people, outlook, skills, travel, standing, settings)
    found = targets_of(order, outlook, skills, told, section.targets)
    sentences += [*idle, *strange_groups(people, species), *strange_methods(people, told.table)]
    sentences += [*without_reach(people, travel, outlook.prospects), *refused, *unmet, *undated]
    sentences += [*busy_or_not(people, visits, travel, outlook.prospects), *without_season(told.table)]
    tell(1.0, "planned")
    asked = by_volunteer(order, volunteers, travel)
    return Season(VISITS.check(frame), found, asked, tuple(met), tuple(sentences), closeness, share, year)


def _agreed(
    path: Path | None,
    people: Sequence[Volunteer],
    squares: npt.NDArray[np.int64],
    settings: Settings,
    rules: Rules,
    year: int,
    today: date,
) -> tuple[list[Visit], list[str]]:
    """Visits that stay, but for those that break the area's rules."""
    if path is None:
        return [], []
    visits, sentences = read_agreed(path, people, squares, settings.area, year, today)
    kept = []
    for visit in visits:
        at, then = np.array([visit.square]), [visit.condition]
        names = " and ".join(people[member].name for member in visit.members)
        agreed = f"An agreed visit of {names} to {squares_to_references(at)[0]}"
        if not rules.open_squares(at, then)[0, 0]:
            sentences.append(f"{agreed} goes to a square that is closed then; it was left out.")
        elif len(visit.members) < 2 and rules.two_people(at, then)[0, 0]:
            sentences.append(f"{agreed} is alone where two must go; it was left out.")
        else:
            kept.append(visit)
    return kept, sentences


def _by_the_tide(travel: Numbers, people: Sequence[Volunteer], squares: npt.NDArray[np.int64], rules: Rules) -> Numbers:
    """Travel, infinite to squares under the tides for those who do not go there."""
    dry = np.array([not v.tides for v in people], dtype=bool).reshape(-1, 1)
    return np.where(dry & np.isin(squares, rules.tidal)[None, :], np.inf, travel)


def _meet(
    wanted: Sequence[str],
    year: int,
    today: date,
    prospects: Prospects,
    people: list[Volunteer],
    skills: Numbers,
    travel: Numbers,
    system: System,
    section: VisitsSection,
) -> tuple[list[Meeting], Prospects, list[Volunteer], list[str]]:
    """Plan the field meetings one after the other, each around those before it: a day goes before a month, and a month
    before whenever it gains most.
    """
    met: list[Meeting] = []
    reasons = []
    places = middles(prospects.squares, system)
    for number, when in sorted(enumerate(wanted, start=1), key=lambda asked: -len(asked[1].strip())):
        meeting, reason = plan_meeting(
            number, when, year, prospects, people, skills, travel, places, section, today=today
        )
        if meeting is None:
            reasons.append(reason)
            continue
        met.append(meeting)
        prospects, people = settle(prospects, people, skills, meeting.visits)
    return sorted(met, key=lambda meeting: meeting.number), prospects, people, reasons


def _best(
    prospects: Prospects, parties: Parties, section: VisitsSection, settled: int
) -> tuple[list[Visit], float, str]:
    """The best plan found, how close to the best possible it is, and that in words."""
    cost, most = section.cost_a_km, section.most_per_square
    made = plan(prospects, parties, cost_a_km=cost, most_per_square=most)
    bound = upper_bound(prospects, parties, made, cost_a_km=cost, most_per_square=most)
    proven = False
    if len(prospects.squares) * len(parties.members) * len(prospects.conditions) <= _MOST_FOR_EXACT:
        made, proven = best_plan(prospects, parties, made, bound, cost_a_km=cost, most_per_square=most)
    visits = [
        Visit(parties.members[c.party], int(prospects.squares[c.square]), prospects.conditions[c.condition])
        for c in made.choices
    ]
    highest = made.value if proven else bound.value
    share = made.value / highest if highest > 0 else 1.0
    return visits, share, close_to_best(made.value, highest, len(visits), proven, settled)


__all__ = ["Season", "plan_season"]
