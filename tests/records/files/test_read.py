"""Files as people send them: every delimiter, encoding and kind of file gives the same records."""

from __future__ import annotations

import datetime as dt
import json
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import openpyxl  # type: ignore[import-untyped]
import pandas as pd
import pytest
from odf.opendocument import OpenDocumentSpreadsheet  # type: ignore[import-untyped]
from odf.table import Table, TableCell, TableRow  # type: ignore[import-untyped]
from odf.text import P  # type: ignore[import-untyped]

from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import Settings
from tests.records.conftest import settings

ROWS = [
    ["Species", "Grid ref", "Date", "Recorder", "Site"],
    ["Oniscus asellus", "NT2776", "12/05/1998", "A. Marsh", "Café garden, Leith"],
    ["Philoscia muscorum", "NT27", "1999", "B. Holt", "“The Links”"],
]
PLACES = ["Café garden, Leith", "“The Links”"]


def as_text(delimiter: str = ",", end: str = "\n") -> str:
    def cell(text: str) -> str:
        return f'"{text}"' if delimiter in text else text

    return end.join(delimiter.join(cell(text) for text in row) for row in ROWS) + end


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiters_encodings_and_line_ends(read: Callable[..., Records], delimiter: Any, encoding: Any, end: Any) -> None:
    records = read(as_text(delimiter, end).encode(encoding))
    assert records.files[["rows", "records"]].to_numpy().tolist() == [[2, 2]]
    frame = records.frame()
    assert frame["place"].tolist() == PLACES
    assert frame["source_row"].tolist() == [2, 3]


def test_mixed_line_ends(read: Callable[..., Records]) -> None:
    head, first, second = as_text().splitlines()
    frame = read(f"{head}\r\n{first}\n{second}\r{first.replace('1998', '1997')}\r\n".encode()).frame()
    assert frame["source_row"].tolist() == [2, 3, 4]
    assert frame["place"].tolist() == [*PLACES, PLACES[0]]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("after", ["", "\n\n\n"])
def test_a_blank_line_keeps_its_number(read: Callable[..., Records], end: str, after: str) -> None:
    """A spreadsheet shows the blank line as a row (common practice, no source)."""
    head, first, second = as_text().splitlines()
    frame = read(end.join([head, first, "", second, after.replace("\n", end)])).frame()
    assert frame["source_row"].tolist() == [2, 4]


def test_a_line_that_tells_the_delimiter(read: Callable[..., Records]) -> None:
    assert read("sep=;\n" + as_text(";")).frame()["source_row"].tolist() == [3, 4]


def test_a_semicolon_file_with_decimal_commas(read: Callable[..., Records]) -> None:
    records = read("Art;lat;lon\nOniscus asellus;55,9486;-3,1999\n", columns={"species": "Art"})
    assert records.frame()["precision_m"].tolist() == [12]


def test_quotes_inside_cells(read: Callable[..., Records]) -> None:
    text = (
        'Species,Grid ref,Site\nOniscus asellus,NT2776,"The ""Old"" mill"\n'
        'Oniscus asellus,NT2876,6" of leaf litter\nOniscus asellus,NT2976,"two\nlines"\n'
    )
    frame = read(text).frame()
    assert frame["place"].tolist() == ['The "Old" mill', '6" of leaf litter', "two\nlines"]
    assert frame["source_row"].tolist() == [2, 3, 4]


def test_a_quotation_mark_that_is_never_closed_swallows_one_row_at_most(read: Callable[..., Records]) -> None:
    good = "".join(f"Oniscus asellus,NT{20 + i % 60}76,{1950 + i}\n" for i in range(50))
    records = read(f'Species,Grid ref,Date\n{good}"Oniscus asellus,NT2776,1998\n{good}')
    assert records.files["rows"].tolist() == [101]
    assert records.files["records"].item() >= 100


