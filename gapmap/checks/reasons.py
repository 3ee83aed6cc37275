"""In what way a record is odd, in the organiser's words and with the numbers."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from gapmap.checks.between import OUTSIDE_DEGREES, Between, between, firsts
from gapmap.checks.distances import distance_words
from gapmap.checks.identification import LEVELS
from gapmap.checks.keyed import mixed, place_keys
from gapmap.checks.known import WIDEST_M, Known
from gapmap.coverage.gaps import MONTHS

Whole = npt.NDArray[np.int64]
Number = npt.NDArray[np.float64]

#: A way of being odd is put into words from one in this many records on.
WORTH_SAYING = float(np.log(10))
#: What makes a record another one: whoever recorded on a date bears no witness for what else was noted on it.
_OTHER = "by other people or of another date"
#: How the date of other records is named, by the kind of date; of what has none nothing can be said.
_DATES = {"day": "of that day", "unknown": ""}
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
    nearest_when: list[str]
    names: dict[int, str]
    sensitive_m: dict[int, int]
    usual: dict[int, tuple[float, float] | None]


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
    evidence, tree, settings = known.evidence, known.evidence.of_species, known.settings
    # A place that is odd by range has its nearest; of the others nothing of it is said.
    far = (judged["range_odd"] >= WORTH_SAYING).to_numpy(bool)
    node = np.where(far, judged["nearest_node"].to_numpy(np.int64), -1)
    x, y = (np.append(axis, np.nan)[node] for axis in (tree.x, tree.y))
    side = settings.area.side_m
    facts = _Facts(
        known,
        rows,
        judged.to_dict("records"),
        between(evidence, rows, x, y, side, settings.thresholds.enough_visits, known.area),
        firsts(evidence, rows, side),
        _latest(known, rows, x, y),
        dict(zip(known.species["species_id"], known.species["name"], strict=True)),
        dict(zip(known.species["species_id"], known.species["sensitive_m"], strict=True)),
        {int(one): known.spacing.usual(int(one)) for one in np.unique(evidence.species[rows])} if known.spacing else {},
    )
    return ["\n".join(_sentences(facts, index)) for index in range(len(rows))]


def _latest(known: Known, rows: Whole, x: Number, y: Number) -> list[str]:
    """The year, or the years, of the latest record by another outing of the rows' species at the places."""
    evidence = known.evidence
    wanted = mixed(place_keys(x, y), evidence.species[rows])
    of_these = np.flatnonzero(evidence.bears_witness & np.isin(evidence.species, np.unique(evidence.species[rows])))
    keys = mixed(place_keys(evidence.x[of_these], evidence.y[of_these]), evidence.species[of_these])
    there = of_these[np.isin(keys, wanted)]
    days = pd.DataFrame(evidence.days[there].astype("datetime64[s]"), columns=["first", "last"])
    others = days.assign(key=keys[np.isin(keys, wanted)], outing=evidence.outing[there]).sort_values(
        ["last", "first"], na_position="first", kind="stable"
    )
    others = others.drop_duplicates(["key", "outing"], keep="last").groupby("key").tail(2)  # the latest may be its own
    asked = pd.DataFrame({"key": wanted, "own": evidence.outing[rows], "index": np.arange(len(rows))})
    found = asked.merge(others, on="key", how="inner").query("own != outing").drop_duplicates("index", keep="last")
    words = dict(zip(found["index"], map(_years, found["first"], found["last"]), strict=True))
    return [words.get(index, "") for index in range(len(rows))]


def _years(first: pd.Timestamp, last: pd.Timestamp) -> str:
    if pd.isna(first):
        return "" if pd.isna(last) else f"{last.year} at the latest"
    if pd.isna(last):
        return f"{first.year} at the earliest"
    return f"{last.year}" if first.year == last.year else f"{first.year} to {last.year}"


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
    row, name, evidence = facts.judged[index], _name(facts, index), facts.known.evidence
    if not np.isfinite(row["nearest_m"]):
        of_it = np.flatnonzero(evidence.species == evidence.species[facts.rows[index]])
        silent = evidence.is_filed(of_it) & ~evidence.bears_witness[of_it] & (of_it != facts.rows[index])
        sound = ", that is accepted and placed to 10 km or finer," if silent.any() else ""
        return [f"In the whole area {name} has no other record, {_OTHER}{sound or ','} to compare it with."]
    when = f" ({facts.nearest_when[index]})" if facts.nearest_when[index] else ""
    is_wide = evidence.blur[facts.rows[index]] > 0 or evidence.of_species.blur[int(row["nearest_node"])] > 0
    usual = facts.usual.get(int(facts.known.evidence.species[facts.rows[index]]))
    within = f"; {_usual(*usual)}" if usual else ""
    said = [
        f"The nearest other record of {name}, {_OTHER}, is {_away(facts, index, row['nearest_m'], is_wide)} away{when}"
        f"{within}."
    ]
    if not np.isfinite(row["others_m"]):
        said.append("None is by other people.")
    elif row["others_m"] > row["nearest_m"] + 1000:
        away = _away(facts, index, row["others_m"], row["others_are_wide"])
        said.append(f"The nearest by other people is {away} away.")
    sector, looked = facts.between.empty_sector[index], facts.between.looked_m[index]
    within = f" within {_away(facts, index, looked)}" if np.isfinite(looked) else ""
    said.append(
        f"It lies outside the known range: {sector:.0f} of the 360 degrees around it hold no record of the species"
        f"{within}."
        if sector > OUTSIDE_DEGREES
        else "It lies in a hole inside the known range."
    )
    return said + _about_between(facts, index) + _about_first(facts, index) + _about_spread(facts, index)


