"""Stage, sex, quantity, time and evidence. What the words and signs mean is common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from gapmap.records.details.methods import texts_to_method
from gapmap.records.details.words import (
    texts_to_evidence,
    texts_to_quantity,
    texts_to_sex,
    texts_to_stage,
    texts_to_time_of_day,
)


@pytest.mark.parametrize(
    ("text", "value", "sex", "stage", "count"),
    [
        ("3♂ 2♀", "3 male; 2 female", "both", "", 5),
        ("♂2 ♀3", "2 male; 3 female", "both", "", 5),
        ("1m 2f", "1 male; 2 female", "both", "", 3),
        ("2M 1F 3J", "2 male; 1 female; 3 juvenile", "both", "juvenile", 6),
        ("2 males and 1 female", "2 male; 1 female", "both", "", 3),
        ("3 adults, 2 larvae", "3 adult; 2 larva", "", "adult; larva", 5),
        ("two males", "2 male", "male", "", 2),
        ("several", "several", "", "", -1),
        ("Lots", "many", "", "", -1),
        ("10-20", "10-20", "", "", 10),
        ("50+", "50+", "", "", 50),
        (">100", "100+", "", "", 100),
        ("c. 30", "c. 30", "", "", 30),
        ("1,200", "1200", "", "", 1200),
        ("12.0", "12", "", "", 12),
        ("5 ind.", "5", "", "", 5),
        ("a pair", "2", "", "", 2),
        ("A", "abundant", "", "", -1),
        ("", "", "", "", -1),
    ],
)
def test_quantities(text: str, value: str, sex: str, stage: str, count: int) -> None:
    found = texts_to_quantity([text]).iloc[0]
    assert (found["value"], found["sex"], found["stage"], found["count"], found["code"]) == (
        value,
        sex,
        stage,
        count,
        "",
    )


@pytest.mark.parametrize("text", ["0", "none", "absent", "0.0", "not seen"])
def test_nought_is_no_record(text: str) -> None:
    found = texts_to_quantity([text]).iloc[0]
    assert (found["code"], found["severity"], found["count"]) == ("none found", "not a record", 0)


@pytest.mark.parametrize("text", ["1,5", "12345678"])
def test_a_number_is_never_cut_in_two(text: str) -> None:
    found = texts_to_quantity([text]).iloc[0]
    assert (found["value"], found["code"]) == (text, "quantity not read")


def test_what_is_not_understood_is_kept_as_written() -> None:
    found = texts_to_quantity(["5 per  net"]).iloc[0]
    assert (found["value"], found["severity"]) == ("5 per net", "note")


@pytest.mark.parametrize(
    ("text", "value"),
    [("♂", "male"), ("M", "male"), ("female", "female"), ("♀♀", "female"), ("both", "both"), ("M/F", "both"),
     ("1m 2f", "both"), ("adult male", "male"), ("queen", "female"), ("unsexed", ""), ("?", ""), ("juvenile", "")],
)  # fmt: skip
def test_sexes(text: str, value: str) -> None:
    found = texts_to_sex([text]).iloc[0]
    assert (found["value"], found["code"]) == (value, "")


@pytest.mark.parametrize(
    ("text", "value"),
    [("Adult", "adult"), ("imago", "adult"), ("larvae", "larva"), ("larva (3rd instar)", "larva"), ("Juv.", "juvenile"),
     ("imm", "juvenile"), ("adult & larva", "larva; adult"), ("egg mass", "egg"), ("exuviae", "exuvia"), ("male", ""),
     ("in flower", "flowering"), ("N/A", ""), ("", "")],
)  # fmt: skip
def test_stages(text: str, value: str) -> None:
    found = texts_to_stage([text]).iloc[0]
    assert (found["value"], found["code"]) == (value, "")


@pytest.mark.parametrize(
    ("text", "value"),
    [("21:30", "21"), ("9.15 pm", "21"), ("12am", "00"), ("12 pm", "12"), ("2130", "21"), ("7pm", "19"), ("21h", "21"),
     ("10 o'clock", "10"), ("night", "night"), ("After dark", "night"), ("dusk", "dusk"), ("evening", "dusk"),
     ("morning", "day"), ("21:30-23:00", "21"), ("10am to 4pm", "10"), ("2010-05-12T14:30Z", "14"), ("0.5", "12"),
     ("12/05/1998 21:30", "21"), ("1998-05-12 00:00:00", ""), ("00:30", "00"), ("", "")],
)  # fmt: skip
def test_times(text: str, value: str) -> None:
    found = texts_to_time_of_day([text]).iloc[0]
    assert (found["value"], found["code"]) == (value, "")


def test_a_time_that_is_none_is_said() -> None:
    assert texts_to_time_of_day(["25:00", "teatime"])["code"].tolist() == ["time not read"] * 2


@pytest.mark.parametrize(
    ("text", "value"),
    # the last four are values of Darwin Core's basisOfRecord, quick reference guide
    [("photo", "photograph"), ("Genitalia det.", "dissection"), ("specimen kept", "voucher"), ("heard only", "sound"),
     ("reared from larva", "reared"), ("spraint", "trace"), ("HumanObservation", "seen"),
     ("PreservedSpecimen", "voucher"), ("MachineObservation", "machine"), ("MaterialSample", "voucher")],
)  # fmt: skip
def test_evidence(text: str, value: str) -> None:
    found = texts_to_evidence([text]).iloc[0]
    assert (found["value"], found["code"]) == (value, "")


def test_short_forms_of_methods_are_written_out() -> None:
    # Common practice, no source.
    assert texts_to_method(["hs", "P.T.", "SV", "torch", "MT", ""])["value"].tolist() == [
        "hand search", "pitfall trap", "sieving", "torch", "MT", "",
    ]  # fmt: skip
    assert len(texts_to_method([])) == 0


@pytest.mark.parametrize(("text", "hint"), [("-4", "4, if the dash is a slip"), ("1O", "10, if a digit was meant")])
def test_counts_that_cannot_be_are_kept_and_said(text: Any, hint: Any) -> None:
    found = texts_to_quantity([text]).iloc[0]
    assert (found["value"], found["count"], found["severity"], found["suggestion"]) == (text, -1, "doubt", hint)
