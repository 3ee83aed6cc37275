"""The checklist: which names there are, what they were called before, and what being sure of them takes."""

from __future__ import annotations

import re
from pathlib import Path

import pandas as pd

from gapmap.errors import ColumnError, FileError
from gapmap.records.names.parts import text_to_name
from gapmap.records.own_lists import read_own_list
from gapmap.typed import SQUARE_SIDES

#: Columns of a checklist as read, in their order; all are text but sensitive_m (metres, 0 when not
#: sensitive).
CHECKLIST_COLUMNS = (
    "name", "authority", "rank", "synonyms", "vernacular", "group", "difficulty", "evidence", "months",
    "time_of_day", "sensitive_m",
)  # fmt: skip
#: Metres that a species marked sensitive without a size is published at.
SENSITIVE_SIDE_M = 10_000

_HEADERS = {
    "name": ("name", "scientific name", "species", "taxon", "accepted name"),
    "authority": ("authority", "author", "authorship", "scientific name authorship"),
    "rank": ("rank", "taxon rank"),
    "synonyms": ("synonyms", "synonym", "other names"),
    "vernacular": ("vernacular", "common name", "english name", "vernacular name", "everyday name"),
    "group": ("group", "taxon group"),
    "difficulty": ("identify", "difficulty", "how hard to identify"),
    "evidence": ("evidence", "by what evidence"),
    "months": ("months", "season", "flight period"),
    "time_of_day": ("time of day", "time", "hour"),
    "sensitive_m": ("sensitive", "sensitivity"),
}
#: Doubts about a checklist that are told one by one.
_MOST_TOLD = 4
_MONTHS = re.compile(r"\s*(1[0-2]|[1-9])(\s*-\s*(1[0-2]|[1-9]))?(\s*[,;]\s*(1[0-2]|[1-9])(\s*-\s*(1[0-2]|[1-9]))?)*\s*")
_YES, _NO = {"yes", "y", "true", "x", "1"}, {"", "no", "n", "false", "0", "-"}


def read_checklist(path: Path) -> pd.DataFrame:
    """Read a checklist.

    Parameters
    ----------
    path
        A CSV file with a header; only the column ``name`` must be there. Synonyms and everyday names are
        separated by semicolons or bars; months are numbers such as ``4-10`` or ``3, 9-11``; sensitive is yes,
        no or a square size.

    Returns
    -------
    DataFrame
        Columns as in CHECKLIST_COLUMNS, one row a name.

    Raises
    ------
    FileError
        The file cannot be read, or one of its rows cannot be; the sentence names the row.
    ColumnError
        There is no column of names, or two columns claim the same meaning.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "checklist.csv"
    >>> _ = path.write_text("name,synonyms,sensitive\\nAglais io,Inachis io,no\\n", encoding="utf-8")
    >>> read_checklist(path)[["name", "synonyms", "sensitive_m"]].values.tolist()
    [['Aglais io', 'Inachis io', 0]]
    """
    written = read_own_list(path, "the checklist")
    columns = _columns(path, written.header)
    entries = []
    for number, row in written.rows:
        cells = {meaning: " ".join(row[place].split()) for meaning, place in columns.items()}
        if any(cells.values()):
            entries.append(_entry(path, number, cells))
    checklist = pd.DataFrame(entries, columns=list(CHECKLIST_COLUMNS))
    _check_unique(path, checklist)
    types = dict.fromkeys(CHECKLIST_COLUMNS[:-1], "str") | {"sensitive_m": "int64"}
    return checklist.astype(types)