def _about_between(facts: _Facts, index: int) -> list[str]:
    without, seldom, never = (
        int(count[index]) for count in (facts.between.worked_without, facts.between.seldom, facts.between.never)
    )
    unseen = "without any record" + (" (land or sea)" if facts.known.area is None else "")
    counted = ((without, "well worked and without it"), (seldom, "hardly worked"), (never, unseen))
    rest = [f"{_squares(count)} {what}" for count, what in counted if count]
    if without:
        return [f"On the way there {', '.join(rest)}."]
    if rest:
        return [f"On the way there nobody has looked much ({', '.join(rest)}), so that the gap by itself says little."]
    return []


def _about_first(facts: _Facts, index: int) -> list[str]:
    for word in ("hectad", "square"):
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
    date = _DATES.get(str(facts.known.evidence.records.iloc[_position(facts, index)]["date_kind"]), "of the same dates")
    if date and APART_M < row["outing_m"] < np.inf:
        said.append(f"The same people's other records {date} lie at least {distance_words(row['outing_m'])} away.")
    if APART_M < row["rows_m"] < np.inf:
        said.append(f"The rows next above and below it in the file lie at least {distance_words(row['rows_m'])} away.")
    if APART_M < row["ground_m"] < np.inf:
        said.append(f"It lies {distance_words(row['ground_m'])} from where the same people recorded under other dates.")
    if APART_M < row["anything_m"] < np.inf:
        said.append(f"Within {distance_words(row['anything_m'])} there is no record of anything, {_OTHER}.")
    if not said:
        said.append(
            "Taken together, the species' other records, the same people's and the rows beside it in the file speak "
            "less for this place than is usual."
        )
    return said


def _about_season(facts: _Facts, index: int) -> list[str]:
    record = facts.known.evidence.records.iloc[_position(facts, index)]
    middle = record["date_from"] + (record["date_to"] - record["date_from"]) / 2
    part = "early" if middle.day <= 15 else "late"
    return [_fewer(facts, index, "season", f"in {part} {MONTHS[middle.month - 1]}")]


def _about_year(facts: _Facts, index: int) -> list[str]:
    year, away = facts.known.evidence.one_year[facts.rows[index]], round(facts.judged[index]["year"])
    return [
        f"The same people have no record of another date in {year:.0f}; the nearest year in which they have is {away} "
        f"{'year' if away == 1 else 'years'} away."
    ]


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
    it = "It" if evidence.references[row, 3] <= WIDEST_M["habitat"] else "The middle of its reference"
    return [
        f"{it} stands at {facts.known.heights[row]:.0f} m; "
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
    name = _name(facts, index) + (_stage(facts, index, way) if way in ("season", "hour") else "")
    return (
        f"Others found {name} on {_lists(found)} {where}; from how often people looked then or there, "
        f"{_lists(expected)} could be expected."
    )


def _stage(facts: _Facts, index: int, way: str) -> str:
    """What stage was counted, where the species has several: each has a season of its own."""
    record = facts.known.evidence.records.iloc[_position(facts, index)]
    stages = facts.known.habits[way].kinds.to_numpy(np.int64)
    if not ((stages // 1000 == record["species_id"]) & (stages % 1000 > 0)).any():
        return ""
    return " (adult, or no stage said)" if record["stage"].casefold() in ("", "adult") else f" ({record['stage']})"


def _name(facts: _Facts, index: int) -> str:
    return facts.names.get(int(facts.known.evidence.species[facts.rows[index]]), "the species")


def _position(facts: _Facts, index: int) -> int:
    """Row in the evidence's frame, which for a single record tried holds that record only."""
    return int(facts.rows[index]) if len(facts.known.evidence.records) == len(facts.known.evidence.x) else 0


def _usual(half: float, most: float) -> str:
    """Metres within which half, and nine in ten, of a species' records have another."""
    if _within(half) == _within(most):
        return f"nine in ten of its records have another {_within(most)}"
    return f"half of its records have another {_within(half)}, nine in ten {_within(most)}"


def _within(metres: float) -> str:
    return "at the same place" if metres == 0 else f"within {distance_words(metres)}"


def _lists(count: float) -> str:
    return "no list" if round(count) == 0 else "1 list" if round(count) == 1 else f"{count:.0f} lists"


def _squares(count: int) -> str:
    return f"{count} square is" if count == 1 else f"{count} squares are"


def _away(facts: _Facts, index: int, metres: float, is_least: bool = False) -> str:
    """A distance to another record of the species, no finer than it may be told."""
    species = int(facts.known.evidence.species[facts.rows[index]])
    return distance_words(metres, facts.sensitive_m.get(species, 0), is_least=is_least)
