"""Seeded mistakes in the tables, each with its answer, and odd records for checking records by."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import numpy as np
import pandas as pd

from island.chance import stream
from island.fauna import Fauna
from island.sheets import Cell, Row, Sheet, day_first
from island.slips import Slip, Surroundings, make_slips, text_to_day
from island.terrain import Terrain

#: How often each slip is made in each file.
_PLAN: dict[str, dict[str, int]] = {
    "Orrowby 2016-2026.xlsx": {
        "name misspelt": 9,
        "name unknown": 3,
        "name missing": 1,
        "name uncertain": 4,
        "reference with an odd number of digits": 6,
        "reference with letters that cannot be": 4,
        "tetrad letter that cannot be": 2,
        "tetrad letter on the wrong length": 2,
        "reference missing": 2,
        "letters of a square far away": 3,
        "reference in the sea": 3,
        "date that cannot be": 4,
        "date in the future": 3,
        "date before 1600": 1,
        "date missing": 1,
        "count that cannot be": 1,
        "row twice": 4,
        "also in the society's file": 2,
    },
    "Quellick Ottenhaven 2010-2019.csv": {
        "name misspelt": 9,
        "name unknown": 2,
        "name uncertain": 3,
        "reference with an odd number of digits": 5,
        "reference with letters that cannot be": 3,
        "reference missing": 1,
        "letters of a square far away": 3,
        "reference in the sea": 2,
        "date that cannot be": 5,
        "month before day": 5,
        "date in the future": 2,
        "date before 1600": 2,
        "year in two figures": 4,
        "row twice": 3,
        "also in the society's file": 3,
        "place and reference disagree": 3,
    },
    "IF notebooks.ods": {
        "name misspelt": 8,
        "name abbreviated": 6,
        "name uncertain": 4,
        "name unknown": 2,
        "reference with an odd number of digits": 5,
        "tetrad letter that cannot be": 3,
        "tetrad letter on the wrong length": 2,
        "reference with letters that cannot be": 2,
        "reference missing": 2,
        "end before start": 4,
        "date that cannot be": 3,
        "date in the future": 1,
        "date missing": 2,
        "row twice": 3,
        "again at 10 km": 3,
        "count that cannot be": 1,
    },
    "vastrey_export.csv": {
        "name misspelt": 7,
        "name unknown": 2,
        "latitude and longitude exchanged": 5,
        "sign of the longitude": 5,
        "minutes read as decimals": 4,
        "decimal point left out": 4,
        "latitude missing": 2,
        "date that cannot be": 4,
        "date in the future": 3,
        "date before 1600": 1,
        "date missing": 1,
        "row twice": 3,
        "uncertainty that cannot be": 2,
    },
}
_ODD: dict[str, int] = {
    "wrong letters": 10,
    "easting and northing exchanged": 8,
    "two digits exchanged": 8,
    "wrong leading digit": 10,
    "day and month exchanged": 4,
    "year off by ten": 5,
    "out of season": 5,
    "name of a look-alike": 6,
    "name one line away": 8,
    "stray indoors": 6,
}
_BARK_DWELLERS = (
    "Proteroiulus fuscus",
    "Nemasoma varicorne",
    "Geophilus truncorum",
    "Cylindroiulus punctatus",
)
_COLUMNS = ["file", "sheet", "row", "column", "kind", "seen", "found", "should_be"]


def make_mistakes(
    sheets: list[Sheet], terrain: Terrain, fauna: Fauna
) -> tuple[list[Sheet], pd.DataFrame, pd.DataFrame]:
    """Spoil the tables on purpose.

    Returns
    -------
    list of Sheet, DataFrame, DataFrame
        The spoilt tables; the mistakes and the odd records: file, sheet, row (as a spreadsheet shows it), column, kind,
        seen (what it takes to notice: cell, context, note or odd), found, should_be.
    """
    names = [*fauna.species["name"], *(s for text in fauna.species["synonyms"] for s in text.split(";"))]
    slips = make_slips(Surroundings(frozenset(names), terrain.boundary))
    society, others = sheets[0], sheets[1:]
    society, odd = _make_odd(society, slips, fauna)
    log: list[list[object]] = []
    spoilt = []
    for sheet in others:
        if sheet.name == "Town nights":  # a sheet that nobody has spoilt
            spoilt.append(sheet)
            continue
        sheet, society = _spoil(sheet, society, _PLAN[sheet.file], slips, log)
        spoilt.append(sheet)
    mistakes = pd.DataFrame(log, columns=_COLUMNS).sort_values(
        ["file", "sheet", "row"], kind="stable", ignore_index=True
    )
    return [society, *spoilt], mistakes, odd


def _spoil(
    sheet: Sheet, society: Sheet, plan: Mapping[str, int], slips: dict[str, Slip], log: list[list[object]]
) -> tuple[Sheet, Sheet]:
    generator = stream("mistakes", sheet.file)
    rows, note = list(sheet.rows), list(sheet.note)
    free = [int(row) for row in generator.permutation(len(rows))]
    for kind, times in plan.items():
        for _ in range(times):
            if kind in ("row twice", "again at 10 km", "also in the society's file"):
                society = _repeat(sheet, society, rows, note, free, kind, log)
            elif kind == "place and reference disagree":
                _disagree(sheet, rows, free, kind, log)
            else:
                slip = slips[kind]
                column = sheet.roles[slip.role]
                at, wrong = _first_that_can(slip, column, rows, free, generator)
                _log(log, sheet, at, column, slip.kind, slip.seen, wrong, rows[at][column])
                rows[at] = _with(rows[at], column, wrong, swap="longitude" if "exchanged" in kind else "")
    return sheet.with_rows(rows, note), society


def _first_that_can(
    slip: Slip, column: str, rows: list[Row], free: list[int], generator: np.random.Generator
) -> tuple[int, Cell]:
    for place, at in enumerate(free):
        wrong = slip.make(rows[at], column, generator)
        if wrong is not None and wrong != rows[at][column]:
            del free[place]
            return at, wrong
    raise ValueError(f"no row of the table can bear this slip: {slip.kind}")


def _with(row: Row, column: str, value: Cell, swap: str = "") -> Row:
    changed = row | {column: value}
    return changed | {swap: row[column]} if swap else changed


def _repeat(
    sheet: Sheet,
    society: Sheet,
    rows: list[Row],
    note: list[int],
    free: list[int],
    kind: str,
    log: list[list[object]],
) -> Sheet:
    """Copy a row to the end of its own table, or into the society's; at 10 km if it is to be nested."""
    reference = sheet.roles.get("reference", "")
    species, when = sheet.roles["species"], sheet.roles["date"]
    at = next(
        row
        for row in free
        if text_to_day(rows[row][when]) is not None
        and not str(rows[row][species]).endswith("sp.")
        and (kind != "again at 10 km" or _is_fine(str(rows[row][reference])))
    )
    free.remove(at)
    original = sheet.row_number(at)
    if kind == "also in the society's file":
        _log(log, society, len(society.rows), "", kind, "context", "", f"{sheet.file}, row {original}")
        return society.with_rows(
            [*society.rows, _for_society(sheet, rows[at], society)], [*society.note, note[at]]
        )
    copy = rows[at]
    if kind == "again at 10 km":
        text = str(copy[reference]).replace(" ", "").upper()
        copy = copy | {reference: f"{text[:3]}{text[2 + (len(text) - 2) // 2]}"}
    _log(
        log,
        sheet,
        len(rows),
        reference if kind == "again at 10 km" else "",
        kind,
        "context",
        "",
        f"row {original}",
    )
    rows.append(copy)
    note.append(note[at])
    return society


