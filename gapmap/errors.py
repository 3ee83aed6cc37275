"""The sentences people get when something is wrong.

Every error that may reach a person says three things in everyday words: what was wrong, what was
found, and what to do about it. The command line prints the sentence and nothing else.
"""

from __future__ import annotations


class GapmapError(Exception):
    """Something is wrong that the person at the keyboard can mend.

    Parameters
    ----------
    what
        What was wrong, without a full stop.
    found
        What was found instead (a value, a header, a file name), without a full stop.
    do
        What to do next, without a full stop.

    Examples
    --------
    >>> print(GapmapError("The square size must be one of 1km, 2km or 10km", found="3km", do="give --square 2km"))
    The square size must be one of 1km, 2km or 10km. Found: 3km. What to do: give --square 2km.
    >>> print(GapmapError("The folder holds no records"))
    The folder holds no records.
    """

    def __init__(self, what: str, *, found: object = None, do: str | None = None) -> None:
        self.what = what
        self.found = None if found is None else str(found)
        self.do = do
        super().__init__(what)

    def __str__(self) -> str:
        parts = [self.what.rstrip(".") + "."]
        if self.found is not None:
            parts.append(f"Found: {_shortened(self.found).rstrip('.')}.")
        if self.do is not None:
            parts.append(f"What to do: {self.do.rstrip('.')}.")
        return " ".join(parts)


class FileError(GapmapError):
    """A file cannot be read, is not what its name says, or is dangerous to open."""


class ColumnError(GapmapError):
    """A table lacks a column, or two columns claim the same meaning."""


class SettingsError(GapmapError):
    """The area file or an option says something that cannot be."""


class GridError(GapmapError):
    """A grid system, square size or reference given as an option cannot be used."""


class OutputError(GapmapError):
    """A result cannot be written where it was asked for."""


def _shortened(text: str, longest: int = 200) -> str:
    one_line = " ".join(text.split())
    return one_line if len(one_line) <= longest else one_line[: longest - 1] + "…"
