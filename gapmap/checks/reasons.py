"""In what way a record is odd, in the organiser's words and with the numbers."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.between import OUTSIDE_DEGREES, Between, between, firsts
from gapmap.checks.identification import LEVELS
from gapmap.checks.known import Known
from gapmap.coverage.gaps import MONTHS

Whole = npt.NDArray[np.int64]

#: A way of being odd is put into words from one in this many records on.
WORTH_SAYING = float(np.log(10))
#: Metres from which a record is said to lie apart from its list, its rows or its recorder's ground (our judgement).
APART_M = 5_000


@dataclass(frozen=True)
class _Facts:
    """What the sentences draw on, aligned with the chosen rows."""

    known: Known
    rows: Whole
    judged: list[dict[Hashable, Any]]
    between: Between
    first: dict[str, npt.NDArray[np.bool_]]
    nearest_year: npt.NDArray[np.float64]
    names: dict[int, str]
    usual: dict[int, tuple[float, float]]


def reasons(known: Known, rows: Whole, judged: pd.DataFrame) -> list[str]:
    """Sentences for the chosen records, joined by line breaks; the oddest way first.

    Parameters
    ----------
    known
        Evidence and yardsticks.
    rows
        Shape (n,): rows of the evidence.
    judged
        Their measures as Known.judge gives them.
    """
    evidence, tree = known.evidence, known.evidence.of_species
    node = judged["species_node"].to_numpy(np.int64)
    has = (node >= 0) & bool(len(tree.x))
    at = np.where(has, node, 0)
    nearest = [np.where(has, axis[at] if len(axis) else np.nan, np.nan) for axis in (tree.x, tree.y, tree.year)]
    side = known.settings.area.side_m
    facts = _Facts(
        known,
        rows,
        judged.to_dict("records"),
        between(evidence, rows, nearest[0], nearest[1], side, known.settings.thresholds.enough_visits),
        firsts(evidence, rows, side),
        nearest[2],
        dict(zip(known.species["species_id"], known.species["name"], strict=True)),
        _usual(known, rows),
    )
    return ["\n".join(_sentences(facts, index)) for index in range(len(rows))]


def _usual(known: Known, rows: Whole) -> dict[int, tuple[float, float]]:
    """Metres within which half and nine tenths of a species' records have a neighbour, for the species of the rows."""
    if known.spacing is None:
        return {}
    return {int(species): known.spacing.usual(int(species)) for species in np.unique(known.evidence.species[rows])}


def distance_words(metres: float) -> str:
    """A distance as people say it.

    Examples
    --------
    >>> distance_words(600), distance_words(1414), distance_words(82_300)
    ('600 m', '1.4 km', '82 km')
    """
    if metres < 1000:
        return f"{round(metres, -1):.0f} m"
    return f"{metres / 1000:.1f} km" if metres < 10_000 else f"{metres / 1000:.0f} km"


def _sentences(facts: _Facts, index: int) -> list[str]:
    row = facts.judged[index]
    ways: list[tuple[float, Callable[[_Facts, int], list[str]]]] = [
        (float(row["range_odd"]), _about_range),
        (float(row["slip_odd"]), _about_surroundings),
        (float(row["season_odd"]), _about_season),
        (float(row["hour_odd"]), _about_hour),
        (float(row["habitat_odd"]), _about_habitat),
        (float(row["ground_cover_odd"]), _about_cover),
        (float(row["height_odd"]), _about_height),
        (float(row["identification_odd"]), _about_identification),
        (float(row["year_odd"]), _about_year),
    ]
    said: list[str] = []
    for odd, words in sorted(ways, key=lambda way: -way[0]):
        if odd >= WORTH_SAYING:
            said += words(facts, index)
    return said


def _about_range(facts: _Facts, index: int) -> list[str]:
    row, name = facts.judged[index], _name(facts, index)
    if not np.isfinite(row["nearest_m"]):
        return [f"It is the first record of {name} in the whole area; there is no other to compare it with."]
    half, most = facts.usual[int(facts.known.evidence.species[facts.rows[index]])]
    said = [
        f"The nearest record of {name} on another list is {distance_words(row['nearest_m'])} away"
        f"{_when(facts.nearest_year[index])}; half of its records have another {_within(half)}, "
        f"nine in ten {_within(most)}."
    ]
    if row["others_m"] > row["nearest_m"] + 1000:
        by_others = f"is {distance_words(row['others_m'])} away" if np.isfinite(row["others_m"]) else "does not exist"
        said.append(f"One by other people {by_others}.")
    sector = facts.between.empty_sector[index]
    if sector > OUTSIDE_DEGREES:
        said.append(
            f"It lies outside the known range: {sector:.0f} of the 360 degrees around it hold no record of the species."
        )
    else:
        said.append("It lies in a hole inside the known range.")
    return said + _about_between(facts, index) + _about_first(facts, index) + _about_spread(facts, index)


def _about_between(facts: _Facts, index: int) -> list[str]:
    without, unworked = int(facts.between.worked_without[index]), int(facts.between.unworked[index])
    if not without and not unworked:
        return []
    if not without:
        return [
            f"Nobody has looked much in between ({_squares(unworked)} hardly worked), so that the gap is no evidence."
        ]
    rest = f", {_squares(unworked)} hardly worked" if unworked else ""
    return [f"On the way there {_squares(without)} well worked and without it{rest}."]