@pytest.mark.parametrize(
    ("rows", "lines"),
    [
        ('Wren,NT2573,2001,"abc\nRobin,NT2573,2002,x\nDunnock,NT2574,2003,y"\n', 3),
        ('Wren,NT2573,2001,"abc\nRobin,NT2573,2002,"\n', 2),
        ('Wren,NT2573,2001,"A Marsh\nRobin,NT2573,2002,A Marsh\nDunnock,NT2573,2003,"B Holt\n', 3),
    ],
    ids=["closed two rows below", "closed in the next row", "two left open"],
)
def test_rows_that_a_missing_quotation_mark_hides_are_doubted(
    read: Callable[..., Records], rows: str, lines: int
) -> None:
    """Four cells a row, so three separators each: every line end of these cells comes with three."""
    problems = read(f"species,grid ref,date,site\n{rows}Stoat,NT2575,2004,z\n").problems()
    said = problems.query("code == 'rows in a cell'")
    assert said[["row", "column", "severity"]].to_numpy().tolist() == [[2, "site", "doubt"]]
    assert f"runs over {lines} lines" in said["sentence"].iloc[0]


@pytest.mark.parametrize(
    "note", ["by the pond,\nin rain, wind, hail, and sun", "Mill Lane\nLeith\nEdinburgh", "a,b;c,d", "one\ntwo,three"]
)
@pytest.mark.parametrize("open_elsewhere", ["", "Robin,NT2573,2002,5'6\" tall\n"], ids=["at speed", "line by line"])
def test_notes_of_several_lines_are_notes(read: Callable[..., Records], note: str, open_elsewhere: str) -> None:
    records = read(f'species,grid ref,date,site\nWren,NT2573,2001,"{note}"\n{open_elsewhere}Stoat,NT2575,2004,z\n')
    assert len(records.problems()) == 0
    assert records.frame().query("source_row == 2")["place"].tolist() == [note]


def test_ragged_rows(read: Callable[..., Records]) -> None:
    text = (
        "Species,Grid ref,Date,Site\nOniscus asellus,NT2776,1998,Leith\n"
        "Oniscus asellus,NT2876,1998\nOniscus asellus,NT2976,1998,a,b\nOniscus asellus,NT3076,1998,a,,\n"
    )
    records = read(text)
    assert records.frame()["source_row"].tolist() == [2, 3, 5]
    said = records.problems().query("row > 0").set_index("row")
    assert said.loc[3, "code"] == "too few cells"
    assert [said.loc[4, "code"], said.loc[4, "severity"]] == ["too many cells", "not a record"]
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[4, 3, 1]]


def test_a_file_name_with_marks_that_mean_something_elsewhere(read: Callable[..., Records]) -> None:
    for name in ("it's [1] *?.csv", "a;drop table x.csv", "{{ 7*7 }}.csv"):
        records = read(as_text(), name=name)
        assert records.files["file"].tolist() == [name]
        assert records.files["records"].tolist() == [2]


def write_workbook(path: Path, sheets: dict[str, list[list[object]]]) -> None:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)


def test_a_workbook_with_titles_dates_and_several_sheets(tmp_path: Path) -> None:
    path = tmp_path / "club.xlsx"
    write_workbook(
        path,
        {
            "Woodlice": [
                ["The club's records", None, None],
                [],
                ["Species", "Grid ref", "Date", "Count"],
                ["Oniscus asellus", "NT2776", dt.datetime(1998, 5, 12), 3],
                [None, None, None],
                ["Philoscia muscorum", "NT27", 1999, 2.0],
            ],
            "Beetles": [["Taxon", "Square", "Year"], ["Carabus nemoralis", "NT2876", 2001]],
            "Notes": [["Sent by post"], ["Some more to come"]],
            "Nothing": [],
        },
    )
    records = read_records([path], Settings())
    assert records.files["file"].tolist() == ["club.xlsx: Woodlice", "club.xlsx: Beetles", "club.xlsx: Notes"]
    assert records.files["records"].tolist() == [2, 1, 0]
    frame = records.frame()
    assert frame["source_row"].tolist() == [4, 6, 2]
    assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == ["1998-05-12", "1999-01-01", "2001-01-01"]
    assert frame["quantity"].tolist() == ["3", "2", ""]
    notes = records.problems().query("file == 'club.xlsx: Notes'")
    assert notes["row"].tolist() == [0]


