"""Latitude and longitude as typed. Values are visible arithmetic: degrees + minutes / 60 + seconds / 3600."""

import numpy as np
import pandas as pd
import pytest

from gapmap.grid.coordinates import CODES, latlon_pairs_to_degrees, latlon_text_to_degrees


@pytest.mark.parametrize(
    ("text", "axis", "degrees"),
    [
        ("55.95", "latitude", 55.95), (" +55.95 ", "latitude", 55.95), ("-3,19", "longitude", -3.19),
        ("−3.19", "longitude", -3.19),
        ("55.95°", "latitude", 55.95), ("55.95 N", "latitude", 55.95), ("N55.95", "latitude", 55.95),
        ("3.19w", "longitude", -3.19),
        ("55°57′11″N", "latitude", 55 + 57 / 60 + 11 / 3600),
        ("55° 57' 11.25\" n", "latitude", 55 + 57 / 60 + 11.25 / 3600),
        ("55º57’11”N", "latitude", 55 + 57 / 60 + 11 / 3600), ("55°57'11''N", "latitude", 55 + 57 / 60 + 11 / 3600),
        ("W 3 11 20", "longitude", -(3 + 11 / 60 + 20 / 3600)),
        ("3:11:20 W", "longitude", -(3 + 11 / 60 + 20 / 3600)),
        ("3°11,5′W", "longitude", -(3 + 11.5 / 60)), ("55d57m11s", "latitude", 55 + 57 / 60 + 11 / 3600),
        ("55 57 11 S", "latitude", -(55 + 57 / 60 + 11 / 3600)), ("55 57S", "latitude", -(55 + 57 / 60)),
        ("-0 30", "longitude", -0.5), ("0", "longitude", 0), ("180", "longitude", 180), ("-90", "latitude", -90),
        ("５５．９５", "latitude", 55.95), ("55\u00a057\u200911 N", "latitude", 55 + 57 / 60 + 11 / 3600),
        ("55 deg 57 min 11 sec N", "latitude", 55 + 57 / 60 + 11 / 3600), (55.95, "latitude", 55.95),
        (3, "longitude", 3),
        # OS guide, worked example: 52°39′27.2531″N 1°43′4.5177″E
        ("52°39′27.2531″N", "latitude", 52.657570305556), ("1°43′4.5177″E", "longitude", 1.717921583333),
    ],
)
def test_what_can_be_read(text, axis, degrees):
    found = latlon_text_to_degrees([text], axis)
    assert found.code.tolist() == [""], found.sentence[0]
    assert found.values[0] == pytest.approx(degrees, abs=1e-11)


@pytest.mark.parametrize(
    ("text", "axis", "code", "sentence", "suggestion"),
    [
        ("", "latitude", "empty", "missing", ""), (None, "latitude", "empty", "missing", ""),
        ("Edinburgh", "latitude", "not-a-coordinate", "Edinburgh is not a latitude", "decimal degrees"),
        ("1,234.5", "longitude", "not-a-coordinate", "not a longitude", "decimal degrees"),
        ("NaN", "latitude", "not-a-coordinate", "not a latitude", ""),
        ("inf", "latitude", "not-a-coordinate", "inf", ""),
        ("1" + " " * 100_000 + "x", "latitude", "not-a-coordinate", "not a latitude", ""),
        ("55,57,11", "latitude", "not-a-coordinate", "not a latitude", ""),
        ("NТ27", "latitude", "not-a-coordinate", "not", ""),
        ("3.19 O", "longitude", "hemisphere", "(O)", "N, S, E, W"),
        ("N 55 57 S", "latitude", "hemisphere", "(NS)", ""),
        ("N 55 57 11 S", "latitude", "hemisphere", "(NS)", ""),
        ("-3.19 W", "longitude", "sign-and-hemisphere", "minus sign and the letter W", "-3.19"),
        ("-3.19 E", "longitude", "sign-and-hemisphere", "minus sign", "leave out"),
        ("55.95 N", "longitude", "other-axis", "latitude in the column of longitudes", "exchanged"),
        ("3.19 W", "latitude", "other-axis", "longitude in the column of latitudes", "exchanged"),
        ("55 60 N", "latitude", "minutes", "below 60", "decimal degrees"),
        ("55 57 75", "latitude", "minutes", "below 60", ""),
        ("55.5 30 N", "latitude", "minutes", "after a fraction", ""),
        ("55 30.5 20 N", "latitude", "minutes", "fraction", ""),
        ("91", "latitude", "outside-range", "90", "exchanged"),
        (-120.5, "latitude", "outside-range", "90", "exchanged"),
        ("190", "longitude", "outside-range", "180", "eastings"),
        (325700, "latitude", "outside-range", "90", "eastings"),
    ],
)
def test_what_cannot_be_read_says_why(text, axis, code, sentence, suggestion):
    found = latlon_text_to_degrees([text], axis)
    assert np.isnan(found.values[0])
    assert code in CODES
    assert found.code[0] == code
    assert sentence in found.sentence[0]
    assert suggestion in found.suggestion[0]


@pytest.mark.parametrize("texts", [[], pd.Series([], dtype="str"), iter([])])
def test_nothing_in_nothing_out(texts):
    assert len(latlon_text_to_degrees(texts, "latitude").values) == 0


def test_a_column_keeps_its_order_and_its_length():
    column = pd.Series(["55.95", None, "x", "55°57'N", "55.95"], index=[3, 3, 1, 0, 9])
    found = latlon_text_to_degrees(column, "latitude")
    assert np.nan_to_num(found.values, nan=-1).tolist() == [55.95, -1, -1, 55.95, 55.95]
    assert found.code.tolist() == ["", "empty", "not-a-coordinate", "", ""]


@pytest.mark.parametrize(
    "text",
    ["55.95, -3.2", "55.95 -3.2", "55.95;-3.2", "55.95,-3.2", "55°57'N 3°12'W", "55°57′N, 3°12′W", "N55.95 W3.2",
     "55.95N/3.2W",
     "55 57 N 3 12 W"],
)
def test_pairs_in_one_cell(text):
    lon, lat = latlon_pairs_to_degrees([text])
    assert (lon.code[0], lat.code[0]) == ("", ""), lat.sentence[0]
    assert (lon.values[0], lat.values[0]) == pytest.approx((-3.2, 55.95))


def test_a_pair_with_one_bad_half_is_no_pair():
    lon, lat = latlon_pairs_to_degrees(["91, 3", "somewhere", "55.95, 3.2 O", None])
    assert lon.code.tolist() == lat.code.tolist() == ["outside-range", "not-a-pair", "hemisphere", "empty"]
    assert np.isnan(lon.values).all()
    assert np.isnan(lat.values).all()
