"""From a file of records to checked records, tally and effort: this project, the usual way, and hand-written SQL.

The usual way is what most people would write: parse each reference and date in Python, ``points_from_xy``, a spatial
join with grid polygons, and a group-by. The SQL parses and counts in one pass of DuckDB and checks nothing: no problem
is said, nothing is spelled out for people, no duplicate is found, names and recorders are taken as they stand.
"""

from __future__ import annotations

import re
from pathlib import Path

import duckdb
import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from gapmap.coverage.effort import effort
from gapmap.coverage.tally import tally
from gapmap.records.clean import read_records
from gapmap.records.database import memory_limit
from gapmap.settings import AreaSection, Settings
from gapmap.typed import text_to_classes

CLASSES = "-1999, 2000-2009, 2010-"
SIDE = 2000


def gapmap_tally(path: str) -> dict[str, float]:
    """File → checked records → tally with visits."""
    records = read_records([Path(path)], Settings(area=AreaSection(square="2km")))
    frame = tally(records, SIDE, text_to_classes(CLASSES))
    return answer(frame)


def gapmap_all(path: str) -> dict[str, float]:
    """File → checked records → tally and effort."""
    records = read_records([Path(path)], Settings(area=AreaSection(square="2km")))
    classes = text_to_classes(CLASSES)
    frame = tally(records, SIDE, classes)
    work = effort(records, SIDE, classes)
    return answer(frame) | {"squares": work["square"].nunique()}