def write_open_document(path: Path, rows: list[list[str]]) -> None:
    book = OpenDocumentSpreadsheet()
    table = Table(name="Records")
    for row in rows:
        line = TableRow()
        for text in row:
            cell = TableCell(valuetype="string")
            cell.addElement(P(text=text))
            line.addElement(cell)
        table.addElement(line)
    book.spreadsheet.addElement(table)
    book.save(str(path))


def test_an_open_document_sheet(tmp_path: Path) -> None:
    write_open_document(tmp_path / "club.ods", ROWS)
    frame = read_records([tmp_path / "club.ods"], Settings()).frame()
    assert frame["place"].tolist() == PLACES
    assert frame["source_row"].tolist() == [2, 3]


@pytest.mark.parametrize(
    ("name", "epsg"), [("p.gpkg", 4326), ("p.gpkg", 27700), ("p.geojson", 4326), ("p.shp", 4326), ("p.gpkg", 3857)]
)
def test_layers_of_points(tmp_path: Path, name: Any, epsg: Any) -> None:
    frame = gpd.GeoDataFrame(
        {"species": ["Oniscus asellus", "Philoscia muscorum"], "year": [1998, 1999]},
        geometry=gpd.points_from_xy([-3.1999, -3.18], [55.9486, 55.95]),
        crs=4326,
    )
    frame.to_crs(epsg).to_file(tmp_path / name)
    records = read_records([tmp_path / name], Settings())
    got = records.frame()
    assert records.system.name == "british"
    assert (got["easting"] // 1000).tolist() == [325, 326]
    assert (got["northing"] // 1000).tolist() == [673, 673]
    assert got["is_point"].all()


def test_features_that_are_no_points_are_problems(tmp_path: Path) -> None:
    shapes = [
        {
            "type": "Feature",
            "properties": {"species": "Oniscus asellus"},
            "geometry": {"type": "Point", "coordinates": [-3.2, 55.9]},
        },
        {
            "type": "Feature",
            "properties": {"species": "Oniscus asellus"},
            "geometry": {"type": "LineString", "coordinates": [[-3.2, 55.9], [-3.1, 55.9]]},
        },
        {"type": "Feature", "properties": {"species": "Oniscus asellus"}, "geometry": None},
    ]
    (tmp_path / "a.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": shapes}))
    records = read_records([tmp_path / "a.geojson"], Settings())
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[3, 1, 2]]


META = """<archive xmlns="http://rs.tdwg.org/dwc/text/">
<core encoding="UTF-8" fieldsTerminatedBy="{delimiter}" linesTerminatedBy="\\n"
fieldsEnclosedBy='{quote}' ignoreHeaderLines="{skip}"
 rowType="http://rs.tdwg.org/dwc/terms/{core}">
 <files><location>{file}</location></files><id index="0"/>{fields}</core>{extension}</archive>"""


def term(index: int | None, name: str, default: str = "") -> str:
    where = f'index="{index}" ' if index is not None else ""
    otherwise = f'default="{default}" ' if default else ""
    return f'<field {where}{otherwise}term="http://rs.tdwg.org/dwc/terms/{name}"/>'


def write_archive(path: Path, meta: str, files: dict[str, str]) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("meta.xml", meta)
        for name, text in files.items():
            archive.writestr(name, text)


