"""The archive is read back by python-dwca-reader and, through our own reader, to the same records.

Outside sources: python-dwca-reader (reads the archive independently); Darwin Core quick reference guide for the
terms; ISO 8601-1 for dates and intervals.
"""

from __future__ import annotations

import csv
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd
import pytest
from dwca.read import DwCAReader

from gapmap.outputs.darwin_core import TERMS, About, records_to_occurrences, write_archive
from gapmap.records.clean import read_records
from gapmap.settings import Settings

ABOUT = About("Isle & <invented>", "Invented records.", date(2026, 11, 1), "Invented data")
ROWS = [
    ("Oniscus asellus", "OR467723", "12/05/1998", "A. Marsh", "Old mill"),
    ("Porcellio scaber", "OR47P", "June 1987", "B. Holt", "=HYPERLINK(1)"),
    ("Lithobius forficatus", "OR47NE", "1990", "", ""),
    ("Lithobius forficatus", "OQ58", "3-9 May 2001", "A. Marsh & B. Holt", "tab\there"),
]
SAME = ["name", "system", "easting", "northing", "precision_m", "date_from", "date_to", "place"]


@pytest.fixture
def records_file(tmp_path: Path) -> Path:
    path = tmp_path / "records.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["species", "grid reference", "date", "recorder", "place"])
        writer.writerows(ROWS)
    return path


def told(path: Path) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    records = read_records([path], Settings())
    return records.frame(), records.species, records.people


def test_archive_is_read_back_by_another_library(records_file: Path, tmp_path: Path) -> None:
    frame, species, people = told(records_file)
    write_archive(records_to_occurrences(frame, species, people), ABOUT, tmp_path / "out.zip")
    with DwCAReader(str(tmp_path / "out.zip")) as archive:
        rows = [row.data for row in archive]
        assert archive.descriptor.core.type == "http://rs.tdwg.org/dwc/terms/Occurrence"
        assert archive.metadata is not None
        title = archive.metadata.find("./dataset/title")
        assert title is not None
        assert title.text == ABOUT.title
    assert len(rows) == len(ROWS)
    home = "http://rs.tdwg.org/dwc/terms/"
    assert set(rows[0]) == {home + term for term in TERMS}
    assert [row[home + "eventDate"] for row in rows] == ["1998-05-12", "1987-06", "1990", "2001-05-03/2001-05-09"]
    # The half diagonal of a square, side / √2, rounded up: 100 m, 2 km, 5 km and 10 km.
    assert [row[home + "coordinateUncertaintyInMeters"] for row in rows] == ["71", "1415", "3536", "7072"]
    assert all(row[home + "recordedBy"] == "" for row in rows), "people are named only when asked for"


def test_dates_of_every_kind_leave_with_their_interval_and_kind(tmp_path: Path) -> None:
    """Intervals as ISO 8601-1 and, where an end is open, 8601-2 write them; what they cannot show is said in words."""
    expected = {
        "12/5/1998": ("1998-05-12", ""),
        "June 1987": ("1987-06", ""),
        "Jun-Aug 2001": ("2001-06-01/2001-08-31", ""),
        "1990-1999": ("1990-01-01/1999-12-31", ""),
        "pre-1960": ("../1959-12-31", ""),
        "since 1985": ("1985-01-01/..", ""),
        "Summer 1995": ("1995-06-01/1995-08-31", "date kind: season"),
        "c. 1950": ("1945-01-01/1955-12-31", "date kind: circa"),
        "1970s": ("1970-01-01/1979-12-31", "date kind: decade"),
        "19th century": ("1801-01-01/1900-12-31", "date kind: century"),
        "": ("", ""),
    }
    lines = "".join(f"Oniscus asellus,OR47{place:02d},{date}\n" for place, date in enumerate(expected))
    (tmp_path / "dates.csv").write_text("species,grid reference,date\n" + lines, encoding="utf-8")
    frame, species, people = told(tmp_path / "dates.csv")
    table = records_to_occurrences(frame.sort_values("source_row"), species, people)
    assert list(zip(table["eventDate"], table["eventRemarks"], strict=True)) == list(expected.values())