def _is_fine(reference: str) -> bool:
    text = reference.replace(" ", "")
    return len(text) >= 8 and text[2:].isdigit()


def _for_society(sheet: Sheet, row: Row, society: Sheet) -> Row:
    """The row as it would stand in the society's table: the same words under its headers."""
    blank: Row = dict.fromkeys(society.headers, "")
    when = row[sheet.roles["date"]]
    return blank | {
        "Record number": "sent by the recorder",
        "Scientific name": row[sheet.roles["species"]],
        "Grid reference": row[sheet.roles["reference"]],
        "Site": row[sheet.roles["place"]],
        "Date": day_first(when) if isinstance(when, date) else when,
        "Recorder": row.get("Recorder", row.get("Seen by", "")),
        "Count": row[sheet.roles["count"]],
        "Sex": row.get("Sex", ""),
    }


def _disagree(sheet: Sheet, rows: list[Row], free: list[int], kind: str, log: list[list[object]]) -> None:
    place, reference = sheet.roles["place"], sheet.roles["reference"]
    at = free.pop()
    away = next(
        row
        for row in rows
        if str(row[reference])[:4] != str(rows[at][reference])[:4]
        and row[place] != rows[at][place]
        and str(row[reference])[:2] != str(rows[at][reference])[:2]
    )
    _log(log, sheet, at, place, kind, "context", away[place], rows[at][place])
    rows[at] = rows[at] | {place: away[place]}


