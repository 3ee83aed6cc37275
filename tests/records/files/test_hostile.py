"""Files that are broken or meant to do harm: one sentence each, nothing unpacked, no traceback."""

from __future__ import annotations

import io
import struct
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl  # type: ignore[import-untyped]
import pytest

from gapmap.errors import FileError, GapmapError
from gapmap.records.clean import read_records
from gapmap.records.files import archives
from gapmap.records.table import Records
from gapmap.settings import Settings

HEAD = "Species,Grid ref,Date\n"
GOOD = "Oniscus asellus,NT2776,1998\n"


def refusal(path: Path) -> str:
    """The sentence a file is refused with."""
    with pytest.raises(GapmapError) as caught:
        read_records([path], Settings())
    sentence = str(caught.value)
    assert path.name in sentence
    assert "Traceback" not in sentence
    return sentence


def zipped(path: Path, members: Mapping[str, bytes | str]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


@pytest.fixture
def workbook(tmp_path: Path) -> bytes:
    book = openpyxl.Workbook()
    for row in (["Species", "Grid ref", "Date"], ["Oniscus asellus", "NT2776", "1998"]):
        book.active.append(row)
    book.save(tmp_path / "whole.xlsx")
    return (tmp_path / "whole.xlsx").read_bytes()


def test_a_bomb_is_not_unpacked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "bomb.zip"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("a.csv", "w", force_zip64=True) as member,
    ):
        block = b"0" * 10_000_000
        for _ in range(100):
            member.write(block)
    monkeypatch.setattr(archives, "_unpack", lambda *_: pytest.fail("it was unpacked"))
    assert "far more than it should" in refusal(path)
    assert "1,000 MB" in refusal(path)


def test_a_bomb_dressed_as_a_workbook_is_not_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<workbook/>")
        archive.writestr("xl/worksheets/sheet1.xml", b" " * 150_000_000)
    assert "far more than it should" in refusal(path)


def test_an_archive_that_lies_about_its_size_is_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = zipped(tmp_path / "liar.zip", {"a.csv": HEAD + GOOD * 10_000})
    content = bytearray(path.read_bytes())
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = content.index(signature) + offset
        content[at : at + 4] = struct.pack("<I", 100)
    path.write_bytes(bytes(content))
    assert "damaged" in refusal(path)
    monkeypatch.setattr(archives, "MOST_UNPACKED", 1000)
    honest = zipped(tmp_path / "large.zip", {"a.csv": HEAD + GOOD * 10_000})
    assert "far more" in refusal(honest)


def test_nested_archives_are_refused(tmp_path: Path) -> None:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("a.csv", HEAD + GOOD)
    assert "another archive inside it" in refusal(zipped(tmp_path / "outer.zip", {"inner.zip": inner.getvalue()}))
    # Nested under a harmless name it is opened by what it is, and refused all the same.
    assert "archive" in refusal(zipped(tmp_path / "sly.zip", {"inner.csv": inner.getvalue()}))


@pytest.mark.parametrize(
    "name", ["../escaped.csv", "/etc/escaped.csv", "a/../../escaped.csv", "..\\escaped.csv", "C:\\escaped.csv"]
)
def test_names_that_lead_out_of_the_folder_are_refused(tmp_path: Path, name: Any) -> None:
    assert "outside its folder" in refusal(zipped(tmp_path / "a.zip", {name: HEAD + GOOD}))
    assert not (tmp_path.parent / "escaped.csv").exists()


def test_a_description_that_points_out_of_the_archive_is_refused(tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text(HEAD + GOOD)
    meta = f"""<archive xmlns="http://rs.tdwg.org/dwc/text/"><core
rowType="http://rs.tdwg.org/dwc/terms/Occurrence" encoding="UTF-8"
      fieldsTerminatedBy=","><files><location>{tmp_path / "secret.csv"}</location></files><id index="0"/>
      <field index="0" term="http://rs.tdwg.org/dwc/terms/scientificName"/></core></archive>"""
    assert "not in it" in refusal(zipped(tmp_path / "a.zip", {"meta.xml": meta, "b.csv": "x"}))


def test_a_description_with_entities_is_refused(tmp_path: Path) -> None:
    meta = '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]><archive>&b;</archive>'
    assert "dangerous" in refusal(zipped(tmp_path / "a.zip", {"meta.xml": meta, "b.csv": "x"}))


@pytest.mark.parametrize("meta", ["", "<archive/>", "<archive", "<archive><core/></archive>", "<html></html>"])
def test_a_broken_description_is_refused(tmp_path: Path, meta: Any) -> None:
    refusal(zipped(tmp_path / "a.zip", {"meta.xml": meta, "b.csv": HEAD + GOOD}))


def test_too_many_files(tmp_path: Path) -> None:
    assert "too many files" in refusal(zipped(tmp_path / "a.zip", {f"{i}.csv": "" for i in range(6000)}))


def test_an_archive_without_a_table(tmp_path: Path) -> None:
    assert "no table" in refusal(zipped(tmp_path / "a.zip", {"readme.pdf": "x"}))


def test_nul_bytes(read: Callable[..., Records]) -> None:
    records = read(HEAD.encode() + b"Oniscus\0 asellus,NT2776,1998\n\0\0,NT2876,1998\n" + GOOD.encode())
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[3, 2, 1]]
    assert records.species["name"].tolist() == ["Oniscus asellus"]


