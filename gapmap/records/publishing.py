"""Records as they may leave the organiser's desk: sensitive species in larger squares, people without names."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
import pandas as pd
import pyarrow as pa

from gapmap.errors import SettingsError
from gapmap.records.database import database_for
from gapmap.records.table import Records
from gapmap.settings import SQUARE_SIDES, Settings, text_to_side

#: Texts of a record that may tell where a sensitive species is.
_PLACE_TEXTS = ("place", "habitat")
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
    sides = np.array(sorted({0, *SQUARE_SIDES.values()}), dtype=np.int64)
    too_large = sizes > sides[-1]
    if too_large.any():
        raise SettingsError(
            f"{names[too_large].iloc[0]} is to be published in squares larger than any grid has",
            found=f"{sizes[too_large].iloc[0]} m", do="write 100km or less on the checklist",
        )  # fmt: skip
    return pd.Series(sides[np.searchsorted(sides, sizes)], index=sizes.index)


def records_to_publish(records: Records, settings: Settings, listed: Collection[str] = ()) -> Records:
    """A copy of the records that is fit for everybody.

    Records of a sensitive species become references to the square of the size it may be published at (those that
    were coarser stay as coarse), without place and habitat; recorders and determiners are unnamed unless the area
    file asks for their names; records that were not accepted are left out; files and problems are not named.
    Records are ordered and numbered by species and date: beside the others of its list a record would still tell
    where it was made.

    Parameters
    ----------
    records
        The organiser's own; they stay as they are.
    settings, listed
        The area's settings, and the names on its checklist.
    """
    species = sizes_to_publish(records.species, settings, listed)
    source = records.connection
    source.register("publish_species", species[["species_id", "sensitive_m"]])
    wide = "(s.sensitive_m > r.precision_m or (r.is_point and s.sensitive_m = r.precision_m))"
    texts = [f"case when s.sensitive_m > 0 then '' else r.{name} end as {name}" for name in _PLACE_TEXTS]
    if not settings.publish.recorder_names:
        texts.append("'' as identified_by")
    [(count,)] = source.execute("select count(*) from records").fetchall()
    published = source.sql(
        f"""
        select r.* replace (
            case when {wide} then floor(r.easting / s.sensitive_m)::bigint * s.sensitive_m else r.easting end
                as easting,
            case when {wide} then floor(r.northing / s.sensitive_m)::bigint * s.sensitive_m else r.northing end
                as northing,
            case when {wide} then s.sensitive_m else r.precision_m end as precision_m,
            case when {wide} then false else r.is_point end as is_point,
            {", ".join(texts)})
        from records r join publish_species s using (species_id)
        where r.status <> 'not accepted'
        """
    )
    connection = database_for(count * _BYTES_A_RECORD)
    connection.register("publish_rows", pa.RecordBatchReader.from_stream(published))
    connection.execute(
        """
        create table records as select * replace (row_number() over () as record_id) from (
            select * from publish_rows
            order by species_id, date_from, date_to, system, easting, northing, precision_m, record_id
        )
        """
    )
    connection.unregister("publish_rows")
    source.unregister("publish_species")
    connection.register("no_problems", source.sql("select * from problems limit 0").df())
    connection.execute("create table problems as select * from no_problems")
    connection.unregister("no_problems")
    people = records.people if settings.publish.recorder_names else records.people.assign(names="")
    files = records.files.assign(file=[f"file {n} of {len(records.files)}" for n in range(1, len(records.files) + 1)])
    return replace(records, connection=connection, species=species, people=people, files=files, remarks=())
