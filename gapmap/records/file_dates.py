"""The dates of a file: each distinct one read, and what only all of them together tell."""

from __future__ import annotations

import re
from datetime import date

import pandas as pd
from scipy.stats import binom

from gapmap.records.database import first_row
from gapmap.records.dates.days import day_in_words
from gapmap.records.dates.intervals import combine_parts, january_trap, texts_to_intervals
from gapmap.records.dates.month_first import says_month_first
from gapmap.records.in_hand import FileInHand
from gapmap.records.lookups import ROWS, VERDICT, Lookup
from gapmap.records.problems import Problem, add_cell_problems, add_problems
from gapmap.records.verdicts import DOUBT, NOTE, quoted
from gapmap.settings import Settings

#: Rows whose date has no reading but month first, from which a file is thought to be written so.
_FEWEST_MONTH_FIRST = 3
#: Distinct days of a spreadsheet's own, from which it is odd that none is after the twelfth: the chance is under 1 %.
_FEWEST_CELLS = 5

#: Distinct firsts of a month, and their share of all days, from which they are odd.
_FEWEST_FIRSTS, _MANY_FIRSTS = 6, 0.25

_INTERVAL = {"date_from": "date", "date_to": "date", "date_kind": "varchar"}
#: A day in numbers, its year last; and a day as spreadsheets keep it.
_IN_NUMBERS = r"^\s*\d{1,2}\s?[-/.]\s?\d{1,2}\s?[-/.]\s?(\d{4}|\d{2})(\D|$)"
_AS_A_CELL = r"^\s*(\d{4}-\d\d-\d\d|\d{5}(\.\d+)?\s*$)"


def resolve_dates(file: FileInHand, settings: Settings, today: date) -> Lookup | None:
    """Read the dates of a file and say what is wrong with them; None when it has no column for any.

    Parameters
    ----------
    settings
        The two-digit year's pivot, and the files that are written month first.
    today
        Days after this are yet to come.
    """
    parts = [m for m in ("date", "date_end", "year", "month", "day") if m in file.columns]
    if not parts:
        words = "The file has no column for the date, so its records belong to no date class."
        do = 'Say which column it is, such as --columns "date=HEADER".'
        years = [header.strip() for header in file.columns.headers if re.fullmatch(r"\s*(1[6-9]|20)\d\d\s*", header)]
        if len(years) > 1:
            words += f" It seems to have a column for each year ({years[0]} to {years[-1]})."
            do = "Turn those columns into rows in a copy of the file: a column with the year, one with the number."
        add_problems(file.connection, file.problems, [Problem(0, "", "", "no date column", DOUBT, words, do)])
        return None
    header = ", ".join(file.columns.header(m) for m in parts)
    by_header = says_month_first(file.columns.header("date"))
    month_first = by_header or file.is_among(settings.records.month_first)
    pivot = settings.records.year_pivot

    def resolve(keys: pd.DataFrame) -> pd.DataFrame:
        if len(parts) == 1 and parts[0] in ("date", "year"):
            return texts_to_intervals(keys[parts[0]].tolist(), pivot=pivot, today=today, month_first=month_first)
        return combine_parts(keys, pivot=pivot, today=today, month_first=month_first)

    lookup = file.look_up("dates", {m: file.cell(m) for m in parts}, _INTERVAL, resolve, header)
    if month_first:
        words = f"The dates were read month first, as {'the header' if by_header else 'the area file'} says."
        add_problems(file.connection, file.problems, [Problem(0, header, "", "month first", NOTE, words)])
    if "date" in parts:
        _watch_month_first(file, lookup, header, is_known=month_first)
    _watch_january(file, lookup, header)
    _watch_firsts(file, lookup, header)
    return lookup


def _watch_month_first(file: FileInHand, dates: Lookup, header: str, *, is_known: bool) -> None:
    """Doubt the dates that can be read both ways in a file that seems to put the month before the day.

    A spreadsheet program set to the day first turns such dates round where it can and leaves the others as text: then
    none of its own days is after the twelfth of a month.
    """
    connection, table = file.connection, f"{dates.table}_either"
    any_turned = f"select 1 from {dates.table} where code = 'month before day' limit 1"
    if not is_known and not first_row(connection, any_turned):
        return
    connection.execute(
        f"""create or replace temp table {table} as
            with numbers as (
                select *, regexp_matches(key_date, '{_IN_NUMBERS}') as in_numbers,
                    date_kind = 'day' and regexp_matches(key_date, '{_AS_A_CELL}') as is_cell,
                    try_cast(regexp_extract(key_date, '(\\d{{1,2}})\\D+(\\d{{1,2}})', 1) as integer) as one,
                    try_cast(regexp_extract(key_date, '(\\d{{1,2}})\\D+(\\d{{1,2}})', 2) as integer) as two
                from {dates.table})
            select * exclude (in_numbers, is_cell, one, two), case
                when in_numbers and one <= 12 and two between 13 and 31 then 'month first'
                when in_numbers and two <= 12 and one between 13 and 31 then 'day first'
                when in_numbers and date_kind = 'day' and one <> two then 'either'
                when is_cell and day(date_from) > 12 then 'cell'
                when is_cell and day(date_from) <> month(date_from) then 'turned' else '' end as way
            from numbers"""
    )
    ways = ("month first", "day first", "either", "cell")
    rows_of = ", ".join(f"coalesce(sum({ROWS}) filter (way = '{way}'), 0)::bigint" for way in ways)
    counted = first_row(
        connection,
        f"""select {rows_of}, count(distinct key_date) filter (way = 'month first'),
            count(distinct date_from) filter (way = 'turned') from {table}""",
    )
    month_first, day_first, either, cells, kinds, turned = (int(count) for count in counted)
    if month_first >= max(_FEWEST_MONTH_FIRST, day_first / 4) and kinds > 1:
        doubted = [*(["turned"] if cells == 0 and turned >= _FEWEST_CELLS else []), *([] if is_known else ["either"])]
        if not is_known:
            add_problems(connection, file.problems, [_seems_month_first(file, header, month_first, day_first, either)])
        _doubt_days(file, dates, table, header, doubted)
    connection.execute(f"drop table {table}")


