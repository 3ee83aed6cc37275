"""Whatever a file holds: it ends as records and problems, row for row, or as one sentence; twice over the same.

Two kinds of file go through the whole reading. Tables of texts, well written: their rows are counted by the csv
module of Python, and every one must come back as a record, a problem row or a repeated row. And files of every kind
that were damaged: bytes changed, cut, doubled or put elsewhere, in the file or in the members of its archive.

2,000 rows and 40 damaged files; set GAPMAP_LONG_TESTS=1 for 100,000 rows and 2,000 damaged files.
"""

from __future__ import annotations

import csv
import io
import os
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from random import Random

import geopandas as gpd
import pandas as pd
import pytest
import xlsxwriter
from hypothesis import HealthCheck, Phase, event, given, settings
from hypothesis import strategies as st

from gapmap.columns import MEANINGS
from gapmap.errors import ColumnError, GapmapError
from gapmap.records.clean import read_records
from gapmap.records.files.headers import find_columns, find_header, header_to_word
from gapmap.records.table import Records
from gapmap.settings import Settings

IS_LONG = bool(os.environ.get("GAPMAP_LONG_TESTS"))
ROWS, DAMAGED = (100_000, 2_000) if IS_LONG else (2_000, 40)
ROWS_A_FILE = 250
pytestmark = pytest.mark.timeout(4 * 3600 if IS_LONG else 300)
PHASES = (Phase.explicit, Phase.generate)
quiet = {"deadline": None, "suppress_health_check": list(HealthCheck), "phases": PHASES}

HEADERS = (
    "Species", "Grid Ref", "Date", "Recorder", "Place", "Number", "Stage", "Sex", "Method", "Time", "Determiner",
    "Year", "Month", "Day", "Latitude", "Longitude", "Easting", "Northing", "Vice-county", "Comment", "Status",
    "End date", "Uncertainty (km)", "Common name", "Tetrad", "", "Grid ref", "Date (mm/dd/yyyy)", "Evidence",
)  # fmt: skip
#: Beside the columns that every table has, these would be a question for the person who knows the file.
UNCLEAR = ("", "Grid ref", "Date (mm/dd/yyyy)")
GOOD = ("Aglais io", "NT2776", "12/05/1998", "A. Marsh", "Blackford", "3", "larva", "f", "net", "21:30", "B. Holt")
PIECES = (
    *GOOD, "1998", "5", "13", "55.95", "-3.19", "325400", "673800", "?", "cf.", "NT27", "OR35P", "5/13/1998", "1970s",
    "c. 1950", "ditto", '"', "'", ",", ";", "\t", "\r", "\n", "\x00", "=1+1", "×", "♂", "\ufeff", "é", "Total", "-",
)  # fmt: skip
cells = st.one_of(
    st.sampled_from(PIECES), st.lists(st.sampled_from(PIECES), max_size=3).map(" ".join), st.text(max_size=8)
)


def read_twice(path: Path) -> Records | None:
    """The records of a file, read the same twice; None where a sentence refuses it."""
    answers: list[Records | str] = []
    for _ in range(2):
        try:
            answers.append(read_records([path], Settings()))
        except GapmapError as error:
            answers.append(str(error))
    first, second = answers
    if isinstance(first, str) or isinstance(second, str):
        assert first == second
        assert isinstance(first, str)
        assert "\n" not in first.strip()
        assert len(first) > 10
        return None
    for table in ("files", "species", "people"):
        pd.testing.assert_frame_equal(getattr(first, table), getattr(second, table))
    by_row = ["file_id", "source_row"]
    one, other = (found.frame().sort_values(by_row, ignore_index=True) for found in (first, second))
    pd.testing.assert_frame_equal(one, other)
    pd.testing.assert_frame_equal(first.problems(), second.problems())
    ends = first.files["records"] + first.files["problem_rows"] + first.files["duplicates"]
    assert (first.files["rows"] == ends).all()
    assert not first.problems()["sentence"].str.strip().eq("").any()
    return first


