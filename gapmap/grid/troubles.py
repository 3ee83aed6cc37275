"""What can be wrong with a reference: the fixed codes, and one value on its way through the questions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from gapmap.columns import NO_SQUARE
from gapmap.grid.reading import read
from gapmap.grid.tidying import tidy

Zones = tuple[tuple[int, str], ...]

#: Every code, and what it stands for.
CODES = {
    "empty": "the cell is empty, or says that there is no reference",
    "spoiled-number": "a number that a spreadsheet shortened, such as 3.25E+05",
    "other-alphabet": "a character that is none of A to Z or 0 to 9, though it may look like one",
    "other-grid": "a good reference of another grid than the one the area is held to",
    "coordinates": "latitude and longitude, or easting and northing, stand where a reference should",
    "two-references": "two references in one cell, or a range",
    "no-letters": "digits without the letters of a 100 km square",
    "size": "a square size that squares cannot have, or none given",
    "outside-grid": "coordinates beyond the limits of the grid",
    "not-a-corner": "coordinates that are no corner of a square of that size",
    "letter-for-digit": "a letter O, I or L among the digits",
    "digit-for-letter": "a digit 0 in place of the letter O",
    "letter-i": "the letter I, which no 100 km square has",
    "unknown-letters": "letters that no square of this grid has",
    "zone": "a UTM zone or band that does not exist, or a zone without its band",
    "no-zone": "a UTM code without its zone, and no zone given that it fits",
    "two-zones": "a UTM code without its zone that fits several of the zones given",
    "uneven-digits": "a gap that does not halve the digits",
    "odd-digits": "an odd number of digits",
    "too-many-digits": "more digits than a 1 m square has",
    "suffix-length": "a tetrad letter or quadrant after anything but a hectad",
    "tetrad-letter": "O as a tetrad letter",
    "suffix-letters": "letters after the digits that name no part of a hectad",
    "outside-zone": "a UTM square that lies outside its zone",
    "words": "one good reference with words around it",
    "not-a-reference": "words, or nothing that has the form of a reference",
}


@dataclass(frozen=True)
class Trouble:
    """What is wrong with one value: a code of CODES, a sentence, and what was probably meant (may be empty)."""

    code: str
    sentence: str
    suggestion: str = ""


@dataclass(frozen=True)
class Case:
    """One value that could not be read.

    Parameters
    ----------
    found
        The value as it stands in the cell.
    tidied
        Its capitals and digits alone.
    system, zones
        What it is held to.
    elsewhere
        The square it would be if it were held to no grid; NO_SQUARE when none.
    """

    found: str
    tidied: str
    system: str
    zones: Zones
    elsewhere: int = NO_SQUARE

    @property
    def shown(self) -> str:
        """The value as found, on one line and shortened."""
        one_line = " ".join(self.found.split())
        return one_line if len(one_line) <= 60 else one_line[:59] + "…"

    def reads(self, text: str) -> bool:
        """Whether another text could be read in its place."""
        return _reads(text, self.system, self.zones)


@lru_cache(maxsize=10_000)
def _reads(text: str, system: str, zones: Zones) -> bool:
    return bool(read(tidy([text]), system, zones)[0] != NO_SQUARE)
