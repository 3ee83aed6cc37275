"""Is as much found, when and how, as the records say? Against the truth of the invented islands, luck averaged out.

    python tests/benchmarks/detection_truth.py

For each island: what a visit finds at dusk and at night, and in each month, against a visit by day or in the mean
month (all volunteers, squares and species together); what is found by each method against by hand, for species whose
usual method it is and for the others, beside the plain rule (share of lists with it, drawn to the average); whether
the method that is named best is the best; and of one day in a good month in every square what is said and what is true.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from island_truth import METHODS, chances
from isles import ISLANDS, Isle, make_isle

from gapmap.expected.methods import find_methods
from gapmap.expected.ratios import CAUTION
from gapmap.visits.outlook import conditions_of, look_out, skills_of
from gapmap.visits.rules import read_rules

Numbers = npt.NDArray[np.float64]
#: April, May, June, September and October; finds from which a species' methods are compared.
GOOD_MONTHS, FEWEST, SURE = (4, 5, 6, 9, 10), 6, 30


def main() -> None:
    """Print the comparisons, island by island."""
    for seed in ISLANDS:
        isle = make_isle(seed)
        chance = chances(isle.fauna, isle.people, isle.squares)
        print(f"island {seed}")
        times(isle, chance)
        methods(isle)
        one_day(isle, chance)


def known_names(isle: Isle) -> npt.NDArray[np.int64]:
    """Position in the truth of each species of the model; every name of the checklist is there."""
    names = isle.counted.records.species.set_index("species_id")["name"]
    return pd.Index(isle.fauna.species["name"]).get_indexer(names.reindex(isle.told.model.evidence.species))


def times(isle: Isle, chance: npt.NDArray[np.float32]) -> None:
    """Hours against the day, months against their mean."""
    evidence, at = isle.told.model.evidence, known_names(isle)
    true = chance.sum(axis=(0, 1), dtype=np.float64)[:, :, at]
    said = evidence.outings.reshape(13, 4, -1)[1:, 1:] * true[:, 0].mean(axis=0)
    for words, part in (("said", said), ("true", true)):
        by_hour, by_month = part.sum(axis=(0, 2)), part[:, 0].sum(axis=1)
        months = (by_month / by_month.mean()).round(2).tolist()
        print(f"  {words}: dusk {by_hour[1] / by_hour[0]:.2f}, night {by_hour[2] / by_hour[0]:.2f}; months {months}")


def methods(isle: Isle) -> None:
    """Each method against the hand, and how often the best is named."""
    lists, finds = isle.counted.lists_and_finds()
    species = isle.counted.records.species
    species = species[species["counts"]].reset_index(drop=True)
    told = find_methods(lists, finds, species)
    names = [name for name in METHODS if name in told.names]
    rows = [told.names.index(name) for name in names]
    at = pd.Index(isle.fauna.species["name"]).get_indexer(species["name"])
    found, made, share = (part[rows][:, at >= 0] for part in (told.finds, told.lists, told.share))
    true = isle.fauna.by_method[at[at >= 0]].T[[METHODS.index(name) for name in names]]
    rate = found.sum(axis=0) / np.maximum(made.sum(axis=0), 1)
    plain = (found + CAUTION) / (made * rate + CAUTION)
    for words, guess in (("said", share), ("plain rule", plain)):
        best, kinds = guess.argmax(axis=0), np.arange(found.shape[1])
        sure = (found.sum(axis=0) >= FEWEST) & (found[best, kinds] >= 3)
        right, strength = (true.argmax(axis=0) == best)[sure].mean(), true[best, kinds][sure].mean()
        print(
            f"  best method by the {words}: right for {right:.0%} of {sure.sum()} species; finds {strength:.2f} of it"
        )
    hand = names.index("hand search")
    for row, name in enumerate(names):
        for words, mine in (("usual", true[row] == 1), ("other", true[row] < 1)):
            chosen = mine & (found.sum(axis=0) >= SURE)
            if row != hand and chosen.sum() >= 3:
                said, simple, really = (_middle(part[row] / part[hand], chosen) for part in (share, plain, true))
                print(f"    {name}, {words}: said {said:.2f}, plain rule {simple:.2f}, true {really:.2f}")


def _middle(ratio: Numbers, chosen: npt.NDArray[np.bool_]) -> float:
    return float(np.exp(np.log(ratio[chosen]).mean()))


def one_day(isle: Isle, chance: npt.NDArray[np.float32]) -> None:
    """A day in every square by the average volunteer: said over true, new and again, by what naming takes."""
    told, settings = isle.told, isle.source.settings
    rules, _ = read_rules(settings.visits, settings.area, isle.squares)
    by_day = [c for c in conditions_of(isle.people) if c.time_of_day == "day" and c.month in GOOD_MONTHS]
    outlook = look_out(told, isle.counted.standing, rules, settings, by_day)
    skills = skills_of(isle.people, told, isle.counted.records.species, settings.visits).mean(axis=0)
    parts = outlook.parts * outlook.prospects.detect.mean(axis=0) * skills
    at, open_to = known_names(isle), isle.open_to.any(axis=0)
    said = parts.reshape(len(parts), 2, -1).sum(axis=1)[open_to]
    months = [month - 1 for month in GOOD_MONTHS]
    true = (chance[:, :, months, 0].mean(axis=(0, 2)) * isle.worth)[open_to][:, at]
    again, open_pair = outlook.again[open_to], outlook.chance[open_to] > 0
    for words, pairs in (("new", open_pair & ~again), ("again", open_pair & again)):
        print(f"  a day in every square, {words}: said {said[pairs].sum():.0f}, true {true[pairs].sum():.0f}")
    takes = isle.fauna.species["identify"].to_numpy()[at]
    shares = {word: (said[:, takes == word].sum() / true[:, takes == word].sum()).round(2) for word in np.unique(takes)}
    print(f"    said over true by what naming takes: {shares}")


if __name__ == "__main__":
    main()
