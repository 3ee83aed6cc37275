"""Every slip that is offered: one worked example each, put as a question and never as a reproach."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import rasterio
from rasterio.transform import from_origin

import gapmap.checks
from gapmap.checks.questions import references
from gapmap.checks.range import findings
from gapmap.checks.transforms import KINDS, Places, repairs
from gapmap.grid.projections import lonlat_to_grid
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.grid.systems import system_named
from gapmap.grid.utm import utm
from gapmap.records.table import Records
from gapmap.settings import RastersSection, Settings

MakeRecords = Callable[..., Records]
MakeRow = Callable[..., dict[str, Any]]
BRITISH = system_named("british")


def square(text: str, grid: str = "british") -> Places:
    """A reference as one place; the letters and figures are read by the grid room, which has its own outside checks."""
    system, side, easting, northing = unpack(references_to_squares([text], grid).squares)
    return Places(np.array([0]), system, easting, northing, side, np.array([False]))


def point(easting: float, northing: float, system: int = 1) -> Places:
    one = [np.array([value], dtype=np.int64) for value in (0, system, round(easting), round(northing), 100)]
    return Places(*one, is_point=np.array([True]))


def degrees(longitude: float, latitude: float) -> Places:
    easting, northing = lonlat_to_grid(BRITISH, np.array([longitude]), np.array([latitude]))
    return point(float(easting[0]), float(northing[0]))


def offers(kind: str, written: Places, meant: Places, within: int = 0, squares: list[Places] | None = None) -> bool:
    """Whether the place meant is among those one slip of that kind away from the place written."""
    used = [[int(s.system[0]), int(s.easting[0]) // 100_000 * 100_000, int(s.northing[0]) // 100_000 * 100_000] for s in squares or [meant]]
    found = [there for name, there in repairs(written, np.array(used)) if name == kind]
    return any(
        bool(((there.system == meant.system[0]) & (abs(there.easting - meant.easting[0]) <= within)
              & (abs(there.northing - meant.northing[0]) <= within)).any()) for there in found)


# The references are lettered by the two national grids; DINTY and quadrants are common practice, no source.
@pytest.mark.parametrize(("kind", "written", "meant"), [
    ("letters", "OQ467723", "OR467723"),
    ("letters", "SN467723", "NS467723"),  # the two letters swapped
    ("exchanged", "OR723467", "OR467723"),
    ("digits exchanged", "OR647723", "OR467723"),
    ("digit", "OR867723", "OR467723"),
    ("digit dropped", "OR6772", "OR467372"),  # 467 372 without the first figure of each half
    ("digit doubled", "OR44677723", "OR467723"),
    ("tetrad and quadrant", "OR47N", "OR47NE"), ("tetrad and quadrant", "OR47E", "OR47NE"),
    ("tetrad and quadrant", "OR47SW", "OR47S"), ("tetrad and quadrant", "OR47SW", "OR47W"),
])  # fmt: skip
def test_slips_of_references(kind: str, written: str, meant: str) -> None:
    assert offers(kind, square(written), square(meant))


def test_a_figure_that_nobody_wrote_is_no_doubled_one() -> None:
    """In the metres of NT2070, 20000 and 70000, nought follows nought; of its own figures none stands twice."""
    assert not offers("digit doubled", square("NT2070"), square("NT27"))
    assert offers("digit doubled", square("NT2277"), square("NT27"))


def test_british_for_irish_and_irish_for_british() -> None:
    # Both grids letter 100 km squares A to Z without I in five by five; British squares have a letter before it. In
    # the British 500 km square N (0 to 500 km east, 500 to 1000 km north) C has the Irish C's place in its square.
    british, irish = square("NC467723"), square("C467723", "irish")
    assert offers("other grid", british, irish)
    assert offers("other grid", irish, british)


@pytest.mark.parametrize(("kind", "written", "meant"), [
    ("digit dropped", (66_712, 672_345), (646_712, 672_345)),
    ("digit doubled", (6_646_712, 672_345), (646_712, 672_345)),
    ("digit doubled", (646_712, 6_672_345), (646_712, 672_345)),
    ("digit dropped", (646_712, 67_345), (646_712, 672_345)),
    ("exchanged", (672_345, 646_712), (646_712, 672_345)),
])  # fmt: skip
def test_slips_of_plain_metres(kind: str, written: tuple[int, int], meant: tuple[int, int]) -> None:
    assert offers(kind, point(*written), point(*meant))


@pytest.mark.parametrize(("kind", "written", "meant"), [
    ("longitude sign", (1.5, 55.8), (-1.5, 55.8)),
    ("minutes as decimals", (-3.12, 55.57), (-3.2, 55.95)),  # 3°12′ W 55°57′ N: sixty minutes are a degree
])  # fmt: skip
def test_slips_of_degrees(kind: str, written: tuple[float, float], meant: tuple[float, float]) -> None:
    assert offers(kind, degrees(*written), degrees(*meant), within=20)


def test_latitude_and_longitude_exchanged() -> None:
    # 38° N 40° E and 40° N 38° E both lie in eastern Anatolia, within reach of UTM zone 37 (36° to 42° E).
    zone = utm(37)
    east, north = lonlat_to_grid(zone, np.array([40.0, 38.0]), np.array([38.0, 40.0]))
    written, meant = (point(float(east[n]), float(north[n]), zone.key) for n in (0, 1))
    assert offers("latitude and longitude", written, meant, within=2)


COMMON = ("Oniscus asellus", "Philoscia muscorum", "Porcellio scaber")


def ordinary(row: MakeRow, days: int = 40) -> list[dict[str, Any]]:
    """Forty outings by four people, ten spots each, all within 6 km of OR4070; three common species at each spot."""
    random, rows = np.random.default_rng(11), []
    for outing in range(days):
        day, people = f"{2005 + outing % 12}-{4 + outing % 6:02d}-{13 + outing % 15:02d}", outing % 4 + 1
        for _ in range(10):
            east, north = (int(value) * 100 for value in random.integers(0, 60, 2))
            rows += [row(name, east, north, day, people) for name in COMMON]
    return rows


def asked(records_of: MakeRecords, rows: list[dict[str, Any]], **settings: Any) -> pd.Series:
    """The finding about the last row."""
    found: pd.Series = findings(records_of(rows), Settings(**settings)).iloc[-1]
    return found


@pytest.mark.parametrize("years", [-10, -100])
def test_the_year_off_by_ten_or_a_hundred(records_of: MakeRecords, row: MakeRow, years: int) -> None:
    rows = ordinary(row)
    day = pd.Timestamp(rows[-1]["date_from"])
    other = str(day.replace(year=day.year + years).date())
    found = asked(records_of, [*rows, rows[-1] | {"date_from": other, "date_to": other}])
    assert found["one_in"] >= 20
    assert f"Could the year be meant otherwise ({day.day} {day:%B} {day.year} rather than" in found["slips"]
    assert all("?" in line for line in found["slips"].splitlines())


def test_a_name_one_line_away_and_a_name_one_letter_away(records_of: MakeRecords, row: MakeRow) -> None:
    # Lithobius muticus lives 60 km off; its neighbour in the list of names, and a name two letters off, live here.
    rows = ordinary(row)
    here = [entry | {"species": name} for entry in rows[::6] for name in ("Lithobius mutabilis", "Lithobius muticuz")]
    away = [row("Lithobius muticus", 60_000 + 100 * n, 100 * n, f"2010-06-{n % 28 + 1:02d}", n % 4 + 1) for n in range(60)]
    found = asked(records_of, [*rows, *here, *away, rows[30] | {"species": "Lithobius muticus"}])
    assert "Could Lithobius mutabilis be meant, the next name in an alphabetical list?" in found["slips"]
    assert "Could Lithobius muticuz be meant, nearly the same spelling?" in found["slips"]


@pytest.mark.parametrize(("place", "question"), [
    ({"easting": 640_000, "northing": 730_000}, "OR4\\d30?\\d* is the very corner of a hectad: could the whole of|corner of a hectad: could the whole of"),
    ({"easting": 0, "northing": 0}, "is the origin of the grid: was the place perhaps left empty?"),
])  # fmt: skip
def test_places_that_stand_in_for_others(
    records_of: MakeRecords, row: MakeRow, place: dict[str, int], question: str
) -> None:
    rows = ordinary(row)
    found = asked(records_of, [*rows, row("Rare one", 0, 0, "2012-06-20", 5), row("Rare one", 0, 0, "2012-06-21", 5) | place])
    assert re.search(question, found["slips"])


def test_the_office_is_asked_about(records_of: MakeRecords, row: MakeRow) -> None:
    # One exact point 30 km off on forty lists of four people: where they sit, not where the animals do.
    rows = ordinary(row)
    office = {"easting": 671_234, "northing": 651_234, "is_point": True, "precision_m": 10}
    sat = [row(COMMON[n % 3], 0, 0, f"{2000 + n % 12}-07-{n % 28 + 1:02d}", n % 4 + 1) | office for n in range(48)]
    found = findings(records_of([*rows, *sat, row("Rare one", 0, 0, "2013-06-20", 5) | office]), Settings()).iloc[-1]
    assert "could it stand for an office or the middle of a wider area?" in found["slips"]


@pytest.mark.parametrize("layer", ["height", "habitat"])
def test_height_and_ground_outside_what_is_known(
    records_of: MakeRecords, row: MakeRow, tmp_path: Path, layer: str
) -> None:
    # West half at 20 m and heath (1), east half at 600 m and bog (2). The species on 200 outings in the west and, once,
    # in the east, where others were recorded as often.
    band = np.where(np.arange(80) < 40, 20 if layer == "height" else 1, 600 if layer == "height" else 2)
    with rasterio.open(tmp_path / "layer.tif", "w", driver="GTiff", width=80, height=80, count=1, dtype="float32",
                       crs="EPSG:27700", transform=from_origin(640_000, 678_000, 100, 100), nodata=-9999) as raster:  # fmt: skip
        raster.write(np.tile(band, (80, 1)).astype("float32"), 1)
    random, rows = np.random.default_rng(9), []
    for outing in range(400):
        east = int(random.integers(0, 40)) * 100 + (4_000 if outing % 2 else 0)
        name = "Upland one" if outing % 2 else "Lowland one"
        rows.append(row(name, east, int(random.integers(0, 80)) * 100, f"2012-{4 + outing % 6:02d}-{outing % 28 + 1:02d}", outing % 5 + 1))
    rows.append(row("Lowland one", 4_100, 4_000, "2013-06-10", 2))
    settings = {"height": RastersSection(height=str(tmp_path / "layer.tif")),
                "habitat": RastersSection(habitat=str(tmp_path / "layer.tif"), habitat_names={"2": "bog"})}  # fmt: skip
    found = asked(records_of, rows, rasters=settings[layer])
    if layer == "height":
        assert "It stands at 600 m; nine in ten records of Lowland one stand between 20 and 20 m." in found["reasons"]
    else:
        assert "on ground that the habitat raster calls bog" in found["reasons"]
    assert found["one_in"] >= 20


def test_no_word_of_the_checks_accuses_anybody() -> None:
    # Every text between quotation marks in the room that is not a docstring, as written.
    harsh = re.compile(
        r"\b(wrong(ly)?|errors?|erred|mistaken?|mistakes?|incorrect|false|careless|implausible|reject(ed)?|blunder|fault|"
        r"unbelievable|suspicious|you should|you must|bad)\b", re.IGNORECASE)  # fmt: skip
    folder = Path(gapmap.checks.__file__).parent
    for file in ("questions.py", "reasons.py", "queue.py", "told.py", "identification.py", "transforms.py"):
        code = re.sub(r'""".*?"""|#[^\n]*', "", (folder / file).read_text(encoding="utf-8"), flags=re.DOTALL)
        for text in re.findall(r'"([^"\n]*)"', code):
            assert not harsh.search(text), (file, text)
    assert all(question.endswith("?") and question.startswith("Could") for _, question in KINDS.values())


@pytest.mark.parametrize("written", ["OR467723", "OR4672", "OR47P", "OR47NE", "OR47", "OR46-20km", "OR", "OQ55-50km"])
def test_a_place_is_shown_to_its_recorder_at_the_size_it_was_written(written: str) -> None:
    """A reference is a square: none is shown as the metre at its corner."""
    system, side, easting, northing = (int(part[0]) for part in unpack(references_to_squares([written]).squares))
    place = {"system": system, "easting": easting, "northing": northing, "precision_m": side, "is_point": False}
    assert references(pd.DataFrame([place])) == [written]