def _about_first(facts: _Facts, index: int) -> list[str]:
    for word in ("area", "hectad", "square"):
        if facts.first[word][index]:
            return [f"It is the first for its {word}."]
    return []


def _about_spread(facts: _Facts, index: int) -> list[str]:
    spread = facts.known.moving.get(int(facts.known.evidence.species[facts.rows[index]]))
    if spread is None or not spread.is_expanding:
        return []
    return [
        f"The species is spreading {spread.heading} by about {distance_words(spread.speed)} a year "
        f"(95 % interval {distance_words(spread.low)} to {distance_words(spread.high)}); that has been allowed for."
    ]


def _about_surroundings(facts: _Facts, index: int) -> list[str]:
    row, said = facts.judged[index], []
    if APART_M < row["outing_m"] < np.inf:
        said.append(f"The rest of the same list lies {distance_words(row['outing_m'])} away.")
    if APART_M < row["rows_m"] < np.inf:
        said.append(f"The rows next above and below it in the file lie at least {distance_words(row['rows_m'])} away.")
    if APART_M < row["ground_m"] < np.inf:
        said.append(f"It lies {distance_words(row['ground_m'])} from where the same people recorded at other times.")
    if APART_M < row["anything_m"] < np.inf:
        said.append(f"Nothing at all has been recorded on other lists within {distance_words(row['anything_m'])}.")
    if not said:
        said.append("Its place fits its surroundings in the files less well than most records' places do.")
    return said


def _about_season(facts: _Facts, index: int) -> list[str]:
    record = facts.known.evidence.records.iloc[_position(facts, index)]
    middle = record["date_from"] + (record["date_to"] - record["date_from"]) / 2
    part = "early" if middle.day <= 15 else "late"
    return [_fewer(facts, index, "season", f"in {part} {MONTHS[middle.month - 1]}")]


def _about_year(facts: _Facts, index: int) -> list[str]:
    return [f"The same people's other records are {facts.judged[index]['year']:.0f} years away from it."]


def _about_hour(facts: _Facts, index: int) -> list[str]:
    when = str(facts.known.evidence.records.iloc[_position(facts, index)]["time_of_day"])
    return [
        _fewer(
            facts,
            index,
            "hour",
            f"around {when} o'clock" if when.isdigit() else f"by {when}" if when == "day" else f"at {when}",
        )
    ]


def _about_habitat(facts: _Facts, index: int) -> list[str]:
    where = str(facts.known.evidence.records.iloc[_position(facts, index)]["habitat"])
    return [_fewer(facts, index, "habitat", f"in “{where}”") + " It is odd by habitat, whatever its place."]


def _about_cover(facts: _Facts, index: int) -> list[str]:
    code = f"{facts.known.covers[facts.rows[index]]:.0f}"
    return [
        _fewer(
            facts,
            index,
            "ground_cover",
            f"on ground that the habitat raster calls {facts.known.settings.rasters.habitat_names.get(code, code)}",
        )
    ]


def _about_height(facts: _Facts, index: int) -> list[str]:
    evidence, row = facts.known.evidence, facts.rows[index]
    others = facts.known.heights[(evidence.species == evidence.species[row]) & evidence.bears_witness]
    low, high = np.nanquantile(others, [0.05, 0.95])
    return [
        f"It stands at {facts.known.heights[row]:.0f} m; "
        f"nine in ten records of {_name(facts, index)} stand between {low:.0f} and {high:.0f} m."
    ]


def _about_identification(facts: _Facts, index: int) -> list[str]:
    records = facts.known.evidence.records.iloc[_position(facts, index)]
    difficulty = facts.known.species.set_index("species_id").loc[records["species_id"], "difficulty"]
    evidence = f"the evidence given is “{records['evidence']}”" if records["evidence"] else "no evidence is given"
    said = f"Naming {_name(facts, index)} takes {difficulty}, and {evidence}."
    if LEVELS[3] in str(difficulty).casefold():
        said += " Until that is settled the record stands at genus level and supports neither look-alike's map."
    return [said]


def _fewer(facts: _Facts, index: int, way: str, where: str) -> str:
    row = facts.judged[index]
    found, expected = row[f"{way}_found"], row[f"{way}_expected"]
    return (
        f"Others found {_name(facts, index)} on {_lists(found)} {where}; from how often people looked then or there, "
        f"{_lists(expected)} could be expected."
    )


def _name(facts: _Facts, index: int) -> str:
    return facts.names.get(int(facts.known.evidence.species[facts.rows[index]]), "the species")


def _position(facts: _Facts, index: int) -> int:
    """Row in the evidence's frame, which for a single record tried holds that record only."""
    return int(facts.rows[index]) if len(facts.known.evidence.records) == len(facts.known.evidence.x) else 0


def _within(metres: float) -> str:
    return "at the same place" if metres == 0 else f"within {distance_words(metres)}"


def _lists(count: float) -> str:
    return "no list" if round(count) == 0 else "1 list" if round(count) == 1 else f"{count:.0f} lists"


def _squares(count: int) -> str:
    return f"{count} square is" if count == 1 else f"{count} squares are"


def _when(year: float) -> str:
    return f" ({year:.0f})" if np.isfinite(year) else ""
