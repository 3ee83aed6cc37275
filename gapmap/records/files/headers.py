"""Whose column is what: the meaning of each column of a file, by the words of its header.

A header is reduced to its letters and digits ("Grid Ref." and ``gridRef`` are both ``gridref``) and looked up in
a list of our own: everyday English and the terms of Darwin Core (quick reference guide, dwc.tdwg.org/terms).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from gapmap.columns import Meaning
from gapmap.errors import ColumnError
from gapmap.records.files.refusals import is_reference_like, listed, refuse_incomplete

#: Header words by meaning: within a meaning each line is preferred to the lines after it; two columns on one
#: line are a question for the person who knows the file.
_WORDS: dict[Meaning, tuple[str, ...]] = {
    "species": (
        "scientificname",
        "taxonname speciesname latinname nameofspecies nameoftaxon scientific latin binomial",
        "taxon species speciesortaxon",
        "acceptedname acceptednameusage originalnameusage",
        "name organism what identification taxa",
    ),
    "vernacular": (
        "vernacularname commonname englishname",
        "vernacular common english everydayname localname popularname",
    ),
    "genus": ("genus", "genericname"),
    "epithet": ("specificepithet", "epithet speciesepithet"),
    "group": ("taxongroup", "group speciesgroup", "class", "order", "kingdom"),
    "reference": (
        "gridreference gridref",
        "osgridreference osgridref osgr osgrid ngr nationalgridreference nationalgridref britishgridreference "
        "irishgridreference irishgridref mgrs utm utmsquare utmreference utmcode mapreference mapref gridrefs "
        "gridreferences",
        "gr ref reference grid verbatimcoordinates coordinates",
        "10mref gridref10m utm10m",
        "100mref gridref100m utm100m hectometre square100m",
        "monad 1kmsquare square1km 1km gridref1km utm1km kmsquare onekm mgrs1km grid1km km1",
        "square gridsquare mapsquare cell gridcell",
        "tetrad 2kmsquare square2km 2km gridref2km utm2km dinty",
        "quadrant 5kmsquare square5km 5km gridref5km utm5km",
        "hectad 10kmsquare square10km 10km gridref10km utm10km tenkmsquare tenkm mgrs10km grid10km",
    ),
    "letters": (
        "gridletters squareletters letters gridprefix prefix osletters mapletters",
        "100kmsquare square100km 100km hundredkmsquare",
    ),
    "easting": ("geometryeasting", "easting eastings", "x xcoordinate east gridrefe gridreferencee gridrefeasting"),
    "northing": (
        "geometrynorthing",
        "northing northings",
        "y ycoordinate north gridrefn gridreferencen gridrefnorthing",
    ),
    "latitude": (
        "geometrylatitude",
        "decimallatitude",
        "latitude lat latituden latn latitudenorth latitudes lats latitudesouth",
        "gpslatitude gpslat verbatimlatitude",
    ),
    "longitude": (
        "geometrylongitude",
        "decimallongitude",
        "longitude lon long lng longitudew longw lonw longitudewest longitudee longe lone longitudeeast",
        "gpslongitude gpslong gpslon verbatimlongitude",
    ),
    "uncertainty": (
        "coordinateuncertaintyinmeters coordinateuncertaintyinmetres coordinateuncertainty",
        "uncertainty accuracy precision gpsaccuracy positionaccuracy locationaccuracy uncertaintym accuracym "
        "precisionm uncertaintykm accuracykm precisionkm errorradius radius",
    ),
    "crs": ("verbatimsrs geodeticdatum", "crs srs epsg datum projection coordinatesystem"),
    "zone": ("utmzone", "zone gridzone"),
    "date": (
        "eventdate",
        "date daterecorded recorddate observationdate dateofrecord dateobserved surveydate visitdate sampledate "
        "collectiondate datecollected dateseen observedon dateofobservation dateofvisit observeddate datefound "
        "dateofsighting sightingdate dateoffind",
        "when verbatimeventdate dates",
        "startdate datefrom datestart firstdate fromdate start from begindate",
    ),
    "date_end": ("enddate dateto dateend lastdate todate end to until",),
    "year": ("year", "yearrecorded yearcollected yearofrecord"),
    "month": ("month", "monthrecorded monthcollected"),
    "day": ("day", "dayrecorded dayofmonth daycollected"),
    "time": ("eventtime", "time timeofday timerecorded observationtime starttime hour timeofrecord timeofvisit"),
    "recorder": (
        "recordedby",
        "recorder recorders recordername recordernames recordersname observer observers observername collector "
        "collectors collectedby foundby seenby finder leg legit who observedby",
        "by initials person people surveyor surveyors contributor",
        "organisation organisationname organization organizationname society institution institutioncode",
    ),
    "determiner": (
        "identifiedby",
        "determiner determinedby determinername determiners idby det detby",
    ),
    "place": (
        "locality",
        "place placename site sitename locationname localityname location locationdescription verbatimlocality",
        "town parish village where",
    ),
    "county": ("vicecounty vicecountyname vicecountynumber vc vcname vcnumber", "county"),
    "stage": ("lifestage", "stage age"),
    "sex": ("sex", "gender sexes malefemale"),
    "sex_and_stage": ("sexandstage sexstage stageandsex stagesex",),
    "quantity": (
        "individualcount organismquantity",
        "quantity count number n abundance howmany total totalcount no numberseen amount num "
        "frequency numberofindividuals noofindividuals individuals noseen howmanyseen",
    ),
    "method": (
        "samplingprotocol",
        "method samplingmethod recordingmethod howfound collectingmethod technique",
    ),
    "habitat": ("habitat", "habitattype biotope microhabitat substrate habitatdescription"),
    "evidence": ("evidence", "basisofrecord howidentified"),
    "occurrence": ("occurrencestatus", "presenceabsence presentabsent presenceorabsence presentorabsent"),
    "status": (
        "identificationverificationstatus",
        "status verified decision accepted",
    ),
    "comment": ("occurrenceremarks", "comment comments remark remarks rem note notes eventremarks"),
}

#: The line of headers of references that may as well head something else, such as the number of a record.
_UNSURE_REFERENCES = 2

_RANKS = {
    meaning: {word: rank for rank, line in enumerate(lines) for word in line.split()}
    for meaning, lines in _WORDS.items()
}


@dataclass(frozen=True)
class Columns:
    """Which column of a file has which meaning, as indices into its headers.

    ``spare`` are further columns of grid references, in the order in which they stand in for an empty one.
    """

    headers: tuple[str, ...]
    index: Mapping[str, int] = field(default_factory=dict)
    spare: tuple[int, ...] = ()

    def __contains__(self, meaning: str) -> bool:
        return meaning in self.index

    def header(self, meaning: str) -> str:
        """The header as the file writes it; empty when no column has the meaning."""
        return self.headers[self.index[meaning]] if meaning in self.index else ""


def header_to_word(header: str) -> str:
    """A header reduced to its letters and digits, without units, marks or a Darwin Core prefix.

    Examples
    --------
    >>> header_to_word(" Grid Ref. "), header_to_word("dwc:eventDate"), header_to_word("Uncertainty (m)")
    ('gridref', 'eventdate', 'uncertainty')
    >>> header_to_word("")
    ''
    """
    text = unicodedata.normalize("NFKC", header).strip().casefold()
    text = re.sub(r"^(https?://\S*/|dwc(?:iri)?[:_.]|dcterms[:_.])", "", text)
    bare = re.sub(r"[(\[{][^)\]}]*[)\]}]", "", text)
    return re.sub(r"[\W_]+", "", bare) or re.sub(r"[\W_]+", "", text)


def find_columns(
    headers: Sequence[str],
    mapping: Mapping[Meaning, str] | None = None,
    *,
    file: str = "",
    sample: Sequence[Sequence[str]] = (),
) -> Columns:
    """Find the meaning of each column.

    Parameters
    ----------
    headers
        Headers as the file writes them.
    mapping
        ``meaning = header`` where the person said so; an empty header says that no column has the meaning.
    file
        Name of the file for the sentences.
    sample
        A few rows of the file: a column whose cells look like grid references is found even without a header for it.

    Raises
    ------
    ColumnError
        Two columns claim one meaning, or no column holds the species or the place.

    Examples
    --------
    >>> found = find_columns(["Taxon", "Grid Ref", "Date", "Recorder"])
    >>> [(meaning, found.header(meaning)) for meaning in sorted(found.index)]
    [('date', 'Date'), ('recorder', 'Recorder'), ('reference', 'Grid Ref'), ('species', 'Taxon')]
    """
    given = _given_columns(headers, mapping or {}, file)
    index = {meaning: position for meaning, position in given.items() if position >= 0}
    words = [header_to_word(header) for header in headers]
    for meaning, ranks in _RANKS.items():
        if meaning not in given:
            chosen = _best_column(headers, words, ranks, set(index.values()), meaning, file, sample)
            if chosen is not None:
                index[meaning] = chosen
    _take_initials(index, given, words)
    _stand_in(index, given, headers, sample)
    refuse_incomplete(index, headers, file, sample, is_known=bool(looks_like_header(headers)))
    return Columns(tuple(headers), index, _spare_references(words, index))


def looks_like_header(cells: Sequence[str]) -> int:
    """How many different meanings a row of cells names when it is read as headers."""
    words = {header_to_word(cell) for cell in cells if len(cell) <= 60}
    return sum(not words.isdisjoint(ranks) for ranks in _RANKS.values())


def find_header(rows: Sequence[Sequence[str]]) -> int:
    """Index of the row that reads most like headers; the first row that is not empty when none does.

    Examples
    --------
    >>> find_header([["Our club 2001"], [], ["Species", "Grid ref", "Date"]])
    2
    >>> find_header([])
    0
    """
    scores = [looks_like_header(cells) for cells in rows]
    if scores and max(scores) >= 2:
        return scores.index(max(scores))
    return next((i for i, cells in enumerate(rows) if any(cell.strip() for cell in cells)), 0)


def _given_columns(headers: Sequence[str], mapping: Mapping[Meaning, str], file: str) -> dict[str, int]:
    given: dict[str, int] = {}
    for meaning, header in mapping.items():
        if not header.strip():
            given[meaning] = -1
            continue
        exact = [i for i, own in enumerate(headers) if own.strip() == header.strip()]
        alike = exact or [i for i, own in enumerate(headers) if header_to_word(own) == header_to_word(header)]
        if len(alike) > 1:
            raise ColumnError(
                f"{file}: more than one column is headed {header}",
                found=listed(headers),
                do="give each column its own header",
            )
        if alike:
            given[meaning] = alike[0]
    return given


def _best_column(
    headers: Sequence[str],
    words: Sequence[str],
    ranks: Mapping[str, int],
    taken: set[int],
    meaning: str,
    file: str,
    sample: Sequence[Sequence[str]],
) -> int | None:
    ranked = sorted((ranks[word], i) for i, word in enumerate(words) if word in ranks and i not in taken)
    filled = [(rank, i) for rank, i in ranked if _is_filled(i, sample)] or ranked[:1]
    if not filled:
        return None
    best = [i for rank, i in filled if rank == filled[0][0]]
    if len(best) > 1 and not _same_cells(best, sample):
        claims = " and ".join(f"{headers[i]} (column {i + 1})" for i in best)
        is_same = len({header_to_word(headers[i]) for i in best}) < len(best)
        say_which = f'say which with --columns "{meaning}={headers[best[0]]}"; the headers are {listed(headers)}'
        raise ColumnError(
            f"{file}: more than one column could be the {meaning}",
            found=claims,
            do="give each column its own header in a copy of the file" if is_same else say_which,
        )
    return best[0]


def _spare_references(words: Sequence[str], index: Mapping[str, int]) -> tuple[int, ...]:
    """Other columns whose header names a kind of reference or square, the finest first."""
    ranks = _RANKS["reference"]
    unsure = set(_WORDS["reference"][_UNSURE_REFERENCES].split())
    taken = set(index.values())
    if "reference" not in index:
        return ()
    fitting = [(ranks[word], i) for i, word in enumerate(words) if word in ranks and word not in unsure]
    return tuple(i for _, i in sorted(fitting) if i not in taken)


def _is_filled(column: int, sample: Sequence[Sequence[str]]) -> bool:
    return not sample or any(column < len(row) and row[column].strip() for row in sample)


def _same_cells(columns: Sequence[int], sample: Sequence[Sequence[str]]) -> bool:
    return bool(sample) and all(len({row[i].strip() if i < len(row) else "" for i in columns}) == 1 for row in sample)


def _stand_in(
    index: dict[str, int], given: Mapping[str, int], headers: Sequence[str], sample: Sequence[Sequence[str]]
) -> None:
    """Let a column stand for another meaning where the file has nothing better."""
    if "species" not in index and not ("genus" in index and "epithet" in index) and "vernacular" in index:
        index["species"] = index.pop("vernacular")
    if "species" in index and "genus" in index and "epithet" not in index:
        cells = [row[index["species"]].strip() for row in sample if index["species"] < len(row)]
        if cells and all(re.fullmatch(r"[a-zé-]*", cell) for cell in cells):
            index["epithet"] = index.pop("species")
    if {"easting", "northing"} <= index.keys() and "letters" not in index:
        _take_letters(index, given, sample)
    has_place = (
        "reference" in index or {"easting", "northing"} <= index.keys() or {"latitude", "longitude"} <= index.keys()
    )
    if not has_place and "reference" not in given:
        for column in range(len(headers)):
            cells = [row[column].strip() for row in sample if column < len(row) and row[column].strip()]
            if cells and sum(is_reference_like(cell) for cell in cells) >= 0.8 * len(cells):
                index.update({"reference": column})
                for meaning in [m for m, i in index.items() if i == column and m != "reference"]:
                    del index[meaning]
                return


def _take_initials(index: dict[str, int], given: Mapping[str, int], words: Sequence[str]) -> None:
    """Three columns headed D, M and Y are a date in parts; alone such letters may mean anything."""
    if {"date", "year", "month", "day", "easting"} & {*index, *given}:  # beside an X, Y is no year
        return
    for initials in (("y", "m", "d"), ("yyyy", "mm", "dd"), ("yy", "mm", "dd")):
        if all(words.count(word) == 1 for word in initials):
            columns = [words.index(word) for word in initials]
            for meaning in [meaning for meaning, column in index.items() if column in columns]:
                del index[meaning]
            index.update(zip(("year", "month", "day"), columns, strict=True))
            return


def _take_letters(index: dict[str, int], given: Mapping[str, int], sample: Sequence[Sequence[str]]) -> None:
    """A column that seems to be the reference and holds its letters only, beside easting and northing."""
    for meaning in ("reference", "zone"):
        column = index.get(meaning, -1)
        cells = [row[column].strip() for row in sample if 0 <= column < len(row) and row[column].strip()]
        if meaning not in given and cells and all(re.fullmatch("[A-Za-z]{1,2}", cell) for cell in cells):
            index["letters"] = index.pop(meaning)
            return
