"""What a person sees while waiting: bars on standard error, sentences on standard output."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

#: A cell that is ranged right: a number, a percentage or nothing.
_IS_NUMBER = re.compile(r"([\d,.]+( %)?)?").fullmatch
#: The rooms report as progress(fraction from 0 to 1, sentence).
Progress = Callable[[float, str], None]


@contextmanager
def progress_bar() -> Iterator[Progress]:
    """A bar on standard error when that is a terminal; nothing otherwise."""
    if not sys.stderr.isatty():
        yield lambda fraction, sentence: None
        return
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bar

    shape = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Bar(*shape, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)

        def report(fraction: float, sentence: str) -> None:
            bar.update(task, completed=fraction, description=escape(sentence))

        yield report


def say(text: str = "") -> None:
    """Print a line; characters that the terminal cannot show are replaced rather than fatal."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(printable(text).encode(encoding, "replace").decode(encoding) + "\n")


def complain(text: str) -> None:
    """Print a line to standard error."""
    encoding = sys.stderr.encoding or "utf-8"
    sys.stderr.write(printable(text).encode(encoding, "replace").decode(encoding) + "\n")


def say_table(rows: list[tuple[str, str]], indent: str = "  ") -> None:
    """Print pairs in two columns.

    Examples
    --------
    >>> say_table([("rows read", "1,200"), ("kept", "1,190")])
      rows read  1,200
      kept       1,190
    """
    width = max((len(name) for name, _ in rows), default=0)
    for name, value in rows:
        say(f"{indent}{name:<{width}}  {value}")


def printable(text: str) -> str:
    """The text without characters that steer a terminal, every blank an ordinary one.

    Examples
    --------
    >>> printable("a\\x1b[31mred\\tb"), printable("10\\xa0km")
    ('a�[31mred\\tb', '10 km')
    """
    return "".join(c if c.isprintable() or c in "\n\t" else " " if c.isspace() else "�" for c in text)


def say_frame(frame: Any, longest: int = 44) -> None:
    """Print a small table, numbers to the right, its headers in words."""
    columns = [str(name).replace("_", " ") for name in frame.columns]
    rows = [[_cell(value, longest) for value in row] for row in frame.itertuples(index=False)]
    widths = [max(len(name), *(len(row[n]) for row in rows), 0) for n, name in enumerate(columns)]
    kinds = [frame[name].dtype.kind for name in frame.columns]
    numeric = [kind in "iuf" or all(_IS_NUMBER(row[n]) for row in rows) for n, kind in enumerate(kinds)]
    for cells in (columns, *rows):
        line = (
            cell.rjust(w) if right else cell.ljust(w) for cell, w, right in zip(cells, widths, numeric, strict=True)
        )
        say("  " + "  ".join(line).rstrip())


def _cell(value: object, longest: int) -> str:
    if isinstance(value, float) and value != value:
        return ""
    text = f"{value:,}" if isinstance(value, int) else f"{value:.3g}" if isinstance(value, float) else str(value)
    return text if len(text) <= longest else text[: longest - 1] + "…"
