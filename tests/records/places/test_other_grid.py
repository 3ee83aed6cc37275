"""References that fit the coordinates beside them only in another grid.

Squares are named by the reference library ``mgrs`` for UTM, by its own rule; the sea off Ostend is 51.08 N, 2.55 E.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import mgrs  # type: ignore[import-untyped]
import pytest

from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import Settings

POINTS = [(50.0 + 0.07 * step, 3.0 + 0.19 * step) for step in range(24)]


def squares(*, with_zone: bool) -> str:
    named = [mgrs.MGRS().toMGRS(*point, MGRSPrecision=2) for point in POINTS]
    lines = [
        f"Aglais io,{name if with_zone else name[3:]},{lat},{lon}\n"
        for name, (lat, lon) in zip(named, POINTS, strict=True)
    ]
    return "Species,Square,Latitude,Longitude\n" + "".join(lines)


def test_squares_of_utm_without_their_zone(read: Callable[..., Records]) -> None:
    records = read(squares(with_zone=False))
    [problem] = records.problems().query("code == 'another grid'").to_dict("records")
    assert problem["severity"] == "doubt"
    assert '--grid utm --zone "31U 32U"' in problem["suggestion"]
    assert any("would as squares of the grid utm" in remark for remark in records.remarks)


def test_what_it_suggests_is_right(read: Callable[..., Records]) -> None:
    records = read(squares(with_zone=False), grid="utm", zones=("31U", "32U"))
    assert not {"another grid", "places disagree"} & set(records.problems()["code"])
    assert records.files["records"][0] == len(POINTS)


def test_squares_with_their_zone_are_no_question(read: Callable[..., Records]) -> None:
    assert not {"another grid", "places disagree"} & set(read(squares(with_zone=True)).problems()["code"])


def test_a_few_slips_are_no_other_grid(read: Callable[..., Records]) -> None:
    rows = [f"Aglais io,NT27{n}7,55.94{n},-3.1{n}\n" for n in range(8)] + ["Aglais io,NS2777,55.94,-3.17\n"] * 5
    records = read("Species,Square,Latitude,Longitude\n" + "".join(rows))
    assert "another grid" not in set(records.problems()["code"])


@pytest.mark.open_data
def test_the_ladybirds_of_belgium(open_data: Path) -> None:
    """Read without their zones they would lie in the sea west of Britain; the file says which setting is right."""
    path = open_data / "be_ladybirds_utm1km.csv"
    [told] = read_records([path], Settings()).problems().query("code == 'another grid'")["suggestion"]
    assert 'grid = "utm" and zones = ["31U", "32U"]' in told
