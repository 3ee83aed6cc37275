"""Whose column is what. The Darwin Core terms are those of its quick reference guide (dwc.tdwg.org/terms)."""

from __future__ import annotations

from typing import Any

import pytest

from gapmap.columns import MEANINGS
from gapmap.errors import ColumnError
from gapmap.records.files.headers import _RANKS, find_columns, find_header, header_to_word


def found(headers: list[str], **options: object) -> dict[str, str]:
    columns = find_columns(headers, file="a.csv", **options)  # type: ignore[arg-type]
    return {meaning: columns.header(meaning) for meaning in columns.index}


def test_darwin_core_terms() -> None:
    headers = [
        "occurrenceID",
        "basisOfRecord",
        "scientificName",
        "vernacularName",
        "eventDate",
        "year",
        "month",
        "day",
        "decimalLatitude",
        "decimalLongitude",
        "coordinateUncertaintyInMeters",
        "geodeticDatum",
        "recordedBy",
        "identifiedBy",
        "locality",
        "lifeStage",
        "sex",
        "individualCount",
        "samplingProtocol",
        "habitat",
        "eventTime",
        "identificationVerificationStatus",
        "occurrenceRemarks",
        "country",
    ]
    assert found(headers) == {
        "evidence": "basisOfRecord",
        "species": "scientificName",
        "vernacular": "vernacularName",
        "date": "eventDate",
        "year": "year",
        "month": "month",
        "day": "day",
        "latitude": "decimalLatitude",
        "longitude": "decimalLongitude",
        "uncertainty": "coordinateUncertaintyInMeters",
        "crs": "geodeticDatum",
        "recorder": "recordedBy",
        "determiner": "identifiedBy",
        "place": "locality",
        "stage": "lifeStage",
        "sex": "sex",
        "quantity": "individualCount",
        "method": "samplingProtocol",
        "habitat": "habitat",
        "time": "eventTime",
        "status": "identificationVerificationStatus",
        "comment": "occurrenceRemarks",
    }


def test_darwin_core_terms_with_their_addresses() -> None:
    headers = [
        "http://rs.tdwg.org/dwc/terms/scientificName",
        "dwc:eventDate",
        "dwc:decimalLatitude",
        "dwc:decimalLongitude",
    ]
    assert found(headers) == dict(zip(["species", "date", "latitude", "longitude"], headers, strict=True))


@pytest.mark.parametrize(
    ("headers", "expected"),
    [
        (
            ["Taxon", "Grid Ref.", "Date", "Recorder"],
            {"species": "Taxon", "reference": "Grid Ref.", "date": "Date", "recorder": "Recorder"},
        ),
        (
            ["SPECIES NAME", "OSGR", "When", "Observer(s)"],
            {"species": "SPECIES NAME", "reference": "OSGR", "date": "When", "recorder": "Observer(s)"},
        ),
        (["Name", "Square", "Year"], {"species": "Name", "reference": "Square", "year": "Year"}),
        (
            ["Latin name", "Common name", "Easting", "Northing", "Accuracy (m)"],
            {
                "species": "Latin name",
                "vernacular": "Common name",
                "easting": "Easting",
                "northing": "Northing",
                "uncertainty": "Accuracy (m)",
            },
        ),
        (["Common name", "Tetrad"], {"species": "Common name", "reference": "Tetrad"}),
        (
            ["organisationName", "gridReference", "year", "taxonName", "taxonGroup"],
            {
                "recorder": "organisationName",
                "reference": "gridReference",
                "year": "year",
                "species": "taxonName",
                "group": "taxonGroup",
            },
        ),
        (
            ["utm1km", "year", "scientific_name", "long", "lat"],
            {
                "reference": "utm1km",
                "year": "year",
                "species": "scientific_name",
                "longitude": "long",
                "latitude": "lat",
            },
        ),
        (
            ["Genus", "specificEpithet", "gridRef"],
            {"genus": "Genus", "epithet": "specificEpithet", "reference": "gridRef"},
        ),
    ],
)
def test_everyday_headers(headers: Any, expected: Any) -> None:
    assert found(headers) == expected


