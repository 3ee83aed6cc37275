"""Where things stand on the screen, compared loosely with what somebody looked at and found good.

``layout.json`` keeps, for four ways of looking, the boxes of the main parts in thousandths of the window and the mean
lightness of a few coarse blocks: enough to notice that the map shrank, the legend went over it or a part vanished, and
blind to fonts, pixels and browser versions. After a wanted change look at the page, then write it anew with
``GAPMAP_WRITE_LAYOUT=1``.
"""

from __future__ import annotations

import io
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

pytestmark = pytest.mark.browser
KEPT = Path(__file__).with_name("layout.json")
#: Name, address, width, height, medium.
WAYS = {
    "desk": ("#view=coverage", 1366, 768, "screen"),
    "projector": ("#view=coverage&projector=yes", 1280, 720, "screen"),
    "phone": ("#view=coverage", 390, 844, "screen"),
    "print": ("#view=coverage", 1032, 720, "print"),
}
PARTS = ("header", "#views", "#controls", "#map-title", "#map-box", "#key", "#panel", ".zooming", "#scale")
#: Thousandths of the window a side of a box may be off; fonts of other machines are wider and higher.
FAR = 60
#: Blocks across and down, and how far their lightness (0 to 255) may be off.
BLOCKS, PALER = (6, 4), 30


def layout(opened: Any, width: int, height: int) -> dict[str, Any]:
    """Boxes as left, top, right and bottom in thousandths of the window; lightness block by block."""
    found = opened.page.evaluate(
        """(parts) => parts.map((part) => { const seen = document.querySelector(part);
        const box = seen && seen.getBoundingClientRect();
        return box && box.width && box.height ? [box.left, box.top, box.right, box.bottom] : []; })""",
        list(PARTS),
    )
    boxes = {
        part: [round(1000 * side / (height if n % 2 else width)) for n, side in enumerate(sides)]
        for part, sides in zip(PARTS, found, strict=True)
    }
    grey = Image.open(io.BytesIO(opened.page.screenshot())).convert("L")
    blocks = np.asarray(grey.resize(BLOCKS, Image.Resampling.BOX)).tolist()
    return {"boxes": boxes, "lightness": blocks}


def differences(seen: dict[str, Any], kept: dict[str, Any]) -> list[str]:
    """What is elsewhere, gone, new, lighter or darker."""
    found = []
    for part, box in kept["boxes"].items():
        now = seen["boxes"][part]
        if len(now) != len(box):
            found.append(f"{part} {'is gone' if box else 'has come'}")
        elif any(abs(a - b) > FAR for a, b in zip(now, box, strict=True)):
            found.append(f"{part} was at {box} and is at {now}")
    off = np.abs(np.array(seen["lightness"]) - np.array(kept["lightness"]))
    found += [f"block {across + 1} across, {down + 1} down" for down, across in np.argwhere(off > PALER)]
    return found


def opened_as(open_page: Callable[..., Any], way: str) -> tuple[Any, dict[str, Any]]:
    address, width, height, medium = WAYS[way]
    opened = open_page(address=address, width=width, height=height)
    opened.page.emulate_media(media=medium)
    opened.page.wait_for_timeout(300)
    return opened, layout(opened, width, height)


@pytest.mark.parametrize("way", WAYS)
def test_things_stand_where_they_stood(open_page: Callable[..., Any], way: str) -> None:
    _, seen = opened_as(open_page, way)
    kept = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}
    if os.environ.get("GAPMAP_WRITE_LAYOUT"):
        lines = [f'"{name}": {json.dumps(each)}' for name, each in sorted({**kept, way: seen}.items())]
        KEPT.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
        pytest.skip("written anew")
    assert differences(seen, kept[way]) == []


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        ("document.getElementById('key').remove()", "#key is gone"),
        ("document.getElementById('map-box').style.flex = '0 0 40%'", "#map-box was at"),
        ("document.querySelector('main').style.filter = 'invert(1)'", "block 1 across"),
    ],
)
def test_the_comparison_notices(open_page: Callable[..., Any], spoil: str, said: str) -> None:
    opened, _ = opened_as(open_page, "desk")
    style = "document.querySelector('meta[http-equiv]').remove();"
    opened.page.evaluate(f"() => {{ {style} {spoil}; }}")
    opened.page.wait_for_timeout(200)
    kept = json.loads(KEPT.read_text(encoding="utf-8"))["desk"]
    assert any(line.startswith(said) for line in differences(layout(opened, 1366, 768), kept))
