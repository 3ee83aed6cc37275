"""References whose letters put them hundreds of kilometres from everything else.

QQ lies west of Britain and NT around Edinburgh: the letters of the British grid run from A to Z without I, five by five
from the north-west, first squares of 500 km and then of 100 km (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
from shapely.geometry import box

from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import AreaSection, Settings

HEAD = "Species,Grid ref,Date\n"
EDINBURGH = "".join(f"Aglais io,NT2{place:03d},1998\n" for place in range(100, 128))


def test_one_far_from_the_others(read: Callable[..., Records]) -> None:
    records = read(HEAD + EDINBURGH + "Pieris rapae,QQ2570,1998\nPieris napi,NU0512,1998\n")
    [problem] = records.problems().to_dict("records")
    assert (problem["row"], problem["value"]) == (30, "QQ2570")
    assert (problem["code"], problem["severity"]) == ("far from all others", "doubt")
    assert records.files["records"][0] == 30


def test_too_few_to_say(read: Callable[..., Records]) -> None:
    assert read(HEAD + "Aglais io,NT2570,1998\nPieris rapae,QQ2570,1998\n").problems().empty


def test_many_far_away_are_an_area_of_their_own(read: Callable[..., Records]) -> None:
    away = "".join(f"Aglais io,SX2{place:03d},1998\n" for place in range(100, 110))
    assert read(HEAD + EDINBURGH + away).problems().empty


def test_a_boundary_says_it_better(tmp_path: Path) -> None:
    outline = gpd.GeoDataFrame({"a": [1]}, geometry=[box(300_000, 600_000, 400_000, 700_000)], crs=27700)
    outline.to_file(tmp_path / "boundary.gpkg")
    (tmp_path / "club.csv").write_text(HEAD + EDINBURGH + "Pieris rapae,QQ2570,1998\n")
    settings = Settings(area=AreaSection(boundary="boundary.gpkg"))
    problems = read_records([tmp_path / "club.csv"], settings, folder=tmp_path).problems()
    assert problems["code"].tolist() == ["outside the area"]
