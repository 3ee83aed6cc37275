"""Write the interactive page: one file that asks nothing of any network and runs no text that came from a file.

folium and branca render the map's frame, in which no word comes from a file: branca reads what a map element
renders as a template a second time, so a species named ``{{ … }}`` would run. The data are put in afterwards,
in one pass over fixed placeholders, as JSON whose ``<``, ``>`` and ``&`` are escaped; the script in the page
writes them as text only; and a content-security policy names, by their hashes, the one script and the one
style that may run.
"""

from __future__ import annotations

import base64
import hashlib
import html
import importlib.metadata
import json
import re
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from gapmap.errors import OutputError
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.gather import gather
from gapmap.outputs.page.words import page_words
from gapmap.outputs.whole import whole_file

#: Parts of the page's script in the order they are read.
SCRIPTS = (
    "unpack.js", "inflate.js", "model.js", "found.js", "colours.js", "grid.js", "sheet.js", "coverage.js",
    "species.js", "find.js", "growth.js", "work.js", "panel.js", "table.js", "search.js", "address.js", "beside.js",
    "tiles.js", "main.js",
)
_LEAFLET = "XStatic-Leaflet"
_PLACEHOLDER = re.compile(r"@@([A-Z_]+)@@")


def write_page(path: Path, page: Page) -> None:
    """Write a page as one self-contained HTML file.

    Parameters
    ----------
    path
        Where the file is to stand; it appears whole or not at all.
    page
        What it shows.

    Raises
    ------
    OutputError
        The file cannot be written, or the Leaflet files are not installed.
    """
    text = page_to_html(page)
    with whole_file(path) as draft:
        draft.write_text(text, encoding="utf-8", newline="\n")


def page_to_html(page: Page) -> str:
    """The page as text; equal pages give equal text, byte for byte."""
    words = page_words()
    facts, block = gather(page, words)
    element, map_script = _map_frame()
    style = "\n".join((_squeezed_style(_leaflet("leaflet.css")), _squeezed_style(_file("style.css"))))
    script = "\n".join((_leaflet("leaflet.js"), map_script, '(function () {\n"use strict";',
                        *(_squeezed(_file(name)) for name in SCRIPTS), "})();"))
    return _fill(_file("page.html"), {
        "LANGUAGE": html.escape(words["language"]),
        "TITLE": html.escape(str(facts["title"])),
        "POLICY": _policy(style, script, page.tiles.host if page.tiles else ""),
        "STYLE": style,
        "MAP": element,
        "SCRIPT": script,
        "FACTS": json_for_script(facts),
        "COLUMNS": json_for_script(block.to_text()),
        "NEEDS_SCRIPT": html.escape(words["needs_script"]),
    })


def json_for_script(value: Any) -> str:
    """JSON that can stand inside a script element: no character in it can end the element or start another.

    Examples
    --------
    >>> json_for_script("</script><!-- & \\u2028")
    '"\\\\u003c/script\\\\u003e\\\\u003c!-- \\\\u0026 \\\\u2028"'
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


def _fill(template: str, parts: dict[str, str]) -> str:
    """Put the parts in their places in one pass: what was put in is never looked at again."""
    return _PLACEHOLDER.sub(lambda match: parts[match[1]], template)


def _policy(style: str, script: str, host: str) -> str:
    """Nothing from anywhere; pictures from one host where the area file names it."""
    pictures = f"data: https://{host}" if host else "data:"
    return (
        f"default-src 'none'; script-src '{_hash(script)}'; style-src '{_hash(style)}'; img-src {pictures}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


@cache
def _map_frame() -> tuple[str, str]:
    """The map's element and the script that makes it, rendered by folium with a fixed id and no assets."""
    import folium

    frame = folium.Map(
        location=[0, 0], zoom_start=-6, tiles=None, crs="Simple", zoom_control=False, minZoom=-14, maxZoom=2,
        zoomSnap=0.25, zoomDelta=0.5, wheelPxPerZoomLevel=120, attributionControl=False, keyboard=False,
        boxZoom=False,
    )
    frame._id = "gapmap"
    frame.default_js, frame.default_css = [], []
    figure: Any = frame.get_root()
    figure.render()
    return figure.html.render().strip(), figure.script.render().strip()


@cache
def _file(name: str) -> str:
    return files(__package__).joinpath("files", name).read_text(encoding="utf-8").strip()


@cache
def _squeezed(text: str) -> str:
    """A script without indents and without the remarks that stand on lines of their own."""
    return re.sub(r"(?m)^\s+", "", re.sub(r"(?ms)^\s*/\*.*?\*/\s*$", "", text))


@cache
def _squeezed_style(text: str) -> str:
    """A style without indents, remarks and line breaks inside its rules."""
    without_remarks = re.sub(r"(?s)/\*.*?\*/", "", text)
    return re.sub(r"(?<=[{;,])\s+|\s+(?=[{}])", "", re.sub(r"\n\s*", "\n", without_remarks)).strip()


@cache
def _leaflet(name: str) -> str:
    """A file of the installed Leaflet, without what would make a browser ask for another file."""
    try:
        listed = importlib.metadata.files(_LEAFLET) or []
        text = next(Path(str(entry.locate())) for entry in listed if entry.name == name).read_text(encoding="utf-8")
    except (importlib.metadata.PackageNotFoundError, StopIteration, OSError) as error:
        raise OutputError(
            "The map library the page is made with is not installed", found=f"no {name}",
            do=f"run: python -m pip install {_LEAFLET}",
        ) from error
    without_pictures = re.sub(r"[\w-]+:\s*url\((?!#)[^)]*\);?", "", text) if name.endswith(".css") else text
    return re.sub(r"(?m)^//# sourceMappingURL=.*$|/\*# sourceMappingURL=.*?\*/", "", without_pictures).strip()