def test_records_come_back_the_same(records_file: Path, tmp_path: Path) -> None:
    frame, species, people = told(records_file)
    write_archive(records_to_occurrences(frame, species, people, with_names=True), ABOUT, tmp_path / "out.zip")
    back, species_again, people_again = told(tmp_path / "out.zip")
    before = frame.merge(species[["species_id", "name"]]).sort_values("record_id", ignore_index=True)
    after = back.merge(species_again[["species_id", "name"]]).sort_values("record_id", ignore_index=True)
    before["place"] = before["place"].str.replace("\t", " ")
    pd.testing.assert_frame_equal(before[SAME], after[SAME])
    assert set(people["names"]) == set(people_again["names"])


@pytest.mark.parametrize("place", ['The "Old" mill', "back\\slash \\n", "'single'", 'ends in a quote"', "a,b;c"])
def test_marks_of_other_formats_are_only_letters(place: str, tmp_path: Path) -> None:
    """The archive says that nothing encloses its fields, and the text guide knows no other escape."""
    path = tmp_path / "records.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(
            [["species", "grid reference", "date", "place"], ["Oniscus asellus", "OR4672", "1990", place]]
        )
    frame, species, people = told(path)
    write_archive(records_to_occurrences(frame, species, people), ABOUT, tmp_path / "out.zip")
    with DwCAReader(str(tmp_path / "out.zip")) as archive:
        assert [row.data["http://rs.tdwg.org/dwc/terms/locality"] for row in archive] == [place]
    assert told(tmp_path / "out.zip")[0]["place"].tolist() == [place]


def test_the_description_follows_the_text_guide(records_file: Path, tmp_path: Path) -> None:
    """Darwin Core text guide and its schema tdwg_dwc_text.xsd: which elements, which attributes, in which order."""
    frame, species, people = told(records_file)
    write_archive(records_to_occurrences(frame, species, people), ABOUT, tmp_path / "out.zip")
    with zipfile.ZipFile(tmp_path / "out.zip") as archive:
        root = ElementTree.fromstring(archive.read("meta.xml"))
        names, rows = set(archive.namelist()), archive.read("occurrence.txt").decode().splitlines()
    home = "{http://rs.tdwg.org/dwc/text/}"
    assert root.tag == home + "archive"
    assert root.attrib == {"metadata": "eml.xml"}
    (core,) = root
    assert core.tag == home + "core"
    known = {"linesTerminatedBy", "fieldsTerminatedBy", "fieldsEnclosedBy", "ignoreHeaderLines", "rowType", "encoding"}
    assert set(core.attrib) <= known | {"dateFormat"}
    assert [part.tag for part in core][:2] == [home + "files", home + "id"]
    assert {part.tag for part in core[2:]} == {home + "field"}
    assert {part.text for part in core[0]} <= names
    fields = core[2:]
    assert [int(part.attrib["index"]) for part in fields] == list(range(len(rows[0].split("\t"))))
    assert all(len(row.split("\t")) == len(fields) for row in rows)
    assert [part.attrib["term"].rsplit("/", 1)[1] for part in fields] == rows[0].split("\t")


def test_the_metadata_follow_their_standard(records_file: Path, tmp_path: Path) -> None:
    """EML 2.1.1, eml.xsd, eml-dataset.xsd and eml-resource.xsd: what must be there, and in which order."""
    frame, species, people = told(records_file)
    write_archive(records_to_occurrences(frame, species, people), ABOUT, tmp_path / "out.zip")
    root = ElementTree.fromstring(zipfile.ZipFile(tmp_path / "out.zip").read("eml.xml"))
    assert root.tag == "{eml://ecoinformatics.org/eml-2.1.1}eml"
    assert {"packageId", "system"} <= set(root.attrib)
    (dataset,) = root
    order = ("title", "creator", "metadataProvider", "associatedParty", "pubDate", "language", "abstract", "keywordSet",
             "intellectualRights", "distribution", "coverage", "purpose", "maintenance", "contact")  # fmt: skip
    tags = [part.tag for part in dataset]
    assert tags == sorted(tags, key=order.index)
    assert {"title", "creator", "contact"} <= set(tags)
    assert date.fromisoformat(str(dataset.findtext("pubDate"))) == ABOUT.made_on
    assert len(str(dataset.findtext("language"))) in (2, 3)
    assert [para.tag for para in dataset.findall("abstract/*")] == ["para", "para"]


