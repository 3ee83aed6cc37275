"""Where a record was made: coordinates and spare references, by what a whole file gives."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from gapmap.records.table import Records


def said(records: Any) -> list[tuple[int, str, str]]:
    problems = records.problems().query("row > 0")
    return list(zip(problems["row"], problems["column"], problems["code"], strict=True))


@pytest.mark.parametrize(
    ("latitude", "longitude", "sentence"),
    [
        ("55°57'N", "3°12'O", "3°12'O does not say clearly which hemisphere it lies in (O)."),
        ("0", "0.0", "Latitude and longitude are both nought, which devices write when they know no place."),
        ("", "-3.2", "The latitude is missing."),
        ("55829771", "-3.2", "55829771 is more than a latitude can be (90°)."),
        ("somewhere", "-3.2", "somewhere is not a latitude."),
    ],
)
def test_coordinates_that_are_none_are_said(read: Callable[..., Records], latitude: Any, longitude: Any, sentence: Any) -> None:
    records = read(f'Species,lat,long\nOniscus asellus,"{latitude}","{longitude}"\nOniscus asellus,55.95,-3.2\n')
    problems = records.problems().query("row > 0")
    assert problems["sentence"].tolist() == [sentence]
    assert problems["severity"].tolist() == ["not a record"]
    assert problems["suggestion"].ne("").all()
    assert records.files["records"].tolist() == [1]


def test_a_lost_decimal_point_is_suggested(read: Callable[..., Records]) -> None:
    records = read("Species,lat,long\nOniscus asellus,55829771,-3.2\nOniscus asellus,55.95,-3.2\n")
    assert records.problems().query("row > 0")["suggestion"].tolist() == ["55.829771, if the decimal point was left out."]


def test_each_point_goes_to_the_grid_people_there_write_in(read: Callable[..., Records]) -> None:
    # Edinburgh, Dublin, Jersey, Brussels: British, Irish, Channel Islands, UTM zone 31 (common practice, no source).
    points = [("55.95", "-3.2"), ("53.35", "-6.26"), ("49.2", "-2.1"), ("50.85", "4.35")]
    for point, key in zip(points, (1, 2, 3, 131), strict=True):
        assert read(f"Species,lat,long\nOniscus asellus,{point[0]},{point[1]}\n").system.key == key


def test_an_empty_reference_falls_back_on_the_tetrad_and_then_the_hectad(read: Callable[..., Records]) -> None:
    records = read(
        "Species,Grid ref,Tetrad,Hectad\n"
        "Oniscus asellus,NT2776,NT27T,NT27\n"
        "Oniscus asellus,,NT28A,NT28\n"
        "Ligia oceanica, ,,NT37\n"
        "Ligia oceanica,,,\n"
        "Ligia oceanica,,NT28O,NT28\n"
    )
    assert records.frame()["precision_m"].tolist() == [1000, 2000, 10_000]
    assert records.frame()["source_row"].tolist() == [2, 3, 4]
    assert said(records) == [(5, "Grid ref", "no place"), (6, "Tetrad", "tetrad-letter")]
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[5, 3, 2]]


def test_a_number_of_the_record_is_no_spare_reference(read: Callable[..., Records]) -> None:
    records = read("Species,Grid ref,Reference\nOniscus asellus,,R17\nOniscus asellus,NT27,R18\n")
    assert said(records) == [(2, "Grid ref", "no place")]


def test_coordinates_stand_in_where_no_reference_does(read: Callable[..., Records]) -> None:
    records = read(
        "Species,Grid ref,Tetrad,lat,long\nOniscus asellus,,NT27T,55.95,-3.2\nLigia oceanica,,,55.95,-3.2\n"
        "Ligia oceanica,,,,\n"
    )
    assert records.frame()["is_point"].tolist() == [False, True]
    assert [row for row, _, code in said(records) if code == "no place"] == [4]
