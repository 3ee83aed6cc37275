"""What is found on a visit, and what of it is written down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from island.chance import stream
from island.fauna import HOURS, METHODS, SKILLS, Fauna
from island.recorders import RECORDERS

_EASE = (
    2.2  # finds of a species of ease 1 an hour and a half's search, on the best ground and in the best month
)
_PATCHY = 0.9  # shape of the chance from visit to visit: below 1 a visit often misses what the next one finds
_DARK_WORK = 0.55  # how much is seen by torch of species active by day


@dataclass(frozen=True)
class Searcher:
    """How well one person finds and names each species: ``finds`` multiplies the chance, ``names`` is yes or no."""

    finds: np.ndarray
    names: np.ndarray


def make_searcher(name: str, groups: Iterable[str], skill: str, species: pd.DataFrame) -> Searcher:
    """A person's eye: some species everybody overlooks at times, some this person hardly ever sees."""
    generator = stream("searcher", name)
    finds = np.exp(0.7 * generator.standard_normal(len(species)) - 0.25)
    finds = np.where(generator.random(len(species)) < 0.12, 0.08 * finds, finds)
    known = species["group"].isin(list(groups)).to_numpy()
    names = needed_skill(species) <= SKILLS.index(skill)
    return Searcher(np.where(known, finds, 0.03 * finds), names)


def needed_skill(species: pd.DataFrame) -> np.ndarray:
    """Position in SKILLS that naming each species takes."""
    return species["identify"].map(SKILLS.index).to_numpy()


def find_rates(
    fauna: Fauna,
    monad: int,
    habitat: int,
    year: int,
    month: int,
    hour: str,
    method: str,
    effort: float,
    eye: np.ndarray,
) -> np.ndarray:
    """Expected finds of every species on one visit, before the luck of the day; 0 where the species does not live.

    The chance to find a species is 1 − (1 + rate/k)^(−k) with k = 0.9: luck is gamma distributed from visit to
    visit, so that detection is heavy-tailed and differs between squares, people and days.
    """
    by_hour = fauna.hour[:, HOURS.index(hour)]
    if method == "pitfall":
        by_hour = np.maximum(by_hour, 0.8)
    elif method == "torch":
        by_hour = np.maximum(by_hour, _DARK_WORK * (1 - by_hour))
    return np.asarray(
        _EASE
        * fauna.ease
        * fauna.abundance[:, monad]
        * fauna.season[:, month - 1]
        * by_hour
        * fauna.by_method[:, METHODS.index(method)]
        * fauna.on_ground(monad, habitat)
        * effort
        * eye
        * fauna.lives_in(monad, year)
    )


def chance_found(rates: np.ndarray) -> np.ndarray:
    """Chance of at least one find, luck included."""
    return 1 - (1 + rates / _PATCHY) ** -_PATCHY


def record_visits(fauna: Fauna, visits: pd.DataFrame) -> pd.DataFrame:
    """Walk every visit and write down what was found.

    Returns
    -------
    DataFrame
        One row a record: visit_id, true_species and species (rows of the species table; they differ where it was
        misnamed), level (species or genus), stage, sex, quantity, evidence, determiner (position in RECORDERS).
    """
    searchers = [make_searcher(r.name, r.groups, r.skill, fauna.species) for r in RECORDERS]
    generator = stream("recording")
    monads = _monad_rows(fauna, visits)
    facts = list(zip(fauna.species["name"], fauna.species["group"], fauna.species["identify"], strict=True))
    rows: list[dict[str, object]] = []
    for visit, monad in zip(visits.itertuples(), monads, strict=True):
        if monad < 0:
            continue
        people = [int(n) for n in str(visit.people).split()]
        eye = sum(searchers[n].finds for n in people) / len(people) ** 0.3
        rates = find_rates(
            fauna,
            monad,
            visit.habitat,
            visit.year,
            visit.month,
            visit.hour,
            visit.method,
            visit.effort,
            np.asarray(eye),
        )
        found = np.nonzero(generator.random(len(rates)) < chance_found(rates))[0]
        named = [
            row
            for row in (_name(facts, int(s), people, visit.year, searchers, generator) for s in found)
            if row
        ]
        if not visit.whole and len(named) > 1:
            keep = min(len(named), 1 + int(generator.poisson(0.35)))
            named = [named[i] for i in sorted(generator.choice(len(named), keep, replace=False))]
        rows += [{"visit_id": visit.visit_id} | row for row in named]
    return pd.DataFrame(rows)


def _monad_rows(fauna: Fauna, visits: pd.DataFrame) -> np.ndarray:
    rows = {
        (e, n): row
        for row, (e, n) in enumerate(zip(fauna.monads["easting"], fauna.monads["northing"], strict=True))
    }
    corners = zip(visits["easting"] // 1000 * 1000, visits["northing"] // 1000 * 1000, strict=True)
    return np.array([rows.get(corner, -1) for corner in corners])


def _name(
    facts: list[tuple[str, str, str]],
    kind: int,
    people: list[int],
    year: int,
    searchers: list[Searcher],
    generator: np.random.Generator,
) -> dict[str, object] | None:
    """What the find is written down as: named in the field, sent to somebody, left at genus, guessed at or nothing."""
    name, group, identify = facts[kind]
    able = [n for n in people if searchers[n].names[kind]]
    row: dict[str, object] = {"true_species": kind, "species": kind, "level": "species"} | _looks(
        group, generator
    )
    if able:
        return row | {"determiner": able[0], "evidence": _evidence(identify, generator)}
    draw = generator.random()
    helpers = [
        n
        for n, r in enumerate(RECORDERS)
        if r.first <= year <= r.last and searchers[n].names[kind] and group in r.groups
    ]
    if draw < 0.22 and helpers:
        return row | {"determiner": int(generator.choice(helpers)), "evidence": "voucher"}
    if draw < 0.30:
        return row | {"determiner": people[0], "evidence": "seen", "level": "genus"}
    if draw < 0.36:
        genus = name.split()[0] + " "
        alike = [i for i, (other, _, _) in enumerate(facts) if other.startswith(genus) and i != kind]
        wrong = alike and generator.random() < 0.3
        return (
            row
            | {"determiner": people[0], "evidence": "seen"}
            | ({"species": int(generator.choice(alike))} if wrong else {})
        )
    return None


def _evidence(identify: str, generator: np.random.Generator) -> str:
    draw = generator.random()
    if identify in ("microscope", "dissection"):
        return identify if draw < 0.6 else "voucher" if draw < 0.85 else ""
    return "photograph" if draw < 0.12 else "seen" if draw < 0.5 else ""


def _looks(group: str, generator: np.random.Generator) -> dict[str, object]:
    draw, count = generator.random(), generator.random()
    sexes = ("male", "female", "both")
    sex = sexes[int(generator.integers(3))] if draw < 0.12 else ""
    stage = "juvenile" if 0.12 <= draw < 0.16 else "adult" if draw < 0.3 else ""
    quantity = (
        int(1 + generator.geometric(0.3 if group != "woodlice" else 0.15))
        if sex == "both"
        else int(generator.geometric(0.35 if group != "woodlice" else 0.2))
    )
    return {"stage": stage, "sex": sex, "quantity": quantity if count < 0.4 or sex == "both" else 0}
