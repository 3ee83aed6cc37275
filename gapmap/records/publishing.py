"""Records as they may leave the organiser's desk: sensitive species in larger squares, people without names."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from gapmap.errors import SettingsError
from gapmap.records.database import database_for
from gapmap.records.table import LIST_NUMBER, Records
from gapmap.settings import Settings
from gapmap.typed import SQUARE_SIDES, text_to_side

Whole = npt.NDArray[np.int64]

#: Texts of a record that may tell where a sensitive species is.
_PLACE_TEXTS = ("place", "habitat")
#: Sides of squares in metres, and 0 before them.
_SIDES = np.array(sorted({0, *SQUARE_SIDES.values()}), dtype=np.int64)
#: A record is about so many bytes of text.
_BYTES_A_RECORD = 100


def sizes_to_publish(species: pd.DataFrame, settings: Settings, listed: Collection[str] = ()) -> pd.DataFrame:
    """Species with the size they may be published at: the larger of the checklist's and the area file's.

    Parameters
    ----------
    species
        columns.SPECIES.
    settings
        ``[publish] sensitive`` maps names to sizes such as ``10km``.
    listed
        Names that the checklist has, whether recorded or not.

    Returns
    -------
    DataFrame
        The same species with ``sensitive_m`` raised, and to the next size that squares have.

    Raises
    ------
    SettingsError
        A size is none, or larger than any square; or a name in the area file is that of no species in the records
        or the checklist.
    """
    sizes = species["sensitive_m"].copy()
    names, on_checklist = species["name"].str.lower(), {name.lower() for name in listed}
    for name, size in settings.publish.sensitive.items():
        wanted = " ".join(name.split()).lower()
        rows = names == wanted
        if not rows.any() and wanted not in on_checklist:
            raise SettingsError(
                "A sensitive species of the area file is in no record and on no checklist, so its name may be misspelt",
                found=name, do="write the name as in the records, or take it out",
            )  # fmt: skip
        sizes[rows] = sizes[rows].clip(lower=text_to_side(size))
    return species.assign(sensitive_m=_next_sides(sizes.astype("int64"), species["name"]))


def _next_sides(sizes: pd.Series, names: pd.Series) -> pd.Series:
    """The sides of squares that are at least these metres; 0 stays 0."""
    too_large = sizes > _SIDES[-1]
    if too_large.any():
        raise SettingsError(
            f"{names[too_large].iloc[0]} is to be published in squares larger than any grid has",
            found=f"{sizes[too_large].iloc[0]} m", do="write 100km or less on the checklist",
        )  # fmt: skip
    return pd.Series(_SIDES[np.searchsorted(_SIDES, sizes)], index=sizes.index)


def sides_to_publish(sensitive: npt.ArrayLike, precision: npt.ArrayLike, is_point: npt.ArrayLike) -> Whole:
    """Sides of the squares that records go out in; 0 for those that go out as they are.

    A point of a sensitive species is never published as one, however uncertain it is said to be: its middle may well
    be the place. It becomes the square that is at least as wide as its uncertainty and the species' size.

    Parameters
    ----------
    sensitive, precision
        Metres: the size the species may be published at (0 for one that is not sensitive), and how closely each place
        is known. Arrays of shape (n,).
    is_point
        Whether each place is a point instead of a reference.

    Examples
    --------
    >>> sides_to_publish([0, 2000, 2000], [10, 100, 10_000], [True, False, False]).tolist()
    [0, 2000, 0]
    >>> sides_to_publish([2000, 2000], [10, 7_500], [True, True]).tolist()
    [2000, 10000]
    """
    size, known, point = np.asarray(sensitive), np.asarray(precision), np.asarray(is_point, dtype=bool)
    least = np.searchsorted(_SIDES, np.maximum(size, np.where(point, known, 0)))
    side = _SIDES[np.minimum(least, len(_SIDES) - 1)]
    return np.where((size > 0) & (point | (size > known)), side, 0)


def records_to_publish(records: Records, settings: Settings, listed: Collection[str] = ()) -> Records:
    """A copy of the records that is fit for everybody.

    Records of a sensitive species become references to the square of the size it may be published at (those that were
    coarser stay as coarse, see `sides_to_publish`), without place and habitat; recorders and determiners are unnamed
    unless the area file asks for their names; records that were not accepted are left out; files and problems are not
    named. Records are ordered and numbered by species and date, and are on the list of the place they are given: on
    its own list, or beside the others of it, a record would still tell where it was made.

    Parameters
    ----------
    records
        The organiser's own; they stay as they are.
    settings, listed
        The area's settings, and the names on its checklist.
    """
    species = sizes_to_publish(records.species, settings, listed)
    source = records.connection
    widths = source.sql("select distinct species_id, precision_m, is_point from records").df()
    widths = widths.merge(species[["species_id", "sensitive_m"]], on="species_id")
    widths["side"] = sides_to_publish(widths["sensitive_m"], widths["precision_m"], widths["is_point"])
    source.register("publish_widths", widths)
    texts = [f"case when s.sensitive_m > 0 then '' else r.{name} end as {name}" for name in _PLACE_TEXTS]
    if not settings.publish.recorder_names:
        texts.append("'' as identified_by")
    [(count,)] = source.execute("select count(*) from records").fetchall()
    published = source.sql(
        f"""
        select r.* replace (
            case when side > 0 then floor(r.easting / side)::bigint * side else r.easting end as easting,
            case when side > 0 then floor(r.northing / side)::bigint * side else r.northing end as northing,
            case when side > 0 then side else r.precision_m end as precision_m,
            r.is_point and side = 0 as is_point,
            {", ".join(texts)})
        from records r join publish_widths s using (species_id, precision_m, is_point)
        where r.status <> 'not accepted'
        """
    )
    connection = database_for(count * _BYTES_A_RECORD)
    connection.register("publish_rows", pa.RecordBatchReader.from_stream(published))
    connection.execute(
        f"""
        create table records as select * replace (row_number() over () as record_id, {LIST_NUMBER} as list_id) from (
            select * from publish_rows
            order by species_id, date_from, date_to, system, easting, northing, precision_m, record_id
        )
        """
    )
    connection.unregister("publish_rows")
    source.unregister("publish_widths")
    connection.register("no_problems", source.sql("select * from problems limit 0").df())
    connection.execute("create table problems as select * from no_problems")
    connection.unregister("no_problems")
    people = records.people if settings.publish.recorder_names else records.people.assign(names="")
    files = records.files.assign(file=_nameless(records.files["file"]))
    return replace(records, connection=connection, species=species, people=people, files=files, remarks=())


def _nameless(files: pd.Series) -> list[str]:
    """Names that tell nobody's: the sheets of a workbook still belong to one file.

    Examples
    --------
    >>> _nameless(pd.Series(["ann's.xlsx: 2019", "ann's.xlsx: 2020", "club.csv"]))
    ['file 1: table 1', 'file 1: table 2', 'file 2: table 3']
    """
    numbers, _ = pd.factorize(files.str.partition(": ")[0])
    return [f"file {number + 1}: table {place}" for place, number in enumerate(numbers, start=1)]