@settings(max_examples=ROWS // 20, **quiet)
@given(st.lists(st.one_of(st.sampled_from(HEADERS), st.text(max_size=10)), max_size=12), st.lists(cells, max_size=12))
def test_headers(headers: list[str], row: list[str]) -> None:
    for header in headers:
        assert header_to_word(header) == header_to_word(header_to_word(header)) or not header.isascii()
    assert 0 <= find_header([row, headers, row]) <= 2
    try:
        found = find_columns(headers, file="a", sample=[row])
    except ColumnError:
        return
    assert set(found.index) <= set(MEANINGS)
    assert len(set(found.index.values())) == len(found.index)
    assert found == find_columns(headers, file="a", sample=[row])


@settings(max_examples=ROWS // ROWS_A_FILE, **quiet)
@given(
    st.lists(st.sampled_from([header for header in HEADERS if header not in UNCLEAR]), max_size=6, unique=True),
    st.lists(cells, min_size=20, max_size=60),
    st.randoms(use_true_random=False),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    st.sampled_from(["\n", "\r\n"]),
)
def test_no_row_of_a_table_is_lost(
    further: list[str], pool: list[str], chance: Random, delimiter: str, encoding: str, line_end: str
) -> None:
    headers = list(dict.fromkeys(["Species", "Grid Ref", "Date", *further]))
    rows = [chance.choices([*pool, *GOOD], k=chance.randint(1, len(headers))) for _ in range(ROWS_A_FILE)]
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=delimiter, lineterminator=line_end)
    writer.writerows([headers, *rows])
    written = text.getvalue().encode(encoding, "replace")
    again = csv.reader(io.StringIO(written.decode(encoding).replace("\0", ""), newline=""), delimiter=delimiter)
    count = sum(any(cell and not cell.isspace() for cell in row) for row in again) - 1
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "table.csv"
        path.write_bytes(written)
        records = read_twice(path)
        event("refused" if records is None else "read")
        if records is not None:
            assert records.files["rows"].sum() == count


def csv_file() -> bytes:
    lines = [
        "Species,Grid Ref,Date,Recorder,Place",
        *(f"Aglais io,NT27{n:02d},{n % 28 + 1}/5/1998,A. Marsh,Hill" for n in range(40)),
    ]
    return "\n".join(lines).encode()


def workbook() -> bytes:
    made = io.BytesIO()
    book = xlsxwriter.Workbook(made)
    sheet = book.add_worksheet("Finds")
    for row, line in enumerate(csv_file().decode().splitlines()):
        sheet.write_row(row, 0, line.split(","))
    book.add_worksheet("Notes").write(0, 0, "nothing here")
    book.close()
    return made.getvalue()


def darwin_core() -> bytes:
    terms = ("scientificName", "decimalLatitude", "decimalLongitude", "eventDate", "recordedBy")
    fields = "".join(
        f'<field index="{n}" term="http://rs.tdwg.org/dwc/terms/{term}"/>' for n, term in enumerate(terms, 1)
    )
    meta = (
        '<archive xmlns="http://rs.tdwg.org/dwc/text/"><core encoding="UTF-8" fieldsTerminatedBy="\\t" '
        'linesTerminatedBy="\\n" fieldsEnclosedBy="" ignoreHeaderLines="1" '
        'rowType="http://rs.tdwg.org/dwc/terms/Occurrence"><files><location>finds.txt</location></files>'
        f'<id index="0"/>{fields}</core></archive>'
    )
    rows = ["id\t" + "\t".join(terms), *(f"{n}\tAglais io\t55.9{n:02d}\t-3.1\t1998-05-12\tA. Marsh" for n in range(30))]
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("meta.xml", meta)
        archive.writestr("finds.txt", "\n".join(rows))
    return made.getvalue()


def layer(driver: str, ending: str) -> bytes:
    points = gpd.points_from_xy([-3.1, -3.2, -3.3], [55.9, 55.91, 55.92])
    frame = gpd.GeoDataFrame({"species": ["Aglais io"] * 3, "date": ["1998-05-12"] * 3}, geometry=points, crs=4326)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"finds{ending}"
        frame.to_file(path, driver=driver)
        return path.read_bytes()


def parquet() -> bytes:
    made = io.BytesIO()
    pd.read_csv(io.BytesIO(csv_file())).to_parquet(made)
    return made.getvalue()


def marked_up(kind: str) -> bytes:
    where = range(10)
    if kind == "gpx":
        points = "".join(
            f'<wpt lat="55.9{n}" lon="-3.1"><time>1998-05-12</time><name>Aglais io</name></wpt>' for n in where
        )
        return (
            f'<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'.encode()
        )
    points = "".join(
        f"<Placemark><name>Aglais io</name><Point><coordinates>-3.1,55.9{n}</coordinates></Point></Placemark>"
        for n in where
    )
    return (
        f'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{points}</Document></kml>'.encode()
    )


KINDS: dict[str, Callable[[], bytes]] = {
    "finds.csv": csv_file,
    "finds.xlsx": workbook,
    "finds.zip": darwin_core,
    "finds.gpkg": lambda: layer("GPKG", ".gpkg"),
    "finds.geojson": lambda: layer("GeoJSON", ".geojson"),
    "finds.parquet": parquet,
    "finds.gpx": lambda: marked_up("gpx"),
    "finds.kml": lambda: marked_up("kml"),
}


def damaged(whole: bytes, slips: list[tuple[str, float, int]]) -> bytes:
    """Bytes after a few slips, each at a place given as a share of the length."""
    left = bytearray(whole)
    for what, share, byte in slips:
        place = int(share * len(left))
        if what == "change" and left:
            left[min(place, len(left) - 1)] = byte
        elif what == "put in":
            left[place:place] = bytes([byte]) * (1 + byte % 7)
        elif what == "take out":
            del left[place : place + 1 + byte]
        elif what == "double":
            left[place:place] = left[place : place + 50 * (1 + byte)]
        elif what == "cut":
            del left[place:]
    return bytes(left)


def damaged_inside(whole: bytes, slips: list[tuple[str, float, int]], which: int) -> bytes:
    """An archive whose members are damaged, packed again so that its sums are right."""
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(made, "w") as new:
        for number, name in enumerate(old.namelist()):
            content = old.read(name)
            new.writestr(name, damaged(content, slips) if number == which % len(old.namelist()) else content)
    return made.getvalue()


WHOLE = {name: make() for name, make in KINDS.items()}
slips = st.lists(
    st.tuples(
        st.sampled_from(["change", "put in", "take out", "double", "cut"]),
        st.floats(0, 1),
        st.one_of(st.sampled_from(list(b"\0\"',;\t\r\n<>&/.\xff0")), st.integers(0, 255)),
    ),
    min_size=1,
    max_size=3,
)


@pytest.mark.parametrize("name", sorted(KINDS))
def test_a_whole_file_gives_records(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(WHOLE[name])
    records = read_twice(tmp_path / name)
    assert records is not None
    assert records.files["records"].sum() > 0


@settings(max_examples=DAMAGED, **quiet)
@given(st.sampled_from(sorted(KINDS)), slips, st.one_of(st.none(), st.integers(0, 20)))
def test_a_damaged_file_ends_as_records_or_as_a_sentence(
    name: str, done: list[tuple[str, float, int]], inside: int | None
) -> None:
    whole = WHOLE[name]
    is_archive = zipfile.is_zipfile(io.BytesIO(whole))
    content = damaged(whole, done) if inside is None or not is_archive else damaged_inside(whole, done, inside)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        event("refused" if read_twice(path) is None else "read")
        assert path.read_bytes() == content
