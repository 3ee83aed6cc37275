"""Latitude and longitude that changed places, or lost their sign: said with what was meant, and never moved.

The places are Edinburgh (55.95 N, 3.19 W), Brussels (50.85 N, 4.35 E), Cambridge (52.2 N, 0.12 E) and Mahé in the
Seychelles (4.68 S, 55.49 E), from any atlas.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from gapmap.records.table import Records

HEAD = "Species,Latitude,Longitude\n"
EDINBURGH = "".join(f"Aglais io,55.9{n}51,-3.1{n}22\n" for n in range(5))


def said(records: Records) -> list[dict[str, Any]]:
    """The problems but for the one that there are no dates."""
    return [problem for problem in records.problems().to_dict("records") if problem["code"] != "no date column"]


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("-3.1905,55.9213", "55.9213, -3.1905"),
        ("55.9213,3.1905", "55.9213, -3.1905"),
        ("-55.9213,-3.1905", "55.9213, -3.1905"),
        ("3.1905,55.9213", "55.9213, -3.1905"),
    ],
)
def test_one_row_of_a_file(read: Callable[..., Records], written: str, meant: str) -> None:
    records = read(HEAD + EDINBURGH + f"Pieris rapae,{written}\n")
    [problem] = said(records)
    assert (problem["row"], problem["code"], problem["severity"]) == (7, "coordinates turned", "doubt")
    assert problem["suggestion"].startswith(f"{meant}, if")
    assert records.files["records"][0] == 6
    alone = records.frame().set_index("source_row").loc[7]
    right = read(HEAD + f"Pieris rapae,{meant.replace(' ', '')}\n").frame().iloc[0]
    assert (alone["easting"], alone["northing"]) != (right["easting"], right["northing"])


def test_a_whole_file(read: Callable[..., Records]) -> None:
    turned = read("Species,Longitude,Latitude\n" + EDINBURGH)
    [problem] = said(turned)
    assert (problem["row"], problem["code"], problem["severity"]) == (0, "coordinates turned", "doubt")
    assert "British National Grid" in problem["sentence"]
    assert turned.files["records"][0] == 5


def test_who_says_the_grid_is_not_doubted(read: Callable[..., Records]) -> None:
    mahe = HEAD + "Aglais io,-4.68,55.49\nPieris rapae,-4.67,55.48\n"
    assert [problem["row"] for problem in said(read(mahe))] == [0]
    assert not said(read(mahe, grid="utm"))


def test_a_zone_other_than_the_others(read: Callable[..., Records]) -> None:
    records = read(HEAD + "Aglais io,50.85,4.35\nAglais io,50.86,4.35\nPieris rapae,4.35,50.85\n")
    assert [problem["suggestion"] for problem in said(records)] == ["50.85, 4.35, if that is what was meant."]


def test_places_in_their_own_land_are_not_accused(read: Callable[..., Records]) -> None:
    assert not said(read(HEAD + "Aglais io,52.2,0.12\nAglais io,50.1,-5.3\nAglais io,52.6,1.3\n"))
    either_side_of_greenwich = "Aglais io,50.6,5.9\nAglais io,50.6,6.1\nAglais io,50.6,5.8\n"
    assert not said(read(HEAD + either_side_of_greenwich))
