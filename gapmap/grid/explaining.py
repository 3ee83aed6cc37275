"""Why a value is not a reference, in a sentence fit to paste into a reply.

The questions are asked in order and the first that finds something answers. A suggestion is made only where one
repair is obvious; nothing is ever repaired in silence.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from gapmap.columns import NO_SQUARE
from gapmap.grid import questions
from gapmap.grid.packing import SIDES, pack, unpack
from gapmap.grid.reading import read
from gapmap.grid.squares import parent
from gapmap.grid.systems import SYSTEMS, system_of
from gapmap.grid.tidying import is_two_things, plain_text, tidy
from gapmap.grid.troubles import Case, Trouble, Zones
from gapmap.grid.writing import write

_GRIDS = {
    "british": "British", "irish": "Irish", "channel": "of the Channel Islands", "europe": "European", "utm": "UTM",
}
_LONGEST_CELL = 120
_NOTHING = re.compile(
    r"[\W_]*|\W*(n\s*[/.\\-]\s*a|none|null|nan|unknown|not known|missing)\W*", re.IGNORECASE
)
_SCIENTIFIC = re.compile(r"\s*[-+]?\d+(?:[.,]\d+)?[eE][-+]?\d+\s*")
_GLUED = re.compile(r"([A-Z]{1,2}[0-9]{2,10}[A-Z]{0,2}?)([A-Z]{1,2}[0-9]{2,10}[A-Z]{0,2})")
_BETWEEN = re.compile(r"[,;&+|/\s]+(?:(?:and|to|or)\s+)?|\s*[–—-]\s*(?=[A-Za-z])")
_DEGREES = re.compile(
    r"°|º|[0-9]+[.,][0-9]{2,}\s*[NSEW]\b(?![+-])"
    r"|^\s*[-+]?[0-9]{1,3}[.,][0-9]{2,}[,;\s]+[-+]?[0-9]{1,3}[.,][0-9]{2,}\s*$"
)
_METRES = re.compile(r"\W*\d{5,7}(\.\d+)?\W+\d{5,7}(\.\d+)?\W*")
#: A comma or full stop before three digits, of a number over 180: no degrees.
_THOUSANDS = re.compile(r"(?<!\d)(18[1-9]|19\d|[2-9]\d\d)[,.](?=\d{3}(?!\d))")
#: ``36/2776``: the 100 km square by the figures its coordinates begin with.
_FIGURES = re.compile(r"\s*([0-6])([0-9]|1[0-2])\s*/\s*([0-9]{2,10}|[0-9]{1,5} [0-9]{1,5})\s*")
_HUNDRED_KM = 100_000
_INSIDE_WORDS = re.compile(
    r"(?<![\w-])(?:[0-9]{1,2}[A-Z]{3}|[A-Z]{1,2}) ?[0-9]{2,10}(?: [0-9]{1,5})?(?:[NS][EW]|[A-Z])?(?![\w-])"
)
_EUROPEAN = re.compile(
    r"(?P<long>CRS3035RES)?(?P<size>[0-9]{1,6})(?P<unit>K?M)"
    r"(?P<axis>[EN])(?P<one>[0-9]{1,7})(?:(?P<other>[EN])(?P<two>[0-9]{1,7}))?"
)
_LOOKALIKES = str.maketrans("АВЕКМНОРСТХУІЈЅΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABEKMHOPCTXYIJSABEZHIKMNOPTYX")


def explain(texts: Sequence[str], system: str = "", zones: Zones = ()) -> list[Trouble]:
    """Say why each value could not be read.

    Parameters
    ----------
    texts
        Values that reading.read gave no square for.
    system, zones
        What they were held to.

    Examples
    --------
    >>> [trouble] = explain(["OR4768P"])
    >>> trouble.code, trouble.suggestion
    ('suffix-length', 'write OR46P for the tetrad or OR4768 without it, whichever is meant')
    """
    anywhere = read(tidy(texts), "", zones) if system else np.full(len(texts), NO_SQUARE)
    seen: dict[str, Trouble] = {}
    for text, square in zip(texts, anywhere.tolist(), strict=True):
        if text not in seen:
            tidied = re.sub(r"[^A-Z0-9]", "", (plain_text(text) or "").upper())
            seen[text] = _trouble_of(Case(text, tidied, system, zones, square))
    return [seen[text] for text in texts]


def _trouble_of(case: Case) -> Trouble:
    for question in _QUESTIONS:
        trouble = question(case)
        if trouble is not None:
            return trouble
    return Trouble("not-a-reference", f"“{case.shown}” does not have the form of a grid reference.")


def _is_empty(case: Case) -> Trouble | None:
    if not case.found.strip():
        return Trouble("empty", "The grid reference is missing.")
    if _NOTHING.fullmatch(case.found):
        return Trouble("empty", f"The grid reference is missing: the cell says “{case.shown}”.")
    return None


def _is_too_long(case: Case) -> Trouble | None:
    if len(case.found.strip()) <= _LONGEST_CELL:
        return None
    sentence = f"“{case.shown}” is too long for a grid reference ({len(case.found):,} characters)."
    return Trouble("not-a-reference", sentence, "check that this column holds grid references")


def _is_spoiled_number(case: Case) -> Trouble | None:
    if not _SCIENTIFIC.fullmatch(case.found):
        return None
    return Trouble(
        "spoiled-number", f"{case.shown} is a number as a spreadsheet shortens it, not a grid reference.",
        "format the column as text and type the reference again",
    )


def _is_of_other_alphabet(case: Case) -> Trouble | None:
    if plain_text(case.found) is not None or _DEGREES.search(case.found):
        return None
    strange = next(c for c in case.found if c.isalnum() and plain_text(c) is None)
    alike = case.found.upper().translate(_LOOKALIKES)
    return Trouble(
        "other-alphabet", f"{case.shown} holds the character {strange}, which is none of A to Z or 0 to 9.",
        f"type it again as {alike}" if case.reads(alike) else "",
    )


def _is_of_other_grid(case: Case) -> Trouble | None:
    has_no_zone = case.system == "utm" and re.match("[A-Z]{2}[0-9]", case.tidied)
    if case.elsewhere == NO_SQUARE or has_no_zone:
        return None
    title = system_of(int(unpack(case.elsewhere)[0])).title
    return Trouble(
        "other-grid",
        f"{case.shown} is a reference of another grid: {title}. References here are {_GRIDS[case.system]}.",
        "leave the setting for the grid empty if both grids are in use",
    )


def _is_coordinates(case: Case) -> Trouble | None:
    if _METRES.fullmatch(_THOUSANDS.sub(r"\1", case.found)):
        return Trouble(
            "coordinates", f"{case.shown} looks like an easting and a northing, not a grid reference.",
            "put them into columns headed easting and northing",
        )
    if _DEGREES.search(case.found):
        return Trouble(
            "coordinates", f"{case.shown} looks like latitude and longitude, not a grid reference.",
            "put them into columns headed latitude and longitude",
        )
    return None


def _is_two_references(case: Case) -> Trouble | None:
    parts = [part for part in _BETWEEN.split(case.found) if re.search("[0-9]", part)]
    if len(parts) < 2 and (glued := _GLUED.fullmatch(case.tidied)):
        parts = list(glued.groups())
    squares = read(tidy(parts), case.system, case.zones) if len(parts) > 1 else np.zeros(0, dtype=np.int64)
    squares = squares[squares != NO_SQUARE]
    if len(squares) < 2 and not is_two_things(case.found):
        return None
    holder = _common_parent(squares) if len(squares) > 1 else ""
    return Trouble(
        "two-references", f"{case.shown} holds more than one reference, or a range.",
        "give each its own row" + (f", or write {holder}, which holds them all" if holder else ""),
    )


def _is_without_letters(case: Case) -> Trouble | None:
    if not case.tidied.isdigit():
        return None
    lettered = _with_letters(case)
    return Trouble(
        "no-letters", f"{case.shown} has digits but not the letters of its 100 km square.",
        f"perhaps {lettered} is meant" if lettered else "write the letters of the 100 km square before the digits",
    )


def _with_letters(case: Case) -> str:
    """``36/2776`` with the letters of the British square that lies 300 km east and 600 km north; empty for others."""
    match = _FIGURES.fullmatch(case.found)
    if match is None or case.system not in ("", "british"):
        return ""
    east, north = int(match[1]) * _HUNDRED_KM, int(match[2]) * _HUNDRED_KM
    lettered = f"{write(np.array([pack(1, _HUNDRED_KM, east, north)]))[0]}{match[3]}".replace(" ", "")
    return lettered if len(lettered) % 2 == 0 and case.reads(lettered) else ""


def _is_among_words(case: Case) -> Trouble | None:
    """One reference that has words around it; what they add to it nobody can know."""
    inside = _INSIDE_WORDS.findall(case.found)
    words = re.search("[A-Za-z]", _INSIDE_WORDS.sub("", case.found))
    if len(inside) != 1 or not words or not case.reads(inside[0]):
        return None
    sentence = f"{case.shown} has words beside the grid reference."
    return Trouble("words", sentence, f"perhaps {inside[0].replace(' ', '')} is meant")


def _is_european(case: Case) -> Trouble | None:
    match = _EUROPEAN.fullmatch(case.tidied)
    if case.system not in ("", "europe"):
        return None
    if match is None:
        return _is_without_size(case)
    if {match["axis"], match["other"]} != {"E", "N"}:
        return Trouble(
            "not-a-reference", f"{case.shown} does not give both E and N.", "write it as in 10kmE432N321"
        )
    side = int(match["size"]) * (1000 if match["unit"] == "KM" else 1)
    if side not in SIDES:
        sizes = ", ".join(f"{s // 1000}km" if s >= 1000 else f"{s}m" for s in sorted(SIDES))
        return Trouble("size", f"{case.shown} has a square size that squares cannot have.", f"use one of {sizes}")
    zeros = "" if match["long"] else "0" * (len(str(side)) - len(str(side).rstrip("0")))
    metres = {match["axis"]: int(match["one"] + zeros), match["other"]: int(match["two"] + zeros)}
    europe = SYSTEMS[4]
    if metres["E"] >= europe.east or metres["N"] >= europe.north:
        return Trouble("outside-grid", f"{case.shown} lies beyond the European grid.", "count its digits")
    if any(value % side for value in metres.values()):
        return Trouble(
            "not-a-corner", f"{case.shown} is no corner of a square of that size.",
            "give the south-western corner of the square",
        )
    return None


def _is_without_size(case: Case) -> Trouble | None:
    """``E432N321``: of seven figures four are missing, which is how 10 km squares are written."""
    match = re.fullmatch(r"E([0-9]{2,7})N([0-9]{2,7})", case.tidied)
    if match is None or len(match[1]) != len(match[2]):
        return None
    side = 10 ** (7 - len(match[1]))
    sized = f"{side // 1000}km{match[0]}" if side >= 1000 else f"{side}m{match[0]}"
    sentence = f"{case.shown} does not say how large the square is."
    do = f"perhaps {sized} is meant" if case.reads(sized) else "write it as in 10kmE432N321"
    return Trouble("size", sentence, do)


_QUESTIONS: tuple[Callable[[Case], Trouble | None], ...] = (
    _is_empty, _is_too_long, _is_spoiled_number, _is_of_other_alphabet, _is_of_other_grid, _is_coordinates,
    _is_two_references, _is_without_letters, _is_european, _is_among_words,
    questions.has_mixed_up_zero, questions.has_wrong_letters, questions.has_wrong_digits,
    questions.has_wrong_suffix, questions.is_outside_its_zone,
)


def _common_parent(squares: npt.NDArray[np.int64]) -> str:
    """Reference of the smallest square that holds them all; empty when there is none below 100 km."""
    for side in (1_000, 10_000):
        holders = np.unique(parent(squares, side))
        if len(holders) == 1 and holders[0] != NO_SQUARE:
            return str(write(holders)[0])
    return ""
