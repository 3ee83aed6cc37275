"""Write the interactive page: one file that asks nothing of any network and runs no text that came from a file.

folium and branca render the map's frame, in which no word comes from a file: branca reads what a map element
renders as a template a second time, so a species named ``{{ … }}`` would run. The data are put in afterwards,
in one pass over fixed placeholders, as one packed text without a ``<``; the script in the page writes them as
text only; and a content-security policy names, by their hashes, the scripts and the styles that may run. There are
two of each: short ones stand in the page, and the others are packed with the data.
"""

from __future__ import annotations

import base64
import hashlib
import html
import importlib.metadata
import json
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from gapmap.errors import OutputError
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.gather import gather
from gapmap.outputs.page.planes import bytes_to_text
from gapmap.outputs.page.words import page_words
from gapmap.outputs.whole import whole_file

#: Parts of the script that unpacks the page, and of the page's own, in the order they are read.
BOOT = ("inflate.js", "boot.js")
SCRIPTS = (
    "unpack.js", "model.js", "found.js", "colours.js", "grid.js", "sheet.js", "coverage.js",
    "species.js", "find.js", "growth.js", "work.js", "panel.js", "table.js", "search.js", "address.js", "beside.js",
    "tiles.js", "main.js",
)
#: Style until the page's own is unpacked: nothing is seen before it is laid out.
HIDING = "body:not(.styled) > :not(noscript) { visibility: hidden }"
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
    boot = _alone(BOOT)
    script = "\n".join((_leaflet("leaflet.js"), map_script, _alone(SCRIPTS)))
    told = json.dumps(facts, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    before = [part.encode() for part in (style, script, told)]
    packed = block.to_bytes(*before)
    return _fill(_file("page.html"), {
        "LANGUAGE": html.escape(words["language"]),
        "TITLE": html.escape(str(facts["title"])),
        "POLICY": _policy((HIDING, style), (boot, script), page.tiles.host if page.tiles else ""),
        "HIDING": HIDING,
        "MAP": element,
        "BYTES": str(len(packed)),
        "PARTS": " ".join(str(length) for length in (*map(len, before), block.size())),
        "PACKED": bytes_to_text(packed),
        "BOOT": boot,
        "NEEDS_SCRIPT": html.escape(words["needs_script"]),
    })


def _alone(names: Sequence[str]) -> str:
    """Scripts that see each other and leave nothing behind."""
    return "\n".join(('(function () {\n"use strict";', *(_squeezed(_file(name)) for name in names), "})();"))


def _fill(template: str, parts: dict[str, str]) -> str:
    """Put the parts in their places in one pass: what was put in is never looked at again."""
    return _PLACEHOLDER.sub(lambda match: parts[match[1]], template)


def _policy(styles: Sequence[str], scripts: Sequence[str], host: str) -> str:
    """Nothing from anywhere; pictures from one host where the area file names it."""
    pictures = f"data: https://{host}" if host else "data:"
    scripts, styles = (" ".join(map(_hash, each)) for each in (scripts, styles))
    return (
        f"default-src 'none'; script-src {scripts}; style-src {styles}; img-src {pictures}; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


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
