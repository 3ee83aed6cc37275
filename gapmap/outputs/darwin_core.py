"""Records as a Darwin Core archive: occurrence.txt, meta.xml and eml.xml in one zip.

Sources: Darwin Core text guide and quick reference guide (Biodiversity Information Standards, TDWG), EML 2.1.1
(Ecological Metadata Language), ISO 8601-1 for dates and intervals, ISO 8601-2 for their open ends; for sensitive
species Chapman, A.D. (2020) Current best practices for generalizing sensitive species occurrence data, GBIF.
"""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pandas as pd
import shapely

from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import centre, pack, polygons_lonlat
from gapmap.grid.systems import system_of
from gapmap.outputs.whole import whole_file
from gapmap.records.publishing import sides_to_publish

TERMS = (
    "occurrenceID", "basisOfRecord", "scientificName", "vernacularName", "taxonRank", "eventDate",
    "eventRemarks", "verbatimCoordinates",
    "verbatimCoordinateSystem", "decimalLatitude", "decimalLongitude", "geodeticDatum", "coordinateUncertaintyInMeters",
    "footprintWKT", "locality", "lifeStage", "sex", "organismQuantity", "samplingProtocol", "habitat", "recordedBy",
    "identifiedBy", "occurrenceStatus", "dataGeneralizations",
)  # fmt: skip
#: Kinds of dates that their interval itself shows; all others are said in words.
_PLAIN_KINDS = ("day", "days", "month", "months", "year", "years", "before", "after", "unknown")
#: Kinds of dates that say more than the year.
_WITHIN_A_YEAR = ("season",)
_TERM_HOME = "http://rs.tdwg.org/dwc/terms/"
_UNSAFE = str.maketrans({"\t": " ", "\n": " ", "\r": " ", "\x00": " "})


@dataclass(frozen=True)
class About:
    """Who publishes what: words for the metadata.

    Parameters
    ----------
    title, description
        Of the data set.
    made_on
        Day of publication.
    notice
        Such as that the data are invented; may be empty.
    """

    title: str
    description: str
    made_on: date
    notice: str = ""


def records_to_occurrences(
    records: pd.DataFrame, species: pd.DataFrame, people: pd.DataFrame, *, with_names: bool = False
) -> pd.DataFrame:
    """Put records into Darwin Core terms.

    Parameters
    ----------
    records
        columns.RECORDS; those with the status ``not accepted`` are left out.
    species, people
        columns.SPECIES and columns.PEOPLE. A species with ``sensitive_m`` is placed in a square of that side at the
        finest and dated by years, without its place name, habitat and method: on its exact day it could be found
        again among the other species of that day's list, which stand where they were found.
    with_names
        Whether people are named.

    Returns
    -------
    DataFrame
        One text column a term of TERMS, one row a record.
    """
    kept = records[records["status"] != "not accepted"].reset_index(drop=True)
    kept = kept.merge(species[["species_id", "name", "vernacular", "rank", "sensitive_m"]], on="species_id", how="left")
    places = _places(kept)
    names = kept["people_id"].map(people.set_index("people_id")["names"]).fillna("") if with_names else ""
    sensitive = kept["sensitive_m"].fillna(0).astype("int64")
    first, last = (kept[name].where(sensitive == 0, years) for name, years in _whole_years(kept).items())
    kinds = kept["date_kind"].where((sensitive == 0) | ~kept["date_kind"].isin(_WITHIN_A_YEAR), "year")
    table = places.assign(
        occurrenceID=kept["record_id"].map("record-{}".format),
        basisOfRecord="HumanObservation",
        scientificName=kept["name"],
        vernacularName=kept["vernacular"],
        taxonRank=kept["rank"],
        eventDate=dates_to_text(first, last),
        eventRemarks=_kinds_in_words(kinds),
        locality=kept["place"].where(sensitive == 0, ""),
        lifeStage=kept["stage"],
        sex=kept["sex"],
        organismQuantity=kept["quantity"],
        samplingProtocol=kept["method"].where(sensitive == 0, ""),
        habitat=kept["habitat"].where(sensitive == 0, ""),
        recordedBy=names,
        identifiedBy=kept["identified_by"] if with_names else "",
        occurrenceStatus="present",
        dataGeneralizations=_generalizations(sensitive),
    )
    return table[list(TERMS)].fillna("").astype("str")


def _generalizations(sensitive: pd.Series) -> pd.Series:
    words = sensitive.map(
        "placed in squares of {} m at the finest and dated by years, as the species is sensitive".format
    )
    return words.where(sensitive > 0, "")


def _whole_years(kept: pd.DataFrame) -> dict[str, pd.Series]:
    """The first day of the first year and the last day of the last; open ends stay open."""
    first, last = (kept[name].to_numpy("datetime64[D]").astype("datetime64[Y]") for name in ("date_from", "date_to"))
    days = {"date_from": first.astype("datetime64[D]"), "date_to": (last + 1).astype("datetime64[D]") - 1}
    return {name: pd.Series(each.astype("datetime64[s]"), index=kept.index) for name, each in days.items()}


def _kinds_in_words(kinds: pd.Series) -> pd.Series:
    words = kinds.astype("str").map("date kind: {}".format)
    return words.where(~kinds.isin(_PLAIN_KINDS), "")