def test_a_named_recorder_comes_before_an_organisation() -> None:
    assert found(["Species", "Grid ref", "Society", "Recorder"])["recorder"] == "Recorder"


def test_the_whole_reference_comes_before_its_tetrad_and_hectad() -> None:
    assert found(["Species", "Hectad", "Tetrad", "Grid reference"])["reference"] == "Grid reference"
    assert found(["Species", "Hectad", "Tetrad"])["reference"] == "Tetrad"


def test_an_empty_column_does_not_stand_in_the_way() -> None:
    sample = [["", "Oniscus asellus", "NT27"], ["", "Philoscia muscorum", "NT27"]]
    assert found(["Scientific name", "Species", "Grid ref"], sample=sample)["species"] == "Species"


def test_genus_and_species_columns_are_joined_when_the_species_is_a_single_word() -> None:
    sample = [["Oniscus", "asellus", "NT27"], ["Philoscia", "muscorum", "NT28"]]
    assert found(["Genus", "Species", "Grid ref"], sample=sample) == {
        "genus": "Genus",
        "epithet": "Species",
        "reference": "Grid ref",
    }


def test_references_are_found_by_their_looks() -> None:
    sample = [["Oniscus asellus", "Leith", "NT 27 76"], ["Oniscus asellus", "Leith", "NT2776"]]
    assert found(["Species", "Where it was", "Spot"], sample=sample)["reference"] == "Spot"


def test_the_person_has_the_last_word() -> None:
    mapping = {"species": "Critter", "reference": "Spot", "date": ""}
    assert found(["Species", "Critter", "Spot", "Date"], mapping=mapping) == {"species": "Critter", "reference": "Spot"}


@pytest.mark.parametrize(
    ("headers", "mapping", "parts"),
    [
        (
            ["Colour", "Grid ref"],
            {},
            ["a.csv: no column for the species", "Colour, Grid ref", '--columns "species=HEADER"'],
        ),
        (["Species", "Colour"], {}, ["no column for the place", "Species, Colour", '--columns "reference=HEADER"']),
        (
            ["Species", "Species", "Grid ref"],
            {},
            ["more than one column could be the species", "(column 1)", "(column 2)"],
        ),
        (["Taxon", "Species", "Grid ref"], {}, ["more than one column could be the species", "Taxon", "Species"]),
        (["X", "X", "Grid ref"], {"species": "X"}, ["more than one column is headed X"]),
    ],
)
def test_what_cannot_be_told_is_one_sentence(headers: Any, mapping: Any, parts: Any) -> None:
    with pytest.raises(ColumnError) as caught:
        find_columns(headers, mapping, file="a.csv")
    for part in parts:
        assert part in str(caught.value)


def test_duplicate_headers_with_the_same_cells_are_no_question() -> None:
    sample = [["Oniscus asellus", "Oniscus asellus", "NT27"]]
    assert found(["Species", "Species", "Grid ref"], sample=sample)["species"] == "Species"


def test_no_word_stands_for_two_meanings_on_its_own() -> None:
    owners: dict[str, list[str]] = {}
    for meaning, words in _RANKS.items():
        for word in words:
            owners.setdefault(word, []).append(meaning)
    assert {word: meanings for word, meanings in owners.items() if len(meanings) > 1} == {}
    assert set(_RANKS) == set(MEANINGS)


def test_header_words() -> None:
    assert header_to_word("Grid_Ref") == header_to_word("gridRef") == header_to_word("GRID REF:") == "gridref"
    assert header_to_word("(m)") == "m"


def test_the_header_row_is_found_under_a_title() -> None:
    rows = [["Records of the club, 2001"], [""], ["Species", "Grid ref", "Date"], ["Oniscus asellus", "NT27", "2001"]]
    assert find_header(rows) == 2
    assert find_header([[""], ["one", "two"]]) == 1
