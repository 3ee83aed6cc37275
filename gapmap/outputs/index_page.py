"""A page that lists what a report wrote, so that one file is the way in."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from html import escape
from pathlib import Path
from urllib.parse import quote

from gapmap.outputs.whole import whole_file

_STYLE = """
body { font: 18px/1.5 system-ui, sans-serif; color: #17202a; background: #fbfaf6; max-width: 44em; margin: 2em auto;
  padding: 0 1em; }
h1 { line-height: 1.2; }
.notice { background: #fff1c7; border: 2px solid #8a6d00; padding: .4em .8em; font-weight: 600; }
.edition { color: #4a5560; }
li { margin: .5em 0; }
a { color: #0b4a6b; } a:focus-visible { outline: 3px solid #b3005e; }
"""


def write_index(
    path: Path,
    title: str,
    edition: str,
    entries: Sequence[tuple[Path, str]],
    *,
    notice: str = "",
    notes: Sequence[str] = (),
) -> None:
    """Write the page.

    Parameters
    ----------
    path
        The ``.html`` to write; entries are linked relative to its folder.
    title, edition
        Heading, and the line below it that says whom the files are for.
    entries
        Files with what each is.
    notice, notes
        A line above everything, and sentences below the list.
    """
    digest = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    items = "\n".join(_item(path.parent, file, what) for file, what in entries)
    shown = f'<p class="notice">{escape(notice)}</p>' if notice else ""
    below = "\n".join(f"<p>{escape(note)}</p>" for note in notes)
    page = (
        '<!DOCTYPE html>\n<html lang="en-GB">\n<head>\n<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy" '
        f"content=\"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n<main>\n{shown}\n"
        f'<h1>{escape(title)}</h1>\n<p class="edition">{escape(edition)}</p>\n<ul>\n{items}\n</ul>\n{below}\n'
        "</main>\n</body>\n</html>\n"
    )
    with whole_file(path) as draft:
        draft.write_text(page, encoding="utf-8")


def _item(folder: Path, file: Path, what: str) -> str:
    link = quote(file.relative_to(folder).as_posix())
    return f'<li><a href="{escape(link)}">{escape(file.name)}</a>: {escape(what)}</li>'