def test_a_cell_of_ten_megabytes(read: Callable[..., Records]) -> None:
    records = read(HEAD + GOOD + "x" * 10_000_000 + ",NT2876,1998\n" + GOOD.replace("27", "28"))
    assert records.frame()["source_row"].tolist() == [2, 4]
    said = records.problems().query("row == 3")
    assert said["code"].tolist() == ["cell too long"]
    assert len(said["value"].item()) < 200
    assert "10,000,000" in said["sentence"].item()


def test_ten_megabytes_without_a_line_end(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("x" * 10_000_000)
    refusal(path)


def test_duplicate_headers(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Species,Species,Grid ref\nOniscus asellus,Philoscia muscorum,NT27\n")
    assert "more than one column could be the species" in refusal(path)
    assert "give each column its own header" in refusal(path)


@pytest.mark.parametrize("content", [b"", b"\n\n\n", b"   \n", b"\xef\xbb\xbf", b"\xff\xfe", b",,,\n,,,\n"])
@pytest.mark.parametrize("name", ["a.csv", "a.txt"])
def test_empty_files(tmp_path: Path, content: Any, name: Any) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert "is empty" in refusal(path) or "no column" in refusal(path)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_workbook_cut_off_in_the_middle(tmp_path: Path, workbook: Any, share: Any) -> None:
    path = tmp_path / "cut.xlsx"
    path.write_bytes(workbook[: int(len(workbook) * share)])
    assert "cut off" in refusal(path)


def test_a_workbook_with_a_damaged_sheet(tmp_path: Path) -> None:
    members = {
        "[Content_Types].xml": "<Types/>",
        "xl/workbook.xml": "<workbook><sheets",
        "xl/worksheets/sheet1.xml": "<worksheet",
    }
    refusal(zipped(tmp_path / "a.xlsx", members))


def test_a_text_file_cut_off_in_the_middle(read: Callable[..., Records]) -> None:
    text = HEAD + GOOD * 3 + "Oniscus asellus,NT2"
    records = read(text)
    assert records.files[["rows", "records", "problem_rows"]].to_numpy().tolist() == [[4, 3, 1]]


def test_a_locked_workbook(tmp_path: Path) -> None:
    # What a spreadsheet program writes under a password is a compound file with a stream EncryptedPackage
    # ([MS-OFFCRYPTO] 2.3.4.4); this one holds the names and no content.
    path = tmp_path / "locked.xlsx"
    path.write_bytes(compound_file(["EncryptionInfo", "EncryptedPackage"]))
    assert "password" in refusal(path)


def compound_file(streams: list[str]) -> bytes:
    """A compound file ([MS-CFB]) of 512-byte sectors: header, one FAT sector, one directory sector, empty streams."""
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16)
    header += struct.pack(
        "<HHHHH6xIIIIIIIIII", 0x3E, 3, 0xFFFE, 9, 6, 0, 1, 1, 0, 4096, 0xFFFFFFFE, 0, 0xFFFFFFFE, 0, 0
    )
    header = header[:512].ljust(512, b"\xff")
    fat = struct.pack("<II", 0xFFFFFFFD, 0xFFFFFFFE).ljust(512, b"\xff")
    directory = b""
    for place, name in enumerate(["Root Entry", *streams]):
        text = name.encode("utf-16-le") + b"\0\0"
        right = place + 1 if 0 < place < len(streams) else 0xFFFFFFFF
        child = 1 if place == 0 else 0xFFFFFFFF
        kind = 5 if place == 0 else 2
        directory += (
            text.ljust(64, b"\0") + struct.pack("<HBBIII", len(text), kind, 1, 0xFFFFFFFF, right, child) + bytes(36)
        )
        directory += struct.pack("<IQ", 0xFFFFFFFE, 0)
    return header + fat + directory.ljust(512, b"\0")


@pytest.mark.parametrize(
    ("name", "content", "what"),
    [
        ("a.pdf", b"%PDF-1.4 x", "a PDF"),
        ("a.csv", b"\x89PNG\r\n\x1a\n", "a picture"),
        ("a.csv.gz", b"\x1f\x8b\x08\0", "compressed"),
        ("a.xls", b"<html><table></table></html>", "web page"),
        ("a.xlsx", b"\0\1\2\3" * 50, "no workbook"),
        ("a.gpkg", b"nothing", "damaged"),
        ("a.geojson", b'{"type": "FeatureCollection", "features": [', "damaged"),
        ("a.shp", b"\0\0\x27\x0a", "damaged"),
        ("a.gpkg", b"SQLite format 3\0" + bytes(100), "damaged"),
        ("a.zip", b"PK\x03\x04 and no more", "damaged"),
        ("a.csv", bytes(range(256)) * 20, ""),
    ],
)
def test_files_that_are_not_what_they_seem(tmp_path: Path, name: Any, content: Any, what: Any) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert what in refusal(path)


def test_folders_and_missing_files(tmp_path: Path) -> None:
    (tmp_path / "folder.csv").mkdir()
    assert "is a folder" in refusal(tmp_path / "folder.csv")
    assert "cannot be found" in refusal(tmp_path / "gone.csv")


@pytest.mark.parametrize(
    "text",
    [
        '=HYPERLINK("http://x")',
        "+1",
        "@SUM(A1)",
        "{{ 7*7 }}",
        "<img src=x onerror=alert(1)>",
        "'; drop table records; --",
        "%s%n",
        "\u202egpj.exe",
    ],
)
def test_text_that_means_something_elsewhere_is_only_text(read: Callable[..., Records], text: Any) -> None:
    cell = '"' + text.replace('"', '""') + '"'
    records = read(
        f"Species,Grid ref,Date,Site,Recorder\nOniscus asellus,NT2776,1998,{cell},A. Marsh\n"
        f"{cell},{cell},{cell},{cell},{cell}\n"
    )
    assert records.frame()["place"].tolist()[0] == text
    assert records.files["rows"].tolist() == [2]


@pytest.mark.parametrize("header", ["'; drop table x; --", "c0", "row", "{{ 7*7 }}", '"', "select"])
def test_headers_that_mean_something_elsewhere(read: Callable[..., Records], header: Any) -> None:
    cell = '"' + header.replace('"', '""') + '"'
    records = read(
        f"Species,Grid ref,Date,{cell}\nOniscus asellus,NT2776,1998,x\n,NT2776,1998,x\n", columns={"place": header}
    )
    assert records.frame()["place"].tolist() == ["x"]


def test_an_unreadable_file_is_a_file_error(tmp_path: Path) -> None:
    with pytest.raises(FileError):
        read_records([tmp_path / "gone.csv"], Settings())


def test_a_mark_opened_behind_a_closed_one_ends_the_row(read: Callable[..., Records]) -> None:
    """Such marks make no sense to any reader of CSV: Python's own gives up at the line end."""
    records = read(HEAD + 'Aglais io,"NT2776" x"y,1998\nPieris rapae,NT2776","19"98\n' + GOOD)
    assert records.files["rows"][0] == 3
    assert "Oniscus asellus" in records.species["name"].tolist()


def test_a_row_of_nothing_but_nul_bytes_is_blank(read: Callable[..., Records]) -> None:
    records = read(HEAD + "\0,\0 ,\n" + GOOD)
    assert records.files[["rows", "records"]].to_numpy().tolist() == [[1, 1]]
    assert records.frame()["source_row"].tolist() == [3]


def test_an_archive_whose_packing_is_damaged(tmp_path: Path) -> None:
    """The directory is whole and the packed bytes are not: each byte in turn, for zlib has several complaints."""
    path = zipped(tmp_path / "a.zip", {"a.csv": HEAD + GOOD * 20})
    whole = path.read_bytes()
    said = []
    for place in range(40, whole.index(b"PK\x01\x02")):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :])
        try:
            read_records([path], Settings())
        except GapmapError as error:
            said.append(str(error))
    assert len(said) > 40
    assert all("damaged" in sentence for sentence in said)
