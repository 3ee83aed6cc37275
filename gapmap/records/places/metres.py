"""Eastings and northings of a file: the grid of each row, and how finely they are written."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from gapmap.errors import ColumnError
from gapmap.records.database import first_row
from gapmap.records.in_hand import FileInHand
from gapmap.records.lookups import Lookup
from gapmap.records.places.planes import crs_to_system, says_nothing, zone_to_system
from gapmap.records.places.positions import NUMBER, POSITION, THOUSANDS, metric_positions
from gapmap.records.verdicts import NOT_A_RECORD, Verdict, quoted, verdicts_to_frame
from gapmap.settings import Settings

#: Under so many metres from the origin of every grid lies open sea, or no place of the grid at all.
_NO_PLACE_M = 10_000
_PAIR = ("easting", "northing")


def look_up_metres(file: FileInHand, settings: Settings, where: str) -> Lookup:
    """Resolve eastings and northings, each row in the grid that it names, or else in that of the file or the area.

    Raises
    ------
    ColumnError
        Nothing says in which grid they are, or none of them can be metres.
    """
    usual, beside = _usual_system(file, settings), _columns_that_name_grids(file, settings)
    _refuse_without_grid(file, usual, beside)
    _refuse_other_units(file, where)
    side, unit_m = _side_of_metres(file), unit_of(file)
    system = cache(lambda crs, zone: _system_of_row(crs, zone, usual, file.columns.header("zone")))

    def resolve(keys: pd.DataFrame) -> pd.DataFrame:
        texts = [keys[name] if name in keys else pd.Series("", index=keys.index) for name in ("crs", "zone")]
        systems = np.array([system(crs, zone) for crs, zone in zip(*texts, strict=True)], dtype=np.int64)
        parts = []
        for key in np.unique(systems):
            own = keys[systems == key]
            part = metric_positions(own, int(key), side, unit_m=unit_m) if key else _in_no_grid(own)
            parts.append(part.set_axis(own.index))
        return pd.concat(parts).sort_index()

    meanings = (*_PAIR, "uncertainty", *beside)
    header = ", ".join(file.columns.header(m) for m in (*_PAIR, *beside))
    return file.look_up("metres", {m: file.cell(m) for m in meanings}, POSITION, resolve, header, where)


def unit_of(file: FileInHand) -> float:
    """Metres to one unit of the uncertainty, as its header says."""
    return 1000.0 if "km" in file.columns.header("uncertainty").lower() else 1.0


def _usual_system(file: FileInHand, settings: Settings) -> int:
    """Key of the grid that the file, the header or the area names; 0 when none does."""
    grid = settings.area.grid
    zone = zone_to_system(next(iter(settings.area.zones), "")) if grid == "utm" else 0
    said = (crs_to_system(text) for text in (file.raw.crs, file.columns.header("easting")))
    return next((key for key in said if key), 0) or zone or crs_to_system(grid)


def _columns_that_name_grids(file: FileInHand, settings: Settings) -> tuple[str, ...]:
    """Which of the columns crs and zone count: none beside the file's own word; zones only where UTM may be meant."""
    if crs_to_system(file.raw.crs) or crs_to_system(file.columns.header("easting")):
        return ()
    counting = ("crs", "zone") if settings.area.grid in ("", "utm") else ("crs",)
    return tuple(meaning for meaning in counting if meaning in file.columns)


def _system_of_row(crs: str, zone: str, usual: int, zone_header: str) -> int:
    if not says_nothing(crs):
        return crs_to_system(crs)
    named = zone_to_system(zone, needs_letter="utm" not in zone_header.lower() and not usual)
    return named if zone.strip() and (named or usual > 100) else usual


