"""The planned days as an iCalendar file.

Source: RFC 5545 (2009), Internet Calendaring and Scheduling Core Object Specification: line folding (3.1), text
escaping (3.3.11), VEVENT (3.6.1).
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from gapmap.outputs.whole import whole_file
from gapmap.visits.fieldsheets import FieldSheet, targets_in_words

_FOLD = 75


def write_calendar(sheets: Sequence[FieldSheet], path: Path, made_on: date) -> None:
    """Write one all-day event for every visit with a day; those with a month only have no place in a calendar."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//gapmap//field days//EN", "CALSCALE:GREGORIAN"]
    for sheet in sheets:
        lines += [] if sheet.day is None else _event(sheet, sheet.day, made_on)
    lines.append("END:VCALENDAR")
    with whole_file(path) as draft:
        draft.write_bytes("".join(fold(line) for line in lines).encode("utf-8"))


def fold(line: str) -> str:
    """A content line in pieces of at most 75 octets, none of which cuts a letter.

    Examples
    --------
    >>> fold("A" * 80).split("\\r\\n")[1]
    ' AAAAA'
    """
    pieces: list[str] = []
    piece = ""
    for letter in line:
        room = _FOLD - (1 if pieces else 0)
        if len((piece + letter).encode("utf-8")) > room:
            pieces.append(piece)
            piece = ""
        piece += letter
    return "\r\n ".join([*pieces, piece]) + "\r\n"


def escape(text: str) -> str:
    """Text as a value.

    Examples
    --------
    >>> print(escape("one; two, three"))
    one\\; two\\, three
    """
    plain = "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in text)
    return plain.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _event(sheet: FieldSheet, day: date, made_on: date) -> list[str]:
    who = " and ".join(sheet.people)
    about = [sheet.when, *sheet.remarks, targets_in_words(sheet.targets)]
    about += [f"{sheet.safety_title}: {sheet.safety[0]} {sheet.safety[-1]}", *([sheet.notice] if sheet.notice else [])]
    identity = hashlib.sha256(f"{sheet.area}|{sheet.reference}|{day}|{who}|{sheet.time_of_day}".encode()).hexdigest()
    return [
        "BEGIN:VEVENT",
        f"UID:{identity[:32]}@gapmap.invalid",
        f"DTSTAMP:{made_on:%Y%m%d}T000000Z",
        f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{day + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{escape(f'Recording in {sheet.reference}: {who}')}",
        f"LOCATION:{escape(sheet.reference)}",
        f"GEO:{sheet.middle[0]:.6f};{sheet.middle[1]:.6f}",
        f"DESCRIPTION:{escape(chr(10).join(about))}",
        "TRANSP:OPAQUE",
        "END:VEVENT",
    ]
