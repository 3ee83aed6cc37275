"""References: tolerance, every failure with its code and sentence, sizes, zones."""

import json
import re

import numpy as np
import pandas as pd
import pytest

from gapmap.columns import NO_SQUARE
from gapmap.errors import GridError
from gapmap.grid.references import references_to_squares, squares_to_references
from gapmap.grid.squares import pack, unpack
from gapmap.grid.troubles import CODES


def read(text, system="", zones=()):
    """Side, easting and northing of one reference."""
    found = references_to_squares([text], system, zones)
    assert found.code.tolist() == [""], found.sentence[0]
    return [part.item() for part in unpack(found.squares)][1:]


def fail(text, system="", zones=()):
    """Code, sentence and suggestion of one value."""
    found = references_to_squares([text], system, zones)
    assert found.squares.tolist() == [NO_SQUARE], f"{text} was read"
    return found.code[0], found.sentence[0], found.suggestion[0]


@pytest.mark.parametrize(
    "text",
    ["NT2577", "nt2577", " NT 25 77 ", "Nt25 77", "NT-25-77", "NT 2577.", "(NT2577)", "'NT2577", "NT.25.77", "N T 2577",
     "NT25/77", "ＮＴ２５７７", "nt２５ ７７", "NT\u00a025\u200977", "NT2577\n", "NT٢٥٧٧", "“NT2577”", "NT 2577;",
     "\ufeffNT2577"],
)
def test_case_spaces_and_stray_signs_do_not_matter(text):
    assert read(text) == [1_000, 325_000, 677_000]


@pytest.mark.parametrize(
    ("text", "square"),
    [
        # Visible arithmetic on NT = (300, 600) km, H = (200, 300) km.
        ("NT", [100_000, 300_000, 600_000]), ("NT27", [10_000, 320_000, 670_000]),
        ("NT27NE", [5_000, 325_000, 675_000]),
        ("NT27SW", [5_000, 320_000, 670_000]), ("NT27A", [2_000, 320_000, 670_000]),
        ("NT27Z", [2_000, 328_000, 678_000]),
        ("NT27I", [2_000, 322_000, 676_000]), ("NT2577", [1_000, 325_000, 677_000]),
        ("NT257771", [100, 325_700, 677_100]),
        ("NT25787712", [10, 325_780, 677_120]), ("NT2578977123", [1, 325_789, 677_123]),
        ("NT26-20km", [20_000, 320_000, 660_000]), ("NT 05-50 km", [50_000, 300_000, 650_000]),
        ("H", [100_000, 200_000, 300_000]), ("H47", [10_000, 240_000, 370_000]), ("H47NW", [5_000, 240_000, 375_000]),
        ("H47D", [2_000, 240_000, 376_000]), ("H 456 789", [100, 245_600, 378_900]), ("NTZ", None), ("NTNE", None),
    ],
)
def test_every_size_of_the_lettered_grids(text, square):
    if square is None:
        assert fail(text)[0] == "not-a-reference"
    else:
        assert read(text) == square


@pytest.mark.parametrize(
    ("text", "system", "key"),
    [("NT27", "", 1), ("H47", "", 2), ("WV57", "", 3), ("WA50", "", 3), ("WV57", "british", 1), ("WB12", "", 1),
     ("31UDS65", "", 131), ("19HCA12", "", 199), ("10kmE432N321", "", 4), ("30UWV55", "", 130)],
)
def test_each_value_is_recognised_by_itself(text, system, key):
    assert unpack(references_to_squares([text], system).squares)[0].item() == key