def doubts_of_checklist(checklist: pd.DataFrame) -> tuple[str, ...]:
    """A sentence about each name that the checklist has as a synonym of another as well: which of the two is meant?

    Examples
    --------
    >>> one, other = {"name": "Aglais io", "synonyms": "Inachis io"}, {"name": "Inachis io", "synonyms": ""}
    >>> doubts_of_checklist(pd.DataFrame([one, other]))[0].partition(",")[0]
    'The checklist has Inachis io both as a name and as a synonym of Aglais io'
    """
    listed = {str(name).casefold(): str(name) for name in checklist["name"]}
    pairs = {
        (listed[synonym.casefold()], str(name))
        for name, synonyms in zip(checklist["name"], checklist["synonyms"], strict=True)
        for synonym in split_names(synonyms)
        if synonym.casefold() in listed and synonym.casefold() != str(name).casefold()
    }
    once = sorted(pair for pair in pairs if pair[::-1] not in pairs or pair < pair[::-1])
    said = [
        f"The checklist has {name} both as a name and as a synonym of {other}, so the two are counted apart. "
        f"If they are one, take the row of {name} out."
        for name, other in once[:_MOST_TOLD]
    ]
    further = len(once) - len(said)
    return (*said, f"So it is with {further} more of the checklist's names.") if further else tuple(said)


def split_names(cell: object) -> list[str]:
    """Names that stand in one cell, parted by semicolons or bars.

    Examples
    --------
    >>> split_names("Inachis io; Vanessa  io|")
    ['Inachis io', 'Vanessa io']
    """
    return [" ".join(part.split()) for part in str(cell).replace("|", ";").split(";") if part.strip()]


def _columns(path: Path, header: list[str]) -> dict[str, int]:
    plain = [re.sub(r"[\s_]+", " ", cell).strip().lower() for cell in header]
    columns: dict[str, int] = {}
    for meaning, words in _HEADERS.items():
        places = [place for place, cell in enumerate(plain) if cell in words]
        exact = [place for place in places if plain[place] == words[0]]
        places = exact if len(exact) == 1 else places
        if len(places) > 1:
            named = " and ".join(header[place] for place in places)
            raise ColumnError(
                f"Two columns of the checklist {path.name} mean the same", found=named, do="keep one of them"
            )
        if places:
            columns[meaning] = places[0]
    if "name" not in columns:
        raise ColumnError(
            f"The checklist {path.name} has no column called name", found=", ".join(header) or "nothing",
            do="call the column of scientific names: name",
        )  # fmt: skip
    return columns


def _entry(path: Path, number: int, cells: dict[str, str]) -> dict[str, object]:
    name = cells.get("name", "")
    if not name:
        raise FileError(f"{path.name}, row {number}: there is no name", do="write the name or delete the row")
    months = cells.get("months", "").replace("–", "-")
    if months and not _MONTHS.fullmatch(months):
        raise FileError(
            f"{path.name}, row {number}: the months of {name} cannot be understood", found=months,
            do="write numbers such as 4-10",
        )  # fmt: skip
    entry: dict[str, object] = {meaning: cells.get(meaning, "") for meaning in CHECKLIST_COLUMNS}
    entry["rank"] = cells.get("rank", "").lower() or _rank_of(name)
    entry["months"] = re.sub(r"\s", "", months)
    entry["sensitive_m"] = _metres(path, number, name, cells.get("sensitive_m", ""))
    return entry


def _rank_of(name: str) -> str:
    rank = text_to_name(name).rank
    return rank if rank in ("species", "subspecies", "aggregate", "hybrid", "genus", "subgenus") else "species"


def _metres(path: Path, number: int, name: str, text: str) -> int:
    plain = re.sub(r"\s+", "", text).lower()
    if plain in _NO:
        return 0
    if plain in _YES:
        return SENSITIVE_SIDE_M
    side = SQUARE_SIDES.get(plain)
    if side is None and re.fullmatch(r"\d{3,6}m?", plain):
        side = int(plain.rstrip("m"))
    if side is None:
        raise FileError(
            f"{path.name}, row {number}: it is not clear how sensitive {name} is", found=text,
            do="write yes, no or a square size such as 10km",
        )  # fmt: skip
    return side


def _check_unique(path: Path, checklist: pd.DataFrame) -> None:
    keys = checklist["name"].astype(str).str.casefold()
    twice = checklist.loc[keys.duplicated(), "name"]
    if len(twice):
        raise FileError(f"{path.name} has a name twice", found=twice.iloc[0], do="keep one of the two rows")
