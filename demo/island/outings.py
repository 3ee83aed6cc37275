"""Who goes where, when and how: sixty years of visits."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import pandas as pd
from scipy import ndimage

from island.chance import stream
from island.recorders import RECORDERS, Recorder
from island.terrain import CELL, CODE_OF, COLUMNS, NORTH, WEST, Terrain

FIRST_YEAR, LAST_DAY = 1966, date(2026, 10, 31)
_OUTINGS_IN_MONTH = np.array([2, 3, 6, 9, 11, 8, 6, 7, 9, 11, 5, 2]) / 79
#: Busy and lean years: projects, a year of closed footpaths, a year at home.
_YEARS = {
    1972: 1.3,
    1986: 1.5,
    1987: 1.7,
    1988: 1.4,
    1993: 0.7,
    2001: 0.35,
    2014: 1.3,
    2015: 1.5,
    2016: 1.3,
    2020: 0.6,
}
_PACE = 0.68  # of the outings a year that the recorders say they make
_AGAIN = 0.56  # share of outings to a place the recorder has been to before
_FAMOUS = 0.12  # share of outings to one of the society's favourite places
_HOURS = {"day": (10, 17), "dusk": (19, 21), "night": (22, 24)}


@dataclass
class _Haunts:
    """The places one recorder knows, each as often as they have been there."""

    cells: list[int] = field(default_factory=list)

    def one(self, generator: np.random.Generator) -> int:
        return self.cells[int(generator.integers(len(self.cells)))]


def make_visits(terrain: Terrain, road_m: np.ndarray) -> pd.DataFrame:
    """All visits, one row a place and a time.

    Columns: visit_id, year, month, date, people (positions in RECORDERS, joined by spaces), cell (of the raster, row by
    row), easting, northing, habitat (code), method, hour (day, dusk, night), clock (hh:mm), whole (a whole list was
    meant), effort (1 is an hour and a half of one pair of eyes).
    """
    rows = []
    famous = _famous_cells(terrain, road_m)
    for number, recorder in enumerate(RECORDERS):
        rows += _life_of(number, recorder, terrain, road_m, famous)
    rows += _field_meetings(terrain, road_m)
    visits = pd.DataFrame(rows)
    visits = visits.sort_values(["date", "people", "clock"], kind="stable", ignore_index=True)
    visits.insert(0, "visit_id", np.arange(1, len(visits) + 1))
    return visits


def _life_of(
    number: int, recorder: Recorder, terrain: Terrain, road_m: np.ndarray, famous: np.ndarray
) -> list[dict[str, object]]:
    generator = stream("outings", recorder.name)
    cells, likely = _ground(recorder, terrain, road_m)
    haunts = _Haunts()
    rows = []
    for year in range(recorder.first, recorder.last + 1):
        keen = min(
            1.0,
            0.45 + 0.2 * (year - recorder.first),
            0.4 + 0.2 * (recorder.last - year + 1 + 3 * (year == 2026)),
        )
        mean = (
            recorder.trips * _PACE * keen * _YEARS.get(year, 1.0) * np.exp(0.2 * generator.standard_normal())
        )
        for _ in range(int(generator.poisson(mean))):
            day = _day(generator, year, recorder.weekend)
            draw = generator.random()
            if haunts.cells and draw < _AGAIN:
                cell = _near(haunts.one(generator), terrain, generator, 130, alike=True)
            elif draw > 1 - _FAMOUS:
                cell = _near(
                    int(famous[generator.integers(len(famous))]), terrain, generator, 300, alike=True
                )
            else:
                cell = int(cells[np.searchsorted(likely, generator.random())])
            hour = _hour(generator, recorder.dark)
            for stop in range(1 + int(generator.random() < 0.3)):
                haunts.cells.append(cell)
                if day <= LAST_DAY:
                    rows.append(_visit(generator, [number], day, cell, terrain, hour, recorder, stop))
                cell = _near(cell, terrain, generator, 1500)
    return rows


def _ground(recorder: Recorder, terrain: Terrain, road_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cells where the recorder may go, and the running sum of how likely each is."""
    cells = np.nonzero((terrain.land & (terrain.habitat != CODE_OF["lake"])).ravel())[0]
    east, north = cell_to_place(cells)
    home = terrain.towns[recorder.town]
    away = np.hypot(east - home[0], north - home[1]) / 1000
    by_the_sea = np.isin(terrain.habitat.ravel()[cells], [CODE_OF["shore"], CODE_OF["dune"]])
    reached = np.maximum(np.exp(-road_m.ravel()[cells] / 700), np.where(by_the_sea, 0.5, 0.03))
    weight = np.exp(-away / recorder.reach_km) * reached
    for name in recorder.likes:
        liked = terrain.habitat.ravel()[cells] == CODE_OF[name]
        weight[liked] *= 2 + 1.3 / np.sqrt(liked.mean())  # people go out of their way for rare ground
    return cells, np.cumsum(weight) / weight.sum()