@pytest.mark.parametrize("kind", [list, pd.Series, lambda texts: np.array(texts, dtype=object)])
def test_a_long_column_keeps_its_order(kind):
    """Arithmetic: hundred-metre square n of OR lies at n // 1000 and n % 1000 hundreds; every 9,999th cell is none."""
    numbers = np.arange(140_000)
    texts = [f"OR{number:06}" if number % 9_999 else "nowhere" for number in numbers]
    found = references_to_squares(kind(texts), "british")
    expected = pack(1, 100, 600_000 + numbers // 1_000 * 100, 600_000 + numbers % 1_000 * 100)
    expected[numbers % 9_999 == 0] = NO_SQUARE
    assert (found.squares == expected).all()
    assert np.flatnonzero(found.code != "").tolist() == numbers[numbers % 9_999 == 0].tolist()


def test_a_mixed_column_keeps_its_order():
    texts = ["NT27", "x", "H47P", "31UDS6858", None, "10kmE432N321", "NT2577", "WV57", "NT27"]
    found = references_to_squares(texts)
    assert squares_to_references(found.squares).tolist() == [
        "NT27", "X", "H47P", "31UDS6858", "", "10kmE432N321", "NT2577", "WV57", "NT27",
    ]
    assert found.code.tolist() == ["", "", "", "", "empty", "", "", "", ""]


@pytest.mark.parametrize(
    "texts",
    [[], (), iter([]), np.array([], dtype=object), pd.Series([], dtype="str"), pd.Series([], dtype=object)],
)
def test_nothing_in_nothing_out(texts):
    found = references_to_squares(texts)
    assert len(found.squares) == len(found.code) == len(found.sentence) == len(found.suggestion) == 0
    assert squares_to_references(found.squares).tolist() == []


@pytest.mark.parametrize(
    "texts",
    [
        ["NT27", None, "NT2577"], ("NT27", None, "NT2577"), iter(["NT27", float("nan"), "NT2577"]),
        np.array(["NT27", None, "NT2577"], dtype=object), pd.Series(["NT27", None, "NT2577"]),
        pd.Series(["NT27", pd.NA, "NT2577"], dtype="string"), pd.Series(["a", "NT27", None, "NT2577"])[1:],
        pd.Series(["NT27", None, "NT2577"], dtype="category"), pd.Series(["NT27", 12.5, "NT2577"], dtype=object),
    ],
)
def test_any_kind_of_column_will_do(texts):
    found = references_to_squares(texts)
    assert squares_to_references(found.squares).tolist() == ["NT27", "", "NT2577"]
    assert found.code[1] in ("empty", "no-letters")


FAILURES = [
    # value, code, a part of the sentence, a part of the suggestion
    ("", "empty", "missing", ""),
    ("  ", "empty", "missing", ""),
    ("?", "empty", "missing", ""),
    ("n/a", "empty", "missing", ""),
    ("unknown", "empty", "missing", ""),
    ("3.25E+05", "spoiled-number", "spreadsheet", "text"),
    ("NТ27", "other-alphabet", "the character Т", "NT27"),
    ("NT27½", "other-alphabet", "½", ""),
    ("55.95, -3.19", "coordinates", "latitude and longitude", "columns"),
    ("55°57′N 3°11′W", "coordinates", "latitude and longitude", "columns"),
    ("325700 677300", "coordinates", "an easting and a northing", "columns"),
    ("NT27, NT28", "two-references", "more than one", "each its own row"),
    ("NT2577 & NT2677", "two-references", "more than one", "NT27"),
    ("NT25 and NT26", "two-references", "more than one", "each its own row"),
    ("NT25–26", "two-references", "more than one", "each its own row"),
    ("NT27NT28", "two-references", "more than one", "each its own row"),
    ("253773", "no-letters", "letters", "before the digits"),
    ("36/2776", "no-letters", "letters", "NT2776"),  # 300 km east and 600 km north of the false origin is NT
    ("41/123 456", "no-letters", "letters", "SU123456"),
    ("36/276", "no-letters", "letters", "before the digits"),
    ("325,700 677,300", "coordinates", "an easting and a northing", "columns"),
    ("51,123 104,567", "coordinates", "latitude and longitude", "columns"),
    ("E432N321", "size", "how large", "10kmE432N321"),
    ("3kmE1N1", "size", "size", "2km"),
    ("NT15-50km", "size", "size", "south-western"),
    ("10kmE999N321", "outside-grid", "beyond", ""),
    ("20kmE433N321", "not-a-corner", "no corner", "south-western"),
    ("CRS3035RES10000mN3210001E4320000", "not-a-corner", "no corner", "south-western"),
    ("10kmE432", "not-a-reference", "both E and N", "10kmE432N321"),
    ("NT2O", "letter-for-digit", "the letter O", "NT20"),
    ("NT25l7", "letter-for-digit", "the letter L", "NT2517"),
    ("0R47", "digit-for-letter", "the digit 0", "OR47"),
    ("IH47", "letter-i", "the letter I", "H47"),
    ("SI47", "letter-i", "the letter I", "J or L"),
    ("31DS6858", "zone", "no letter for its latitude band", "31U"),
    ("99UDS6858", "zone", "does not exist", "1 to 60"),
    ("32XMK12", "zone", "does not exist", ""),
    ("31UZZ6858", "unknown-letters", "100 km square ZZ", ""),
    ("UDS6858", "no-zone", "which UTM zone", "31U"),
    ("NT 2 577", "uneven-digits", "2 and 577", "NT002577"),
    ("NT 2 5 7 7", "uneven-digits", "several gaps", "NT2577"),
    ("NT257", "odd-digits", "odd number of digits (3)", "ask"),
    ("H4", "odd-digits", "odd number of digits (1)", "ask"),
    ("NT123456789012", "too-many-digits", "12 digits", "last digits"),
    ("NT2577P", "suffix-length", "P after 4 digits", "NT27P"),
    ("NT2577NE", "suffix-length", "NE after 4 digits", "NT27NE"),
    ("NT257771P", "suffix-length", "P after 6 digits", "NT27P"),
    ("NT27O", "tetrad-letter", "ends in O", ""),
    ("NT27NN", "suffix-letters", "ends in NN", "NW, NE, SW and SE"),
    ("31UGS9999", "outside-zone", "outside zone 31", ""),
    ("Holyrood Park", "not-a-reference", "Holyrood Park", ""),
    ("Wood 5", "not-a-reference", "Wood 5", ""),
    ("NT27 hill top", "words", "NT27 hill top has words", "perhaps NT27 is meant"),
    ("grid ref NT 277 766 (approx.)", "words", "words", "perhaps NT277766 is meant"),
    ("House No 27", "not-a-reference", "House No 27", ""),
    ("NT" + "27" * 25, "too-many-digits", "50 digits", ""),
    ("NT" + "27" * 50_000, "not-a-reference", "too long", ""),
    ("NT2 7 7" + " " * 100_000 + "7", "not-a-reference", "too long", ""),
    ("{{ 7 * 7 }}", "no-letters", "7 * 7", ""),
]


@pytest.mark.parametrize(("text", "code", "sentence", "suggestion"), FAILURES, ids=[f[0][:20] for f in FAILURES])
def test_each_failure_has_its_code_and_says_what_was_found(text, code, sentence, suggestion):
    found = fail(text)
    assert found[0] == code
    assert sentence in found[1]
    assert suggestion in found[2]
    assert len(found[1]) < 250
    assert found[1].endswith((".", "”."))


def test_every_code_is_listed_and_most_are_seen_above():
    seen = {code for _, code, _, _ in FAILURES}
    assert seen <= set(CODES)
    assert set(CODES) - seen == {"other-grid", "two-zones"}  # both need a grid or zones, and are tested below


def test_a_suggested_reference_can_be_read():
    for text, *_ in FAILURES:
        suggestion = fail(text)[2]
        form = r"(?:perhaps|write|as) ([A-Z]{1,2}[0-9]{2,10}[A-Z]{0,2}|31U[A-Z0-9]{4,}) "
        for reference in re.findall(form, suggestion + " "):
            assert references_to_squares([reference]).code.tolist() == [""]


@pytest.mark.parametrize(
    ("text", "system", "title"),
    [("H47", "british", "Irish Grid"), ("NT27", "irish", "British National Grid"),
     ("NT27", "channel", "British National Grid"),
     ("31UDS65", "british", "UTM zone 31 north"), ("10kmE432N321", "british", "European grid"),
     ("H47", "europe", "Irish Grid"),
     ("H47", "utm", "Irish Grid")],
)
def test_a_good_reference_of_another_grid_is_named(text, system, title):
    code, sentence, _ = fail(text, system)
    assert code == "other-grid"
    assert title in sentence


def test_utm_codes_without_a_zone_need_one_and_only_one():
    assert read("DS6858", "utm", ["31U", "32U"]) == [1_000, 468_000, 5_658_000]
    assert read("DS6858", "", ["31U"]) == [1_000, 468_000, 5_658_000]
    assert read("31UDS6858", "utm", ["32U"]) == [1_000, 468_000, 5_658_000]
    assert fail("DS6858", "utm")[0] == "no-zone"
    assert fail("ZZ6858", "utm", ["31U", "32U"])[0] == "no-zone"
    code, sentence, suggestion = fail("CS6858", "utm", ["31U", "37U"])
    assert code == "two-zones"
    assert "31U, 37U" in sentence
    assert "31UCS6858" in suggestion


def test_the_bands_of_one_zone_may_share_a_square():
    assert read("DC2203", "utm", ["31U", "31V"]) == read("31UDC2203") == read("31VDC2203")


@pytest.mark.parametrize("zone", ["31", "U31", "61U", "31I", "31N0", "", "32X"])
def test_a_zone_that_is_none_is_one_clear_sentence(zone):
    with pytest.raises(GridError) as caught:
        references_to_squares(["DS6858"], "utm", [zone])
    assert "What to do: " in str(caught.value)


def test_a_grid_that_is_none_is_one_clear_sentence():
    with pytest.raises(GridError, match="not a grid"):
        references_to_squares(["NT27"], "osgb")


def test_squares_beyond_the_letters_have_no_name():
    assert squares_to_references([pack(1, 1_000, 1_500_000, 0), pack(2, 1_000, -1_000, 0)]).tolist() == ["", ""]
    assert squares_to_references([pack(4, 1_000, 8_000_000, 0), pack(131, 1_000, 0, 0)]).tolist() == ["", ""]


def test_a_failing_value_is_explained_once_and_every_row_gets_it():
    found = references_to_squares(["NT257", "NT27", "NT257"])
    assert found.code.tolist() == ["odd-digits", "", "odd-digits"]
    assert json.dumps(found.sentence.tolist())
