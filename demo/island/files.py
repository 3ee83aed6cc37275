"""Tables into files as people send them: text, workbooks, an OpenDocument sheet and a Darwin Core archive.

Every file is the same byte for byte each time: no clock and no random name goes into one.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from pathlib import Path
from xml.sax.saxutils import escape

import xlsxwriter

from island.sheets import Cell, Sheet
from island.terrain import ISLAND, NOTICE

_MADE = datetime(2026, 11, 1)


def write_csv(
    path: Path,
    headers: Sequence[str],
    rows: Iterable[Sequence[Cell]],
    delimiter: str = ",",
    encoding: str = "utf-8",
) -> None:
    """A delimited text file with Windows line ends."""
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow(headers)
    writer.writerows(rows)
    path.write_bytes(text.getvalue().encode(encoding))


def write_sheet_csv(path: Path, sheet: Sheet, delimiter: str = ",", encoding: str = "utf-8") -> None:
    """One table as a delimited text file."""
    write_csv(path, sheet.headers, (list(row.values()) for row in sheet.rows), delimiter, encoding)


def write_workbook(
    path: Path, sheets: Sequence[Sheet], titles: Sequence[str], remarks: Sequence[str]
) -> None:
    """A workbook: each table on its sheet, titles above the first one, real dates, and a sheet of remarks."""
    with xlsxwriter.Workbook(
        str(path), {"default_date_format": "dd/mm/yyyy", "strings_to_numbers": False}
    ) as book:
        book.set_properties({"created": _MADE, "title": titles[0], "comments": NOTICE})
        bold = book.add_format({"bold": True})
        for sheet in sheets:
            page = book.add_worksheet(sheet.name)
            for number, title in enumerate(titles if sheet.first_row > 2 else ()):
                page.write_string(number, 0, title, bold)
            for column, header in enumerate(sheet.headers):
                page.write_string(sheet.first_row - 2, column, header, bold)
            for position, row in enumerate(sheet.rows):
                for column, cell in enumerate(row.values()):
                    _write_cell(page, sheet.first_row - 1 + position, column, cell)
            page.set_column(0, len(sheet.headers) - 1, 18)
        page = book.add_worksheet("read me")
        for number, remark in enumerate(remarks):
            page.write_string(number, 0, remark)


def _write_cell(page: xlsxwriter.worksheet.Worksheet, row: int, column: int, cell: Cell) -> None:
    if isinstance(cell, date):
        page.write_datetime(row, column, datetime(cell.year, cell.month, cell.day))
    elif isinstance(cell, int | float):
        page.write_number(row, column, cell)
    elif cell:
        page.write_string(row, column, cell)


def write_open_document(path: Path, sheet: Sheet) -> None:
    """An OpenDocument spreadsheet with one table (ODF 1.2, part 1: office:spreadsheet)."""
    rows = [list(sheet.headers), *(list(row.values()) for row in sheet.rows)]
    table = "".join(f"<table:table-row>{''.join(map(_open_cell, row))}</table:table-row>" for row in rows)
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {spaces} office:version="1.2"><office:body>'
        f'<office:spreadsheet><table:table table:name="{escape(sheet.name)}">{table}</table:table></office:spreadsheet>'
        "</office:body></office:document-content>"
    )
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    manifest = (
        '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest '
        'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0" manifest:version="1.2">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        '<manifest:file-entry manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>'
    )
    write_zip(
        path,
        {"mimetype": kind, "content.xml": content, "META-INF/manifest.xml": manifest},
        stored=("mimetype",),
    )


def _open_cell(cell: Cell) -> str:
    if cell == "":
        return "<table:table-cell/>"
    if isinstance(cell, int | float):
        kind = f'office:value-type="float" office:value="{cell}"'
        return f"<table:table-cell {kind}><text:p>{cell}</text:p></table:table-cell>"
    return f'<table:table-cell office:value-type="string"><text:p>{escape(str(cell))}</text:p></table:table-cell>'


def write_zip(path: Path, members: dict[str, str], stored: Sequence[str] = ()) -> None:
    """A zip file whose members carry no clock time."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, text in members.items():
            info = zipfile.ZipInfo(name, (2026, 11, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_STORED if name in stored else zipfile.ZIP_DEFLATED
            info.external_attr = 0o644 << 16
            archive.writestr(info, text.encode("utf-8"))


def write_darwin_core(path: Path, terms: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """A Darwin Core archive with one table of occurrences, tab separated, its first column the identifier.

    Source: Darwin Core text guide, dwc.tdwg.org/text.
    """
    lines = ["\t".join(terms), *("\t".join(row) for row in rows)]
    fields = "".join(
        f'<field index="{index}" term="http://rs.tdwg.org/dwc/terms/{term}"/>'
        for index, term in enumerate(terms)
        if index
    )
    meta = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml">'
        '<core encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n" fieldsEnclosedBy="" '
        'ignoreHeaderLines="1" '
        'rowType="http://rs.tdwg.org/dwc/terms/Occurrence"><files><location>occurrence.txt</location></files>'
        f'<id index="0"/>{fields}</core></archive>\n'
    )
    about = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<eml:eml xmlns:eml="https://eml.ecoinformatics.org/eml-2.2.0" '
        'packageId="invented-archive" system="invented" xml:lang="en"><dataset>'
        f"<title>Archive of ground invertebrates of {ISLAND}, 1966 to 1999 (invented)</title>"
        f"<creator><organizationName>Natural History Society of {ISLAND} (invented)</organizationName></creator>"
        f"<abstract><para>{NOTICE}</para></abstract>"
        f"<contact><organizationName>Natural History Society of {ISLAND} (invented)</organizationName></contact>"
        "</dataset></eml:eml>\n"
    )
    write_zip(path, {"meta.xml": meta, "eml.xml": about, "occurrence.txt": "\n".join(lines) + "\n"})
