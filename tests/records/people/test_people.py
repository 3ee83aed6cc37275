"""Recorders as people write them. The forms are common practice, no source; all people are invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from gapmap.errors import ColumnError, FileError
from gapmap.records.people.joining import read_people, texts_to_people, unclear_people
from gapmap.records.people.texts import text_to_cell


def names(*texts: str) -> list[str]:
    return texts_to_people(list(texts))["names"].tolist()


@pytest.mark.parametrize(
    "text",
    ["A. Marsh & B. Holt", "Marsh, A.; Holt, B.", "Marsh, A. & Holt, B.", "Marsh, A., Holt, B.", "A Marsh, B Holt",
     "MARSH A; HOLT B", "B. Holt / A. Marsh", "A. Marsh and B. Holt", "Dr A. Marsh; Mrs B. Holt", "A.Marsh+B.Holt",
     "A. Marsh; B. Holt; A. Marsh", "leg. A. Marsh & B. Holt", "a. marsh & b. holt"],
)  # fmt: skip
def test_two_people_in_many_hands(text: str) -> None:
    found = texts_to_people([text]).iloc[0]
    assert (found["names"], found["size"]) == ("A. Marsh; B. Holt", 2)


@pytest.mark.parametrize("text", ["", "Anon", "anon.", "unknown", "?", "various", "-"])
def test_nobody(text: str) -> None:
    found = texts_to_people([text]).iloc[0]
    assert (found["names"], found["size"]) == ("", 0)


@pytest.mark.parametrize(
    ("text", "people", "determiner", "sender"),
    [
        ("A. Marsh det. B. Holt", ["A. Marsh"], "B. Holt", ""),
        ("leg. A. Marsh, det. B. Holt", ["A. Marsh"], "B. Holt", ""),
        ("A. Marsh (conf. B. Holt)", ["A. Marsh"], "B. Holt", ""),
        ("det. B. Holt", [], "B. Holt", ""),
        ("A. Marsh per C. Dee", ["A. Marsh"], "", "C. Dee"),
        ("per C. Dee", [], "", "C. Dee"),
        ("A. Marsh, det. B. Holt per C. Dee", ["A. Marsh"], "B. Holt", "C. Dee"),
    ],
)
def test_determiner_and_sender_are_not_recorders(text: str, people: list[str], determiner: str, sender: str) -> None:
    cell = text_to_cell(text)
    assert ([person.written for person in cell.people], cell.determiner, cell.sender) == (people, determiner, sender)


@pytest.mark.parametrize(
    ("text", "expected", "size"),
    [
        ("A. & B. Holt", "A. Holt; B. Holt", 2),
        ("Marsh, Holt & Dee", "Dee; Holt; Marsh", 3),
        ("Mr & Mrs J. Holt", "J. Holt", 2),
        ("Ann Marsh et al.", "Ann Marsh", 2),
        ("Ann Marsh and family", "Ann Marsh", 2),
        ("van der Berg, Kees", "Kees van der Berg", 1),
        ("J. O'BRIEN", "J. O'Brien", 1),
        ("Smith-Jones, P.", "P. Smith-Jones", 1),
        ("Jean-Luc Dubois", "Jean-Luc Dubois", 1),
        ("MARSH AJ", "A. J. Marsh", 1),
        ("Island Recording Group", "Island Recording Group", 1),
        ("Society of Fen & Marsh", "Society of Fen & Marsh", 1),
        ("A. Marsh & Island Recording Group", "A. Marsh; Island Recording Group", 2),
    ],
)
def test_other_forms(text: str, expected: str, size: int) -> None:
    found = texts_to_people([text]).iloc[0]
    assert (found["names"], found["size"]) == (expected, size)


def test_variants_are_joined_when_they_can_be_one_person_only() -> None:
    assert names("A. Marsh", "Marsh, Ann", "Ann Marsh", "A. J. Marsh & B. Holt") == [
        "A. J. Marsh", "A. J. Marsh", "A. J. Marsh", "A. J. Marsh; B. Holt",
    ]  # fmt: skip


def test_variants_that_can_be_two_people_stay_apart_and_are_listed() -> None:
    texts = ["A. Marsh", "Ann Marsh", "Alan Marsh", "B. Holt"]
    found = texts_to_people(texts)
    assert found["names"].tolist() == texts
    assert found["code"].tolist() == ["person unclear", "", "", ""]
    assert found["sentence"][0] == "A. Marsh in “A. Marsh” can be Alan Marsh or Ann Marsh."
    assert unclear_people(texts).values.tolist() == [["A. Marsh", "", "Alan Marsh; Ann Marsh"]]


def test_a_bare_surname_is_not_joined() -> None:
    assert names("Marsh", "A. Marsh") == ["Marsh", "A. Marsh"]


def test_the_organiser_decides(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_text("written,name\nA. Marsh,Ann Marsh\nTwitcher99,Alan Marsh\nMarsh,\n", encoding="utf-8")
    known = read_people(path)
    texts = ["Marsh, A.", "Ann Marsh", "Alan Marsh", "Twitcher99"]
    found = texts_to_people(texts, known)
    assert found["names"].tolist() == ["Ann Marsh", "Ann Marsh", "Alan Marsh", "Alan Marsh"]
    assert (found["code"] == "").all()
    assert unclear_people(texts, known).empty


def test_the_order_of_texts_does_not_matter() -> None:
    texts = ["A. Marsh", "Ann Marsh", "A. J. Holt", "Holt, A.", "Alan Marsh", "Bea Holt"]
    forwards = dict(zip(texts, names(*texts), strict=True))
    backwards = dict(zip(texts[::-1], names(*texts[::-1]), strict=True))
    assert forwards == backwards


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [("person\nA. Marsh\n", ColumnError, "no column called written"),
     ("written,name\nA. Marsh,Ann Marsh\nMarsh A,Alan Marsh\n", FileError, "two names for one")],
)  # fmt: skip
def test_a_file_of_people_that_cannot_be(tmp_path: Path, text: str, kind: type[Exception], words: str) -> None:
    path = tmp_path / "people.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(kind, match=words):
        read_people(path)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("RSPB", "RSPB"),
        ("RSPB Scotland", "RSPB Scotland"),
        ("Marsh &amp; Holt", "Holt; Marsh"),
        ("O&#39;Brien, J.", "J. O'Brien"),
        ("Holt <b.holt@example.org>", "Holt"),
        ("b.holt@example.org", ""),
        ("et al.", ""),
        ("MARSH A J", "A. J. Marsh"),
        ("ANNA MARSH", "Anna Marsh"),
    ],
)
def test_acronyms_entities_and_addresses(text: Any, names: Any) -> None:
    assert texts_to_people([text]).names.tolist() == [names]


def test_a_shouted_surname_is_the_same_person() -> None:
    assert texts_to_people(["HOLT", "Holt"]).names.nunique() == 1


@pytest.mark.parametrize("surname", ["Group", "Park", "Lady", "Det", "Per", "Others", "Anon", "Marsh", "Public", "By"])
def test_initials_and_a_word_are_read_alike_whatever_stands_beside_them(surname: str) -> None:
    """One space, as most write, and two, which is no matter of meaning (common practice, no source)."""
    for text in (f"A. {surname}", f"A. B. {surname} & C. Holt", f"C. Holt & A. {surname}"):
        assert text_to_cell(text) == text_to_cell(text.replace(". ", ".  ", 1))


@pytest.mark.parametrize(("written", "people"), [
    ("García López, M.", ["M. García López"]),
    ("García López, M.; Holt, B.", ["M. García López", "B. Holt"]),
    ("Ann Marsh, B. Holt", ["Ann Marsh", "B. Holt"]),
    ("A. Marsh, B.", ["A. Marsh", "B."]),
])
def test_initials_behind_a_surname_of_two_words_are_no_second_person(written: str, people: list[str]) -> None:
    assert [person.written for person in text_to_cell(written).people] == people