def test_without_words_there_is_no_abstract(records_file: Path, tmp_path: Path) -> None:
    """EML 2.1.1, eml-text.xsd: a text holds one paragraph or section at least, so an empty abstract is not valid."""
    about = replace(ABOUT, description="", notice="")
    write_archive(records_to_occurrences(*told(records_file)), about, tmp_path / "out.zip")
    root = ElementTree.fromstring(zipfile.ZipFile(tmp_path / "out.zip").read("eml.xml"))
    assert root.find("dataset/title") is not None
    assert root.find("dataset/abstract") is None


def test_sensitive_species_are_dated_by_years(tmp_path: Path) -> None:
    """The day would lead to the other species of its list, which stand at their own place; by hand from the calendar."""
    expected = {
        "29/2/2000": ("2000", ""),
        "Jun-Aug 2001": ("2001", ""),
        "31/12/1999-1/1/2000": ("1999-01-01/2000-12-31", ""),
        "Summer 1995": ("1995", ""),
        "c. 1950": ("1945-01-01/1955-12-31", "date kind: circa"),
        "pre-1960": ("../1959-12-31", ""),
        "since May 1985": ("1985-01-01/..", ""),
        "": ("", ""),
    }
    lines = "".join(f"Oniscus asellus,OR47{place:02d},{date},in the ivy\n" for place, date in enumerate(expected))
    (tmp_path / "dates.csv").write_text("species,grid reference,date,method\n" + lines, encoding="utf-8")
    frame, species, people = told(tmp_path / "dates.csv")
    table = records_to_occurrences(frame.sort_values("source_row"), species.assign(sensitive_m=10_000), people)
    assert list(zip(table["eventDate"], table["eventRemarks"], strict=True)) == list(expected.values())
    assert set(table["samplingProtocol"]) == {""}, "it may tell the place too"
    assert set(table["dataGeneralizations"]) == {
        "placed in squares of 10000 m at the finest and dated by years, as the species is sensitive"
    }


def test_sensitive_species_are_placed_in_the_larger_square(records_file: Path, tmp_path: Path) -> None:
    frame, species, people = told(records_file)
    species = species.assign(sensitive_m=species["name"].eq("Oniscus asellus") * 10_000)
    table = records_to_occurrences(frame, species, people)
    row = table[table["scientificName"] == "Oniscus asellus"].iloc[0]
    assert row["verbatimCoordinates"] == "OR47"
    assert row["locality"] == ""
    assert row["coordinateUncertaintyInMeters"] == "7072"
    write_archive(table, ABOUT, tmp_path / "out.zip")
    text = zipfile.ZipFile(tmp_path / "out.zip").read("occurrence.txt").decode()
    assert "OR467723" not in text
    assert "Old mill" not in text


def test_equal_tables_give_equal_files(records_file: Path, tmp_path: Path) -> None:
    frame, species, people = told(records_file)
    for name in ("a.zip", "b.zip"):
        write_archive(records_to_occurrences(frame, species, people), ABOUT, tmp_path / name)
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_an_empty_table_is_an_archive_without_rows(records_file: Path, tmp_path: Path) -> None:
    frame, species, people = told(records_file)
    table = records_to_occurrences(frame.iloc[:0], species, people)
    write_archive(table, ABOUT, tmp_path / "out.zip")
    with DwCAReader(str(tmp_path / "out.zip")) as archive:
        assert len(list(archive)) == 0