def _make_odd(society: Sheet, slips: dict[str, Slip], fauna: Fauna) -> tuple[Sheet, pd.DataFrame]:
    generator = stream("odd")
    rows = list(society.rows)
    free = [int(row) for row in generator.permutation(len(rows)) if rows[row]["Status"] == "accepted"]
    order = list(fauna.species["name"])
    written = {_event(row) for row in rows}
    log: list[list[object]] = []
    for kind, times in _ODD.items():
        for _ in range(times):
            if kind in slips:
                slip = slips[kind]
                column = society.roles[slip.role]
                at, wrong = _first_that_can(slip, column, rows, free, generator)
                changed: Row = {column: wrong}
            else:
                at, column, changed = _other_oddity(kind, rows, free, order, written, generator)
            _log(log, society, at, column, kind, "odd", changed[column], rows[at][column])
            rows[at] = rows[at] | changed | {"Status": ""}
            if column == "Scientific name":
                rows[at] = rows[at] | {"Vernacular": ""}
    return society.with_rows(rows, society.note), pd.DataFrame(log, columns=_COLUMNS)


def _other_oddity(
    kind: str,
    rows: list[Row],
    free: list[int],
    order: list[str],
    written: set[tuple[Cell, ...]],
    generator: np.random.Generator,
) -> tuple[int, str, Row]:
    """The next row that can bear the oddity without saying what another row says already."""
    for at in list(free):
        name = str(rows[at]["Scientific name"])
        if kind == "stray indoors" and name not in _BARK_DWELLERS:
            continue
        free.remove(at)
        if kind == "stray indoors":
            return at, "Habitat", {"Habitat": "indoors, kitchen floor"}
        changed: Row = {"Scientific name": _other_name(kind, name, order, generator)}
        if _event(rows[at] | changed) not in written:
            return at, "Scientific name", changed
    raise ValueError(f"no row of the table can bear this oddity: {kind}")


def _other_name(kind: str, name: str, order: list[str], generator: np.random.Generator) -> str:
    alike = [other for other in order if other.split()[0] == name.split()[0] and other != name]
    if kind == "name of a look-alike" and alike:
        return str(generator.choice(alike))
    at = order.index(name) if name in order else 0
    return order[at + 1 if at + 1 < len(order) else at - 1]


def _event(row: Row) -> tuple[Cell, ...]:
    return tuple(row[column] for column in ("Scientific name", "Grid reference", "Date", "Recorder"))


def _log(
    log: list[list[object]],
    sheet: Sheet,
    at: int,
    column: str,
    kind: str,
    seen: str,
    found: object,
    right: object,
) -> None:
    log.append([sheet.file, sheet.name, sheet.row_number(at), column, kind, seen, str(found), str(right)])
