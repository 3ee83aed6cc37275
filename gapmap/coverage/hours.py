"""Day, dusk or night, as far as the hour or the method of a record tells."""

from __future__ import annotations

import math

import numpy as np

from gapmap.coverage.counted import IN_ONE_MONTH
from gapmap.grid.projections import grid_to_lonlat
from gapmap.records.table import Records

#: Words in a method that say the find was made in the dark (common practice, no source): whole words where a part of
#: another means something else, such as a fortnight, a lamprey or a clamp.
NIGHT_METHODS = (
    r"moth.?trap|light.?trap|actinic|mercury.?vapou?r|\btorch|(\b|head|hand|street)lamp(s|ing|light)?\b|sugaring|"
    r"after dark|\b(over|mid)?night(s|ly|time|fall)?\b|bat detector"
)
#: Axial tilt of the Earth in degrees.
_TILT = 23.44
#: Height of the sun's centre in degrees at sunrise and at the end of civil twilight, as usually defined.
_SUNRISE, _CIVIL_TWILIGHT = -0.833, -6.0


def darkness_sql(records: Records) -> str:
    """SQL for 'day', 'dusk', 'night' or '' of a record, from its time of day, else its method.

    An hour is dark or light by the month and by the latitude of the middle of the records.
    """
    latitude = middle_latitude(records)
    by_month = {month: hours_to_words(month, latitude) for month in range(1, 13)}
    always = [{by_month[month][hour] for month in by_month} for hour in range(24)]
    whole_year = [words.pop() if len(words) == 1 else "" for words in always]
    hour = clock_sql()
    month_cases = " ".join(
        f"when month(date_from) = {month} then [{_quoted(words)}][{hour} + 1]" for month, words in by_month.items()
    )
    return f"""(case
        when time_of_day in ('day', 'dusk', 'night') then time_of_day
        when {hour} between 0 and 23 then
            case when not {IN_ONE_MONTH} then [{_quoted(whole_year)}][{hour} + 1] {month_cases} end
        when regexp_matches(lower(coalesce(method, '')), '{NIGHT_METHODS}') then 'night'
        else '' end)"""


def clock_sql() -> str:
    """SQL for the hour of the clock of a record, null where it tells none."""
    return "try_cast(left(time_of_day, 2) as integer)"


def hours_to_words(month: int, latitude: float) -> list[str]:
    """Say for each hour of the clock whether it is day, dusk or night in the middle of a month.

    Day is while the sun is up, dusk (or dawn) while it is less than 6° below the horizon. Its declination is
    taken as a cosine of the date, and clocks as an hour ahead of it from April to October north of 35°: good to
    about an hour.

    Parameters
    ----------
    month
        1 to 12.
    latitude
        Degrees north.

    Returns
    -------
    list of str
        24 words, the first for the hour from midnight.

    Examples
    --------
    >>> june, december = hours_to_words(6, 55.0), hours_to_words(12, 55.0)
    >>> june[21], december[21], december[12]
    ('day', 'night', 'day')
    """
    day_of_year = 30.4 * (month - 0.5)
    declination = -_TILT * math.cos(2 * math.pi * (day_of_year + 10) / 365.25)
    noon = 13.0 if latitude > 35 and 4 <= month <= 10 else 12.0
    north, tilt = math.radians(latitude), math.radians(declination)
    words = []
    for hour in range(24):
        turn = math.radians(15 * (hour + 0.5 - noon))
        sine = math.sin(north) * math.sin(tilt) + math.cos(north) * math.cos(tilt) * math.cos(turn)
        height = math.degrees(math.asin(max(-1.0, min(1.0, sine))))
        words.append("day" if height > _SUNRISE else "dusk" if height > _CIVIL_TWILIGHT else "night")
    return words


def middle_latitude(records: Records) -> float:
    """Latitude of the middle of the records in degrees north; 52 where there are none."""
    [(easting, northing)] = records.connection.execute(
        f"select median(easting), median(northing) from records where system = {records.system.key}"
    ).fetchall()
    if easting is None:
        return 52.0
    _, latitude = grid_to_lonlat(records.system, np.array([easting]), np.array([northing]))
    return float(latitude[0]) if np.isfinite(latitude[0]) else 52.0


def _quoted(words: list[str]) -> str:
    return ", ".join(f"'{word}'" for word in words)