@pytest.mark.parametrize("delimiter", ["\\t", "|", ";", ",", "||"])
def test_a_darwin_core_archive_with_any_delimiter_and_a_default(tmp_path: Path, delimiter: Any) -> None:
    fields = (
        term(0, "occurrenceID") + term(1, "scientificName") + term(2, "decimalLatitude") + term(3, "decimalLongitude")
    )
    fields += term(4, "eventDate") + term(None, "recordedBy", "A. Marsh") + term(5, "lifeStage", "adult")
    mark = delimiter.replace("\\t", "\t")
    lines = ["id,a,b,c,d,e".replace(",", mark)] + [
        mark.join(row)
        for row in (
            ["1", "Oniscus asellus", "55.9486", "-3.1999", "1998-05-12", "juvenile"],
            ["2", "Oniscus asellus", "55.95", "-3.18", "1999-06", ""],
        )
    ]
    meta = META.format(
        delimiter=delimiter, quote="", skip=1, core="Occurrence", file="occ.txt", fields=fields, extension=""
    )
    write_archive(tmp_path / "a.zip", meta, {"occ.txt": "\n".join(lines) + "\n"})
    records = read_records([tmp_path / "a.zip"], Settings())
    frame = records.frame()
    assert records.files["file"].tolist() == ["a.zip: occ.txt"]
    assert frame["source_row"].tolist() == [2, 3]
    assert frame["date_kind"].tolist() == ["day", "month"]
    assert frame["stage"].tolist() == ["juvenile", "adult"]
    assert records.people["names"].tolist()[1:] == ["A. Marsh"]


@pytest.mark.parametrize("quote", ["'", "''"])
def test_a_separator_of_several_characters_may_stand_in_a_quoted_cell(tmp_path: Path, quote: str) -> None:
    """The text guide of Darwin Core calls both marks characters and shows escapes of one; from memory."""
    fields = "".join(term(place, name) for place, name in enumerate(("scientificName", "locality", "eventDate")))
    fields += term(3, "decimalLatitude") + term(4, "decimalLongitude")
    place = "'Farm || Mill'" if quote == "'" else "Farm ' Mill"
    lines = ["a||b||c||d||e", f"Oniscus asellus||{place}||1998-05-12||55.9486||-3.1999"]
    meta = META.replace("fieldsEnclosedBy='{quote}'", 'fieldsEnclosedBy="{quote}"').format(
        delimiter="||", quote=quote, skip=1, core="Occurrence", file="occ.txt", fields=fields, extension=""
    )
    write_archive(tmp_path / "a.zip", meta, {"occ.txt": "\n".join(lines) + "\n"})
    frame = read_records([tmp_path / "a.zip"], Settings()).frame()
    assert frame["place"].tolist() == [place.strip("'")]


def meta_of_events(core: str, finds: str) -> str:
    """Description of an archive of events whose occurrences are an extension, in tab separated tables."""
    extension = f"""<extension encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n"
fieldsEnclosedBy="" ignoreHeaderLines="1"
      rowType="http://rs.tdwg.org/dwc/terms/Occurrence">
 <files><location>occ.txt</location></files><coreid index="0"/>{finds}</extension>"""
    return META.format(
        delimiter="\\t", quote="", skip=1, core="Event", file="event.txt", fields=core, extension=extension
    )


def test_a_darwin_core_archive_of_events_with_occurrences_as_extension(tmp_path: Path) -> None:
    core = (
        term(0, "eventID")
        + term(1, "decimalLatitude")
        + term(2, "decimalLongitude")
        + term(3, "eventDate")
        + term(4, "samplingProtocol")
    )
    finds = "".join([term(1, "scientificName"), term(2, "individualCount")])
    write_archive(
        tmp_path / "a.zip",
        meta_of_events(core, finds),
        {
            "event.txt": "id\tlat\tlon\tdate\thow\nE1\t55.9486\t-3.1999\t1998-05-12\tpitfall trap\n"
            "E2\t55.95\t-3.18\t1999-06-01\tsieving\n",
            "occ.txt": "id\tname\tn\nE1\tOniscus asellus\t3\n"
            "E2\tOniscus asellus\t1\nE1\tPhiloscia muscorum\t2\nE9\tPhiloscia muscorum\t2\n",
        },
    )
    records = read_records([tmp_path / "a.zip"], Settings())
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[4, 3, 1]]
    frame = records.frame()
    assert frame["method"].tolist() == ["pitfall trap", "sieving", "pitfall trap"]
    assert frame["quantity"].tolist() == ["3", "1", "2"]
    assert frame["list_id"][0] == frame["list_id"][2] != frame["list_id"][1]
    assert records.problems().query("severity == 'not a record'")["row"].unique().tolist() == [5]


