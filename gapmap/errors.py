"""The sentences people get when something is wrong.

Every error that may reach a person says three things in everyday words: what was wrong, what was
found, and what to do about it. The command line prints the sentence and nothing else.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any


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
            parts.append(f"What to do: {self.do.rstrip('.')}{'' if self.do.endswith('?') else '.'}")
        return " ".join(parts)


class FileError(GapmapError):
    """A file cannot be read, is not what its name says, or is dangerous to open."""


class ColumnError(GapmapError):
    """A table lacks a column, or two columns claim the same meaning."""


class SettingsError(GapmapError, ValueError):
    """The area file or an option says something that cannot be."""


class GridError(GapmapError):
    """A grid system, square size or reference given as an option cannot be used."""


class OutputError(GapmapError):
    """A result cannot be written where it was asked for."""


def _shortened(text: str, longest: int = 200) -> str:
    one_line = " ".join(text.split())
    return one_line if len(one_line) <= longest else one_line[: longest - 1] + "…"


def what_was_wanted(kind: str, said: Mapping[str, object]) -> str:
    """What a setting should have been, for someone who has never programmed.

    Parameters
    ----------
    kind
        Kind of fault, as pydantic names it.
    said
        Its particulars.

    Examples
    --------
    >>> what_was_wanted("int_parsing", {}), what_was_wanted("greater_than_equal", {"ge": 1})
    ('write a whole number', 'write 1 or more')
    >>> what_was_wanted("literal_error", {"expected": "'british' or 'irish'"})
    "write 'british' or 'irish'"
    """
    choices = str(said.get("expected")).removeprefix("'', ")
    wanted = {
        "string_type": "write words in quotation marks",
        "int": "write a whole number",
        "float": "write a number",
        "bool": "write true or false, without quotation marks",
        "tuple": 'write a list in square brackets, such as ["one", "two"]',
        "dict": 'write pairs in curly brackets, such as { "one" = "two" }',
        "model": "write it as a section of its own, with its settings below",
        "missing": "add it",
        "greater_than_equal": f"write {said.get('ge')} or more",
        "greater_than": f"write more than {said.get('gt')}",
        "less_than_equal": f"write {said.get('le')} or less",
        "less_than": f"write less than {said.get('lt')}",
        "literal_error": f"write {choices}",
    }
    return wanted.get(kind) or wanted.get(kind.split("_")[0], "write another value")


#: What pydantic adds to the place of a fault that lies in the name of a setting instead of in its value.
_NAME = "[key]"


def fault_of_line(file: str, text: str, fault: str) -> SettingsError:
    """The sentence for a line that is no TOML.

    Parameters
    ----------
    file, text
        The area file's name and what it holds.
    fault
        What the reader of TOML said; the line it names is the one shown.

    Examples
    --------
    >>> print(fault_of_line("area.toml", "square = 2 km", "Expected newline (at line 1, column 12)"))
    area.toml, line 1: this cannot be read. Found: square = 2 km. What to do: write words in straight quotation marks...
    """
    named = re.search(r"at line (\d+)", fault)
    lines = [number for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    number = int(named[1]) if named else max(lines, default=1)
    found = [*text.splitlines(), ""][number - 1].strip()
    if "twice" in fault or "overwrite" in fault:
        return SettingsError(f"{file}, line {number}: this was set before", found=found, do="keep one of the two")
    if "Unescaped '\\'" in fault:
        do = "write / in place of \\ between folders"
    elif "Unclosed array" in fault:
        do = "close the list above it with a square bracket"
    else:
        do = (
            'write words in straight quotation marks, as in square = "2km", lists in square brackets, as in '
            '["OR47A", "OR47B"], and put # before notes'
        )
    return SettingsError(f"{file}, line {number}: this cannot be read", found=found, do=do)


def fault_of_setting(file: str, text: str, first: Mapping[str, Any]) -> SettingsError:
    """A fault in a settings file, with its line.

    Parameters
    ----------
    file, text
        Name and contents of the file.
    first
        The fault: its kind, where it is, what was found, and particulars, as pydantic lists them.

    Examples
    --------
    >>> fault = {"type": "int_parsing", "loc": ("records", "year_pivot"), "input": "a"}
    >>> print(fault_of_setting("area.toml", "[records]\\nyear_pivot = 'a'", fault))
    area.toml, line 2: records.year_pivot cannot be this value. Found: a. What to do: write a whole number.
    """
    place = [str(part) for part in first["loc"] if part != _NAME]
    where = f"{file}, line {_line_of(text, place)}: " if place else f"{file}: "
    name = ".".join(place)
    if first["type"] == "extra_forbidden":
        return SettingsError(f"{where}there is no setting {name}", do="check its spelling or take it out")
    inner = first.get("ctx", {}).get("error")
    if isinstance(inner, SettingsError):
        return SettingsError(where + inner.what, found=inner.found, do=inner.do)
    wanted = what_was_wanted(first["type"], first.get("ctx", {}))
    if _NAME in first["loc"]:
        return SettingsError(f"{where}there is no setting {name}", do=wanted)
    return SettingsError(f"{where}{name} cannot be this value", found=first.get("input"), do=wanted)


def _line_of(text: str, place: list[str]) -> int:
    section, best = "", 1
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
        if header:
            section = header[1]
            if section.split(".")[0] == place[0]:
                best = number
        key = re.match(r"\s*[\"']?([\w .-]+?)[\"']?\s*=", line)
        path = [*section.split("."), key[1]] if key and section else [key[1]] if key else []
        if path and path == place[: len(path)]:
            return number
    return best