def _refuse_without_grid(file: FileInHand, usual: int, beside: tuple[str, ...]) -> None:
    """Refuse the file when neither it nor the area nor any of its rows says in which grid its metres are."""
    if usual:
        return
    texts = ", ".join(file.cell(meaning) if meaning in beside else "''" for meaning in ("crs", "zone"))
    named = file.connection.execute(f"select distinct {texts} from {file.rows} raw").fetchall() if beside else []
    if not any(_system_of_row(crs, zone, 0, file.columns.header("zone")) for crs, zone in named):
        raise ColumnError(
            f"{file.raw.file}: easting and northing are given, but not in which grid",
            found=", ".join(file.columns.header(m) for m in (*_PAIR, *beside)),
            do="say the grid, such as --grid british",
        )


def _refuse_other_units(file: FileInHand, where: str) -> None:
    """Refuse the file when none of its pairs can be metres: all are degrees, or kilometres."""
    east, north = (f"abs({_number_in_sql(file.cell(m))})" for m in _PAIR)
    pairs, across, up = first_row(
        file.connection,
        f"""select count(*), max(east), max(north)
            from (select {east} as east, {north} as north from {file.rows} raw where {where})
            where east + north > 0""",
    )
    if not pairs or max(across, up) >= _NO_PLACE_M:
        return
    headers = [file.columns.header(m) for m in _PAIR]
    unit, do = "kilometres", "write both in metres in a copy of the file"
    if across <= 180 and up <= 90:
        unit, do = "degrees", f'add --columns "longitude={headers[0]}, latitude={headers[1]}" if they are'
    raise ColumnError(
        f"{file.raw.file}: easting and northing are no metres; they look like {unit}",
        found=f"nothing above {across:g} in {headers[0]} and {up:g} in {headers[1]}",
        do=do,
    )


def _side_of_metres(file: FileInHand) -> int:
    """Metres to which all eastings and northings of the file are written."""
    metres = ", ".join(_number_in_sql(file.cell(m)) for m in _PAIR)
    divisible = [f"bool_and(metre % {side} = 0)" for side in (1000, 100, 10)]
    row = first_row(
        file.connection,
        f"""select {", ".join(divisible)} from (select unnest([{metres}]) as metre from {file.rows} raw)
            where metre is not null""",
    )
    return next((side for side, is_so in zip((1000, 100, 10), row, strict=True) if is_so), 1)


def _number_in_sql(cell: str) -> str:
    """SQL: the number that `text_to_number` reads in a cell; NULL where it reads none."""
    bare = rf"regexp_replace(replace(lower(trim({cell})), '−', '-'), '[\s\p{{Z}}]+|m(etres?|eters?)?\.?$', '', 'g')"
    dotted = f"replace({bare}, ',', case when regexp_full_match({bare}, '{THOUSANDS}') then '' else '.' end)"
    is_plain = f"regexp_full_match({cell}, '\\d{{1,12}}')"
    return f"try_cast(case when {is_plain} then {cell} else regexp_extract({dotted}, '^{NUMBER}$') end as double)"


def _in_no_grid(keys: pd.DataFrame) -> pd.DataFrame:
    """No positions: rows whose grid is not known, and why."""
    named = (keys[name] if name in keys else [""] * len(keys) for name in (*_PAIR, "crs", "zone"))
    nowhere = pd.DataFrame(dict.fromkeys(POSITION, 0), index=range(len(keys))).astype({"is_point": bool})
    reasons = verdicts_to_frame([_why_in_no_grid(*cells) for cells in zip(*named, strict=True)])
    return pd.concat([nowhere.assign(precision_m=1), reasons], axis=1)


def _why_in_no_grid(easting: str, northing: str, crs: str, zone: str) -> Verdict:
    if not easting.strip() and not northing.strip():
        return Verdict(
            "no place", NOT_A_RECORD, "The row does not say where the species was found.", "Ask for the place."
        )
    words, do = "The row does not say in which grid its easting and northing are.", "Ask for the grid."
    if not says_nothing(crs):
        words = f"{quoted(crs)} names no grid in which easting and northing can be read."
        do = 'Write its EPSG code, such as EPSG:27700, or crs = "" under [records.columns] in the area file.'
    elif zone.strip():
        words, do = f"{quoted(zone)} names no zone of UTM.", "Write the zone with its letter, such as 31U."
    return Verdict("coordinates", NOT_A_RECORD, words, do)