def dates_to_text(first: pd.Series, last: pd.Series) -> pd.Series:
    """Dates and intervals as ISO 8601 writes them, whole months and years in short; empty when unknown.

    Examples
    --------
    >>> days = pd.to_datetime(pd.Series(["1998-05-12", "1987-06-01", "1990-01-01", "2001-05-03"]))
    >>> ends = pd.to_datetime(pd.Series(["1998-05-12", "1987-06-30", "1990-12-31", "2001-05-09"]))
    >>> dates_to_text(days, ends).tolist()
    ['1998-05-12', '1987-06', '1990', '2001-05-03/2001-05-09']
    """
    start, end = pd.to_datetime(first), pd.to_datetime(last)
    begins = start.dt.strftime("%Y-%m-%d").fillna("..")
    ends = end.dt.strftime("%Y-%m-%d").fillna("..")
    text = begins.where(begins == ends, begins + "/" + ends)
    month = (start.dt.day == 1) & end.dt.is_month_end & (start.dt.to_period("M") == end.dt.to_period("M"))
    year = begins.str.endswith("-01-01") & ends.str.endswith("-12-31") & (start.dt.year == end.dt.year)
    text = text.where(~month, begins.str[:7]).where(~year, begins.str[:4])
    return text.where(start.notna() | end.notna(), "")


def write_archive(occurrences: pd.DataFrame, about: About, path: Path) -> None:
    """Write the archive; equal tables give equal files.

    Parameters
    ----------
    occurrences
        From ``records_to_occurrences``.
    about
        Words for the metadata.
    path
        The ``.zip`` to write.
    """
    clean = occurrences.apply(lambda column: column.str.translate(_UNSAFE))
    lines = ["\t".join(row) for row in (list(clean.columns), *clean.to_numpy().tolist())]
    rows = "\n".join(lines) + "\n"  # nothing encloses or escapes a field: the text guide knows no escape
    parts = {"occurrence.txt": rows, "meta.xml": _meta(list(occurrences.columns)), "eml.xml": _eml(about)}
    with whole_file(path) as draft, zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            entry = zipfile.ZipInfo(name, date_time=(2000, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, text.encode("utf-8"))


def _places(kept: pd.DataFrame) -> pd.DataFrame:
    """Coordinates of the middle, uncertainty to the corner, and the square itself as a footprint."""
    system, point = kept["system"].to_numpy("int64"), kept["is_point"].to_numpy(bool)
    easting, northing, precision = (kept[name].to_numpy("int64") for name in ("easting", "northing", "precision_m"))
    sensitive = kept["sensitive_m"].fillna(0).to_numpy("int64")
    published = sides_to_publish(sensitive, precision, point)
    blurred = published > 0
    side = np.where(blurred, published, np.where(point, 1, precision))
    square = pack(system, side, easting // side * side, northing // side * side)
    drawn = ~point | blurred
    width = np.where(blurred, published, precision)
    middle = np.where(drawn, centre(square), np.array([easting, northing], dtype="float64"))
    lon, lat = np.empty(len(kept)), np.empty(len(kept))
    for key in np.unique(system):
        rows = system == key
        lon[rows], lat[rows] = grid_to_lonlat(system_of(int(key)), middle[0][rows], middle[1][rows])
    footprint = np.full(len(kept), "", dtype=object)
    if drawn.any():
        distinct, where = np.unique(square[drawn], return_inverse=True)
        footprint[drawn] = shapely.to_wkt(polygons_lonlat(distinct), rounding_precision=7)[where]
    references = np.full(len(kept), "", dtype=object)
    references[drawn] = squares_to_references(square[drawn])
    titles = np.array([system_of(int(key)).title for key in system], dtype=object)
    return pd.DataFrame(
        {
            "verbatimCoordinates": references,
            "verbatimCoordinateSystem": np.where(drawn, titles, ""),
            "decimalLatitude": np.char.mod("%.7f", lat),
            "decimalLongitude": np.char.mod("%.7f", lon),
            "geodeticDatum": "EPSG:4326",
            "coordinateUncertaintyInMeters": np.char.mod(
                "%d", np.ceil(np.maximum(width, 1) / np.sqrt(2)).astype("int64")
            ),
            "footprintWKT": footprint,
        }
    )


def _meta(terms: Sequence[str]) -> str:
    fields = "\n".join(f'    <field index="{n}" term="{_TERM_HOME}{term}"/>' for n, term in enumerate(terms))
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml">\n'
        '  <core encoding="UTF-8" fieldsTerminatedBy="\\t" linesTerminatedBy="\\n" fieldsEnclosedBy="" '
        f'ignoreHeaderLines="1" rowType="{_TERM_HOME}Occurrence">\n'
        "    <files><location>occurrence.txt</location></files>\n"
        f'    <id index="0"/>\n{fields}\n  </core>\n</archive>\n'
    )


def _eml(about: About) -> str:
    paragraphs = "".join(f"<para>{escape(text)}</para>" for text in (about.notice, about.description) if text)
    abstract = f"    <abstract>{paragraphs}</abstract>\n" if paragraphs else ""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<eml:eml xmlns:eml="eml://ecoinformatics.org/eml-2.1.1" packageId="gapmap" system="gapmap" scope="system">\n'
        f"  <dataset>\n    <title>{escape(about.title)}</title>\n"
        f"    <creator><organizationName>{escape(about.title)}</organizationName></creator>\n"
        f"    <pubDate>{about.made_on.isoformat()}</pubDate>\n    <language>en</language>\n"
        f"{abstract}"
        f"    <contact><organizationName>{escape(about.title)}</organizationName></contact>\n"
        "  </dataset>\n</eml:eml>\n"
    )