def test_an_extension_that_only_adds_is_said(tmp_path: Path) -> None:
    fields = term(0, "occurrenceID") + term(1, "scientificName") + term(2, "gridReference")
    extension = """<extension encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\n"
fieldsEnclosedBy='"' ignoreHeaderLines="0"
      rowType="http://rs.tdwg.org/dwc/terms/MeasurementOrFact">
 <files><location>pic.txt</location></files><coreid index="0"/></extension>"""
    meta = META.format(
        delimiter=",", quote='"', skip=0, core="Occurrence", file="occ.csv", fields=fields, extension=extension
    )
    write_archive(tmp_path / "a.zip", meta, {"occ.csv": '1,"Oniscus asellus",NT2776\n', "pic.txt": "1,http://x\n"})
    records = read_records([tmp_path / "a.zip"], Settings())
    assert records.frame()["source_row"].tolist() == [1]
    assert "pic.txt" in records.problems().query("code == 'extension'")["sentence"].item()


def test_plain_darwin_core_text(read: Callable[..., Records]) -> None:
    text = (
        "basisOfRecord\tscientificName\teventDate\tyear\tmonth\tday\tdecimalLatitude\tdecimalLongitude\t"
        "coordinateUncertaintyInMeters\trecordedBy\n"
    )
    text += (
        "HumanObservation\tOniscus asellus Linnaeus, 1758\t1998-05-12T21:30\t1998\t5\t12\t"
        "55.9486\t-3.1999\t100\tA. Marsh|B. Holt\n"
    )
    frame = read(text, name="occurrence.txt").frame()
    assert frame["precision_m"].tolist() == [141]
    assert frame["is_visit"].tolist() == [True]
    assert frame["time_of_day"].tolist() == ["21"]
    assert frame["evidence"].tolist() == ["seen"]


def test_a_zip_of_plain_tables_is_opened(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "inbox.zip", "w") as archive:
        archive.writestr("one.csv", as_text())
        archive.writestr("two/two.tsv", as_text("\t").replace("1998", "1997"))
    records = read_records([tmp_path / "inbox.zip"], Settings())
    assert records.files["file"].tolist() == ["inbox.zip: one.csv", "inbox.zip: two/two.tsv"]
    assert records.files["rows"].tolist() == [2, 2]


def test_details_are_read_where_given(read: Callable[..., Records]) -> None:
    text = "Species,Grid ref,Date,Number,Stage,How found,Habitat,Time,Det,Evidence,Status\n"
    text += "Oniscus asellus,NT2776,12/05/1998,3♂ 2♀,adult,sieving,oak wood,21:30,B. Holt,photo,accepted\n"
    frame = read(text, columns={"method": "How found"}).frame()
    row = frame.iloc[0]
    assert row["sex"] == "both"
    assert row[["stage", "method", "habitat", "time_of_day", "identified_by", "evidence", "status"]].tolist() == [
        "adult",
        "sieving",
        "oak wood",
        "21",
        "B. Holt",
        "photograph",
        "accepted",
    ]