def usual_tally(path: str) -> dict[str, float]:
    """The usual way to the same tally."""
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    places = [reference_to_metres(text) for text in frame["Grid reference"]]
    frame["east"], frame["north"], frame["side"] = zip(*places, strict=True)
    frame["year"], frame["is_day"] = texts_to_years(frame["Date"])
    frame = frame[(frame["side"] > 0) & (frame["side"] <= SIDE) & (frame["year"] > 0)]
    frame["class"] = np.searchsorted([2000, 2010], frame["year"].to_numpy(), side="right")
    half = frame["side"] / 2
    points = gpd.GeoDataFrame(
        frame, geometry=gpd.points_from_xy(frame["east"] + half, frame["north"] + half), crs=27700
    )
    west, south, east, north = (int(bound) for bound in points.total_bounds // SIDE * SIDE)
    corners = [(x, y) for x in range(west, east + 1, SIDE) for y in range(south, north + 1, SIDE)]
    squares = gpd.GeoDataFrame(
        {"square": range(len(corners))}, crs=27700,
        geometry=[shapely.box(x, y, x + SIDE, y + SIDE) for x, y in corners],
    )  # fmt: skip
    joined = gpd.sjoin(points, squares, predicate="within")
    visits = joined[joined["is_day"]].drop_duplicates(["square", "Species", "Date", "Recorder"])
    keys = ["square", "Species", "class"]
    counted = joined.groupby(keys).agg(records=("year", "size"), first=("year", "min"), last=("year", "max"))
    counted["visits"] = visits.groupby(keys).size()
    return {"rows of the tally": len(counted), "visits": float(counted["visits"].sum())}


def reference_to_metres(text: str) -> tuple[int, int, int]:
    """Easting, northing and side of a British reference in OQ or OR; side 0 for none."""
    match = re.fullmatch(r"(O[QR])(\d\d|\d{4}|\d{6}|\d{8})([A-Z]?)", text)
    if match is None:
        return 0, 0, 0
    letters, digits, tetrad = match.groups()
    half = len(digits) // 2
    side = 10 ** (5 - half)
    east = (500_000 if letters == "OQ" else 600_000) + int(digits[:half]) * side
    north = 600_000 + int(digits[half:]) * side
    if tetrad:
        place = "ABCDEFGHIJKLMNPQRSTUVWXYZ".index(tetrad)
        return east + place // 5 * 2000, north + place % 5 * 2000, 2000
    return east, north, side


def texts_to_years(texts: pd.Series) -> tuple[pd.Series, pd.Series]:
    """The year of each date as written, 0 for none or several, and whether the day is known."""
    day = pd.to_datetime(texts, format="%d/%m/%Y", errors="coerce")
    month = pd.to_datetime(texts.where(day.isna()), format="%B %Y", errors="coerce")
    year = pd.to_numeric(texts.where(day.isna() & month.isna()), errors="coerce")
    return day.dt.year.fillna(month.dt.year).fillna(year).fillna(0).astype(int), day.notna()


def sql_all(path: str) -> dict[str, float]:
    """Hand-written SQL to the same tally and effort, in as much memory as this project allows its own database."""
    spilled = f"{path}.spilled"
    connection = duckdb.connect(config={"threads": 2, "memory_limit": memory_limit(), "temp_directory": spilled})
    read = "read_parquet" if path.endswith(".parquet") else "read_csv"
    options = "" if path.endswith(".parquet") else ", all_varchar = true, header = true"
    connection.execute(f"create view raw as select * from {read}('{path}'{options})")
    connection.execute(PARSE_SQL)
    tallied = connection.execute(TALLY_SQL).df()
    effort_frame = connection.execute(EFFORT_SQL).df()
    total = tallied[tallied["class"].notna()]
    return {
        "rows of the tally": len(tallied), "visits": float(total["visits"].sum()),
        "squares": effort_frame["square"].nunique(),
    }  # fmt: skip


PARSE_SQL = f"""
    create table parsed as
    with cells as (
        select "Species" as species, "Recorder" as recorder, "Date" as date,
            regexp_extract("Grid reference", '^(O[QR])(\\d\\d|\\d{{4}}|\\d{{6}}|\\d{{8}})([A-Z]?)$',
                ['letters', 'digits', 'tetrad']) as part
        from raw),
    places as (
        select species, recorder, date, part,
            (strlen(part.digits) // 2)::integer as half, instr('ABCDEFGHIJKLMNPQRSTUVWXYZ', part.tetrad) - 1 as tetrad,
            try_strptime(date, '%d/%m/%Y')::date as day, try_strptime(date, '%B %Y')::date as month
        from cells where part.letters <> ''),
    metres as (
        select species, recorder, day is not null as is_day,
            case when day is not null then day when month is not null then month
                when regexp_matches(date, '^\\d{{4}}') then make_date(left(date, 4)::integer, 1, 1) end as date_from,
            case when day is not null then day when month is not null then last_day(month)
                when regexp_matches(date, '\\d{{4}}$') and instr(date, '/') = 0
                    then make_date(right(date, 4)::integer, 12, 31) end as date_to,
            case part.letters when 'OQ' then 500000 else 600000 end + left(part.digits, half)::integer
                * pow(10, 5 - half)::integer + case when part.tetrad <> '' then tetrad // 5 * 2000 else 0 end as east,
            600000 + right(part.digits, half)::integer * pow(10, 5 - half)::integer
                + case when part.tetrad <> '' then tetrad % 5 * 2000 else 0 end as north,
            case when part.tetrad <> '' then 2000 else pow(10, 5 - half)::integer end as side
        from places)
    select species, recorder, is_day, date_from, date_to, (east // {SIDE}) * 1000000 + north // {SIDE} as square,
        case when year(date_to) < 2000 then 0 when year(date_from) >= 2000 and year(date_to) < 2010 then 1
            when year(date_from) >= 2010 then 2 end as class
    from metres where side <= {SIDE}
"""
TALLY_SQL = """
    with finds as (
        select square, species, class, date_from, date_to, recorder, bool_or(is_day) as is_day, count(*) as records
        from parsed group by all)
    select square, species, class, sum(records) as records, count(*) filter (is_day) as visits, count(*) as lists,
        min(year(date_from)) as first, max(year(date_to)) as last
    from finds group by grouping sets ((square, species, class), (square, species))
    having grouping(class) = 1 or class is not null
"""
EFFORT_SQL = """
    with finds as (
        select square, species, class, date_from, date_to, recorder, bool_or(is_day) as is_day, count(*) as records
        from parsed group by all),
    lists as (
        select square, class, date_from, date_to, recorder, bool_or(is_day) as is_day, count(*) as length,
            sum(records) as records
        from finds group by all)
    select l.square, l.class, count(*) as lists, count(*) filter (is_day) as visits, sum(records) as records,
        count(distinct recorder) as recorders, count(distinct date_from) filter (is_day) as days,
        count(distinct year(date_from)) as years, bit_or(1 << (month(date_from) - 1)::integer) as months,
        count(*) filter (length = 1) as singles, median(length) as median_list,
        any_value(s.species) as species
    from lists l join (
        select square, class, count(distinct species) as species from finds
        group by grouping sets ((square, class), (square))
    ) s on l.square = s.square and l.class is not distinct from s.class
    group by grouping sets ((l.square, l.class), (l.square))
    having grouping(l.class) = 1 or l.class is not null
"""


def answer(frame: pd.DataFrame) -> dict[str, float]:
    """What tells that two ways made the same tally."""
    in_class = frame["date_class"] >= 0
    return {"rows of the tally": len(frame), "visits": float(frame.loc[in_class, "visits"].sum())}