def _famous_cells(terrain: Terrain, road_m: np.ndarray) -> np.ndarray:
    """Six rich places near a road, and five on wide moors: well known, though little lives there."""
    generator = stream("famous")
    rich = np.isin(terrain.habitat, [CODE_OF["woodland"], CODE_OF["dune"], CODE_OF["quarry"]]) & (
        road_m < 1500
    )
    moor = np.isin(terrain.habitat, [CODE_OF["heath"], CODE_OF["bog"]])
    wide = moor & (ndimage.uniform_filter(moor.astype(float), 25) > 0.9)
    chosen = [
        generator.choice(np.nonzero(kind.ravel())[0], n, replace=False) for kind, n in ((rich, 6), (wide, 5))
    ]
    return np.concatenate(chosen)


def _field_meetings(terrain: Terrain, road_m: np.ndarray) -> list[dict[str, object]]:
    """Two or three days a year with several people, anywhere near a road."""
    generator = stream("meetings")
    cells = np.nonzero((terrain.land & (road_m < 3000)).ravel())[0]
    rows = []
    for year in range(1974, 2027):
        active = [n for n, recorder in enumerate(RECORDERS) if recorder.first < year <= recorder.last]
        for _ in range(2 + (year > 2000)):
            day = _day(generator, year, 0.95)
            size = min(len(active), 3 + int(generator.integers(4)))
            people = sorted(int(n) for n in generator.choice(active, size, replace=False))
            cell = int(generator.choice(cells))
            for stop in range(4):
                if day <= LAST_DAY:
                    leader = RECORDERS[people[0]]
                    rows.append(
                        _visit(generator, people, day, cell, terrain, "day", leader, stop) | {"whole": True}
                    )
                cell = _near(cell, terrain, generator, 1800)
    return rows


def _visit(
    generator: np.random.Generator,
    people: list[int],
    day: date,
    cell: int,
    terrain: Terrain,
    hour: str,
    recorder: Recorder,
    stop: int,
) -> dict[str, object]:
    row, column = divmod(cell, COLUMNS)
    east, north = WEST + CELL * column, NORTH - CELL * (row + 1)
    habitat = int(terrain.habitat[row, column])
    whole = bool(generator.random() < recorder.whole)
    effort = float(generator.gamma(2.0, 0.5)) if whole else float(generator.gamma(1.0, 0.35))
    place = {
        "easting": int(east + generator.integers(CELL)),
        "northing": int(north + generator.integers(CELL)),
    }
    method = _method(generator, recorder, habitat, hour)
    first, last = _HOURS[hour]
    clock_hour = min(23, first + stop + int(generator.integers(last - first)))
    return {
        "year": day.year,
        "month": day.month,
        "date": day,
        "people": " ".join(str(n) for n in people),
        "cell": cell,
        **place,
        "habitat": habitat,
        "method": method,
        "hour": hour,
        "clock": f"{clock_hour:02d}:{int(generator.integers(12)) * 5:02d}",
        "whole": whole,
        "effort": effort,
    }


def _method(generator: np.random.Generator, recorder: Recorder, habitat: int, hour: str) -> str:
    if hour != "day":
        return "torch"
    if habitat == CODE_OF["shore"] and generator.random() < 0.6:
        return "shore search"
    able = [
        m for m in recorder.methods if m != "torch" and (m != "shore search" or habitat == CODE_OF["shore"])
    ]
    able = [m for m in able if m != "building search" or habitat == CODE_OF["town"]] or ["hand search"]
    shares = np.array([0.65, 0.25, 0.2][: len(able)])
    return str(generator.choice(able, p=shares / shares.sum()))


def _day(generator: np.random.Generator, year: int, weekend: float) -> date:
    month = int(generator.choice(12, p=_OUTINGS_IN_MONTH)) + 1
    day = date(year, month, 1) + timedelta(days=int(generator.integers(28)))
    if generator.random() < weekend:
        day += timedelta(days=(5 - day.weekday()) % 7 + int(generator.integers(2)))
        day = day if day.month == month else day - timedelta(days=7)
    return day


def _hour(generator: np.random.Generator, dark: float) -> str:
    if generator.random() >= dark:
        return "day"
    return "night" if generator.random() < 0.55 else "dusk"


def _near(
    cell: int, terrain: Terrain, generator: np.random.Generator, metres: float, alike: bool = False
) -> int:
    """Another cell on land near by, of the same habitat if wished; the same one when there is none."""
    row, column = divmod(cell, COLUMNS)
    for down, right in np.rint(generator.standard_normal((6, 2)) * metres / 1.4 / CELL).astype(int):
        habitat = terrain.habitat[row + down, column + right]
        if habitat == terrain.habitat[row, column] or (habitat > 0 and not alike):
            return int((row + down) * COLUMNS + column + right)
    return cell


def cell_to_place(cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Easting and northing of cells' centres."""
    rows, columns = np.divmod(cells, COLUMNS)
    return WEST + CELL * (columns + 0.5), NORTH - CELL * (rows + 0.5)