@pytest.mark.parametrize("rows", [0, 1, 3])
def test_every_kind_of_file_gives_the_same_records(tmp_path: Path, rows: Any) -> None:
    table = pd.DataFrame(ROWS[1:] * 3, columns=ROWS[0]).head(rows)
    table["Date"] = [f"{day:02}/05/1998" for day in range(1, rows + 1)]
    table.to_csv(tmp_path / "a.csv", index=False)
    table.to_csv(tmp_path / "a.tsv", index=False, sep="\t", encoding="utf-16")
    table.to_excel(tmp_path / "a.xlsx", index=False)
    write_open_document(tmp_path / "a.ods", [list(table.columns), *table.to_numpy().tolist()])
    frames = [
        read_records([tmp_path / name], settings()).frame().drop(columns="record_key")
        for name in ("a.csv", "a.tsv", "a.xlsx", "a.ods")
    ]
    for frame in frames[1:]:
        pd.testing.assert_frame_equal(frame, frames[0])


def test_copies_made_for_reading_are_removed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    work = tmp_path / "temporary"
    work.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(work))
    table = "Species,Grid ref\nOniscus asellus,NT2776\n"
    (tmp_path / "wide.csv").write_text(table, encoding="utf-16")
    with zipfile.ZipFile(tmp_path / "packed.zip", "w") as archive:
        archive.writestr("inside.csv", table)
        archive.writestr("broken.csv", "Species\nOniscus asellus\n")
    records = read_records([tmp_path / "wide.csv", tmp_path / "packed.zip"], settings())
    assert records.files["rows"].tolist() == [1, 1, 0]
    assert len(list(work.iterdir())) == 1, "only the database's own folder may be left while the records are in use"


def test_a_file_of_headers_alone_is_said(read: Callable[..., Records]) -> None:
    records = read("Species,Grid ref,Date\n")
    assert records.problems()["sentence"].tolist() == ["club.csv has headers and no rows below them."]


def test_a_sheet_of_remarks_is_left_out_with_a_note(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in (["Species", "Grid ref", "Date"], ["Oniscus asellus", "NT2776", "1998"]):
        book.active.append(row)
    book.create_sheet("read me").append(["Please ask me before passing these on"])
    book.save(tmp_path / "a.xlsx")
    problems = read_records([tmp_path / "a.xlsx"], settings()).problems()
    assert problems[["code", "severity"]].to_numpy().tolist() == [["no table", "note"]]


def test_a_hidden_sheet_is_left_out_and_said(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for name in ("2023", "old"):
        sheet = book.active if name == "2023" else book.create_sheet(name)
        sheet.title = name
        sheet.append(["Species", "Grid ref"])
        sheet.append(["Oniscus asellus", "NT2776"])
    book["old"].sheet_state = "hidden"
    book.save(tmp_path / "a.xlsx")
    records = read_records([tmp_path / "a.xlsx"], Settings())
    assert records.files["records"].tolist() == [1]
    assert records.problems().query("code == 'hidden sheet'")["sentence"].str.contains("old").tolist() == [True]


def test_an_empty_cell_of_an_occurrence_takes_what_its_event_says(tmp_path: Path) -> None:
    """The date stands in both tables; where the occurrence leaves it empty the event's holds, else its own."""
    core = term(0, "eventID") + term(1, "decimalLatitude") + term(2, "decimalLongitude") + term(3, "eventDate")
    finds = term(1, "scientificName") + term(2, "eventDate")
    write_archive(
        tmp_path / "a.zip",
        meta_of_events(core, finds),
        {
            "event.txt": "id\tlat\tlon\tdate\nE1\t55.9486\t-3.1999\t1998-05-12\n",
            "occ.txt": "id\tname\tdate\nE1\tOniscus asellus\t\nE1\tPhiloscia muscorum\t1998-05-13\n",
        },
    )
    frame = read_records([tmp_path / "a.zip"], Settings()).frame()
    assert frame["date_from"].dt.strftime("%Y-%m-%d").tolist() == ["1998-05-12", "1998-05-13"]