def _seems_month_first(file: FileInHand, header: str, month_first: int, day_first: int, either: int) -> Problem:
    other = f"{day_first:,} only day first" if day_first else "none has to be read day first"
    words = (
        f"The dates of this file seem to be written month first: {month_first:,} can be read no other way, {other}. "
        f"They were read day first all the same, so the {either:,} that can be read both ways are in doubt."
    )
    do = (
        f'If the month comes first throughout, write month_first = ["{file.raw.file}"] under [records] in the area '
        "file; otherwise ask how the dates were written."
    )
    return Problem(0, header, "", "month first", DOUBT, words, do)


def _doubt_days(file: FileInHand, dates: Lookup, table: str, header: str, ways: list[str]) -> None:
    """Say of each date that can be read both ways what the other reading is."""
    chosen = ", ".join(f"'{way}'" for way in ways) or "''"
    found = file.connection.execute(
        f"select distinct key_date, date_from, way from {table} where way in ({chosen}) and way <> ''"
    ).fetchall()
    if not found:
        return
    verdicts = [(key, "month or day", DOUBT, *_other_reading(key, day, way)) for key, day, way in found]
    file.connection.register("other_readings", pd.DataFrame(verdicts, columns=["key_date", *VERDICT]))
    file.connection.execute(
        f"""create or replace temp table {table}_said as
            select t.* exclude ({", ".join(VERDICT)}), {", ".join(f"o.{name}" for name in VERDICT)}
            from {table} t join other_readings o using (key_date)"""
    )
    file.connection.unregister("other_readings")
    cell = f"trim({file.cell('date')})"
    add_cell_problems(file.connection, file.problems, file.rows, header, cell, f"{table}_said", dates.on("looked"))
    file.connection.execute(f"drop table {table}_said")


def _other_reading(text: str, day: date, way: str) -> tuple[str, str]:
    turned = day_in_words(day.replace(month=day.day, day=day.month))
    if way == "turned":
        words = (
            f"The date {quoted(text)} may have been turned round by a spreadsheet program that took the day to come "
            "first: none of its days is after the twelfth, and other dates of the file are written month first."
        )
        return words, f"{turned}, if it was turned round; ask for the file as it was first saved"
    words = (
        f"The date {quoted(text)} was read as {day_in_words(day)}, but other dates of the file are written month first."
    )
    return words, f"{turned}, if the month was written first"


def _watch_january(file: FileInHand, dates: Lookup, header: str) -> None:
    """Take 1 January for the whole year in a file with far more of them than chance allows."""
    first = "looked.date_kind = 'day' and month(looked.date_from) = 1 and day(looked.date_from) = 1"
    counted = first_row(
        file.connection,
        f"""select coalesce(sum({ROWS}) filter (looked.date_kind = 'day'), 0)::bigint,
                coalesce(sum({ROWS}) filter ({first}), 0)::bigint,
                count(distinct year(looked.date_from)) filter ({first}) from {dates.table} looked""",
    )
    sentence = january_trap(*counted[:2], years=counted[2])
    if sentence:
        file.connection.execute(
            f"""update {dates.table} looked set date_kind = 'year', date_to = make_date(year(date_from), 12, 31)
                where {first}"""
        )
        do = "Leave month and day empty where only the year is known."
        add_problems(file.connection, file.problems, [Problem(0, header, "", "1 January", DOUBT, sentence, do)])


def _watch_firsts(file: FileInHand, dates: Lookup, header: str) -> None:
    """Doubt the days of a file with far more firsts of a month than chance allows.

    A spreadsheet program keeps May 1998 as 1 May 1998 and shows the month; what is sent on is the day.
    """
    days, firsts, months = first_row(
        file.connection,
        f"""select coalesce(sum({ROWS}) filter (date_kind = 'day'), 0)::bigint,
                coalesce(sum({ROWS}) filter (date_kind = 'day' and day(date_from) = 1), 0)::bigint,
                count(distinct date_from) filter (date_kind = 'day' and day(date_from) = 1) from {dates.table}""",
    )
    if months < _FEWEST_FIRSTS or firsts < _MANY_FIRSTS * days or binom.sf(firsts - 1, days, 12 / 365.25) >= 1e-6:
        return
    words = (
        f"{firsts:,} of {days:,} rows known to the day fall on the first of a month, where about "
        f"{max(1, round(days * 12 / 365.25)):,} would by chance; perhaps only the month is known."
    )
    do = "Ask whether the days are right; where only the month is known, write it as in May 1998."
    add_problems(file.connection, file.problems, [Problem(0, header, "", "first of the month", DOUBT, words, do)])
