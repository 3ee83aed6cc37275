"""What people type, in the area file or behind an option, as values: date classes, sizes of squares, months."""

from __future__ import annotations

import re
from datetime import date
from itertools import pairwise

from pydantic import BaseModel, ConfigDict

from gapmap.errors import SettingsError

#: Square sizes a map can have, in metres, by the word used for them.
SQUARE_SIDES = {
    "100m": 100,
    "1km": 1_000,
    "2km": 2_000,
    "5km": 5_000,
    "10km": 10_000,
    "20km": 20_000,
    "50km": 50_000,
    "100km": 100_000,
    "monad": 1_000,
    "tetrad": 2_000,
    "quadrant": 5_000,
    "hectad": 10_000,
}
#: The page keeps the classes a species was found in as the bits of one number, and a browser reckons with so many.
MOST_CLASSES = 31


class DateClass(BaseModel):
    """A run of whole years that records are counted in.

    Examples
    --------
    >>> DateClass(first=2001, last=2010).label
    '2001–2010'
    >>> DateClass(first=None, last=2000).label
    'to 2000'
    """

    model_config = ConfigDict(frozen=True, extra="forbid")
    first: int | None = None
    last: int | None = None

    @property
    def label(self) -> str:
        """The class as people read it."""
        if self.first is None:
            return f"to {self.last}" if self.last is not None else "all years"
        if self.last is None:
            return f"from {self.first}"
        return str(self.first) if self.first == self.last else f"{self.first}–{self.last}"

    @property
    def first_day(self) -> date:
        """First day of the class; the earliest day there is when it is open."""
        return date(self.first, 1, 1) if self.first is not None else date.min

    @property
    def last_day(self) -> date:
        """Last day of the class; the latest day there is when it is open."""
        return date(self.last, 12, 31) if self.last is not None else date.max


def text_to_classes(text: str) -> tuple[DateClass, ...]:
    """Read date classes as people type them.

    Parameters
    ----------
    text
        Classes separated by commas; each a year, two years with a dash, or a dash with one end open.

    Returns
    -------
    tuple of DateClass
        In the order of time. Empty for an empty text.

    Raises
    ------
    SettingsError
        A class cannot be read, ends before it starts, or overlaps another; or there are more than MOST_CLASSES.

    Examples
    --------
    >>> [c.label for c in text_to_classes("-2000, 2001-2010, 2011-")]
    ['to 2000', '2001–2010', 'from 2011']
    >>> text_to_classes("")
    ()
    """
    found = []
    for part in (piece.strip() for piece in text.split(",")):
        if not part:
            continue
        match = re.fullmatch(r"([1-9]\d{3})?(?:\s*([-–—]|to)\s*([1-9]\d{3})?)?", part)
        if match is None or not (match[1] or match[3]):
            raise SettingsError(
                "A date class is a year or two years with a dash between them",
                found=part,
                do='write classes such as "-2000, 2001-2010, 2011-"',
            )
        first, dash, last = match[1], match[2], match[3]
        if dash is None:
            last = first
        if first and last and int(first) > int(last):
            raise SettingsError("A date class ends before it starts", found=part, do=f"write {last}-{first}")
        found.append(DateClass(first=int(first) if first else None, last=int(last) if last else None))
    if len(found) > MOST_CLASSES:
        raise SettingsError(
            f"There are more than {MOST_CLASSES} date classes", found=len(found), do="let each class hold more years"
        )
    ordered = sorted(found, key=lambda c: c.first_day)
    for earlier, later in pairwise(ordered):
        if later.first_day <= earlier.last_day:
            raise SettingsError(
                "Two date classes overlap",
                found=f"{earlier.label} and {later.label}",
                do="let each class start the year after the one before it ends",
            )
    return tuple(ordered)


def text_to_side(text: str) -> int:
    """Read a square size such as ``2km`` or ``hectad`` as metres.

    Examples
    --------
    >>> text_to_side("2 km"), text_to_side("Hectad")
    (2000, 10000)
    """
    side = SQUARE_SIDES.get(re.sub(r"\s+", "", text).lower())
    if side is None:
        raise SettingsError(
            "This is not a square size gapmap can map", found=text, do=f"use one of {', '.join(SQUARE_SIDES)}"
        )
    return side


def text_to_months(text: str) -> tuple[int, ...]:
    """Read months such as ``3-8`` or ``11-2, 5``.

    Examples
    --------
    >>> text_to_months("11-2, 5")
    (11, 12, 1, 2, 5)
    """
    months: list[int] = []
    for part in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,2})\s*(?:[-–]\s*(\d{1,2}))?\s*", part)
        if match is None or not all(1 <= int(end) <= 12 for end in match.groups() if end):
            raise SettingsError("These are no months", found=text, do='write months as numbers, such as "3-8"')
        first, last = int(match[1]), int(match[2] or match[1])
        months += [(first - 1 + step) % 12 + 1 for step in range((last - first) % 12 + 1)]
    return tuple(dict.fromkeys(months))
