"""A background map from the network: never unless a reader asks, from one host, and where it belongs."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_frames import make_page
from PIL import Image

from gapmap.errors import SettingsError
from gapmap.grid.projections import grid_to_lonlat
from gapmap.grid.systems import system_named
from gapmap.outputs.page.build import page_to_html
from gapmap.settings import Settings, TilesSection, read_settings

Open = Callable[..., Any]
TILES = TilesSection(address="https://tiles.invalid/{z}/{x}/{y}.png", credit="© nobody, an invented map")


def telling_tile(z: int, x: int, y: int) -> bytes:
    """A tile whose every pixel tells where on it it lies (red and green) and which tile it is (blue)."""
    across, down = np.meshgrid(np.arange(256), np.arange(256))
    pixels = np.stack([across, down, np.full_like(across, (7 * x + 13 * y) % 256)], axis=2).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def serve(opened: Any, asked: list[tuple[int, int, int]]) -> None:
    def answer(route: Any) -> None:
        z, x, y = (int(part) for part in re.findall(r"\d+", route.request.url))
        asked.append((z, x, y))
        route.fulfill(body=telling_tile(z, x, y), content_type="image/png")

    opened.page.route("https://tiles.invalid/**", answer)


@pytest.mark.browser
def test_nothing_is_asked_until_somebody_does_and_nothing_after_it_is_off(open_page: Open) -> None:
    opened = open_page(make_page(tiles=TILES))
    asked: list[tuple[int, int, int]] = []
    serve(opened, asked)
    assert "tiles.invalid, which would learn your connection and what part of the map you look at" in opened.text(
        "#tiles"
    )
    opened.page.click("#zoom-in")
    opened.page.wait_for_timeout(400)
    assert asked == []
    opened.page.get_by_role("button", name="Fetch the background map").click()
    opened.page.wait_for_timeout(600)
    assert len(asked) >= 4
    assert opened.text("#credit") == TILES.credit
    assert "which sees your connection" in opened.text("#tiles")
    address = opened.page.evaluate("location.hash")
    opened.page.get_by_role("button", name="Turn the background map off").click()
    many = len(asked)
    opened.page.click("#zoom-out")
    opened.page.click("#zoom-out")
    opened.page.wait_for_timeout(400)
    assert len(asked) == many
    assert opened.errors == []
    again = open_page(make_page(tiles=TILES), address=address)
    again.page.wait_for_timeout(300)
    assert again.reached == [], "an address that was sent makes nobody ask the network"


@pytest.mark.browser
@pytest.mark.parametrize("name", ["british", "europe"])
def test_every_tile_lies_where_it_belongs(open_page: Open, name: str) -> None:
    """Against the tile scheme's own formula: OGC Two Dimensional Tile Matrix Set, WebMercatorQuad."""
    system = system_named(name)
    page = make_page(squares=20, system=system, tiles=TILES, views=False, boundary=None)
    opened = open_page(page, width=900, height=700)
    asked: list[tuple[int, int, int]] = []
    serve(opened, asked)
    opened.page.get_by_role("button", name="Fetch the background map").click()
    opened.page.click("#zoom-out")
    opened.page.click("#zoom-out")
    opened.page.wait_for_timeout(1_500)
    level = asked[-1][0]
    box = opened.page.locator("#map_gapmap").bounding_box()
    seen = np.asarray(Image.open(io.BytesIO(opened.page.screenshot())).convert("RGB")).astype(int)
    checked = 0
    for right in np.linspace(40, box["width"] - 90, 9):
        for down in np.linspace(40, box["height"] - 60, 7):
            metres = opened.page.evaluate(
                "([x, y]) => { const at = map_gapmap.containerPointToLatLng([x, y]); return [at.lng, at.lat]; }",
                [float(right) + 0.5, float(down) + 0.5],
            )
            lon, lat = (float(part[0]) for part in grid_to_lonlat(system, [metres[0]], [metres[1]]))
            x = (lon + 180) / 360 * 2**level
            y = (1 - np.arcsinh(np.tan(np.radians(lat))) / np.pi) / 2 * 2**level
            red, green, blue = seen[int(box["y"] + down), int(box["x"] + right)]
            near_the_seam = min(x % 1, y % 1) < 0.02 or max(x % 1, y % 1) > 0.98
            if near_the_seam or blue != (7 * int(x) + 13 * int(y)) % 256:
                continue
            checked += 1
            assert abs(red - x % 1 * 256) < 3, (right, down)
            assert abs(green - y % 1 * 256) < 3, (right, down)
    assert checked >= 25, "most points lie outside the squares and the lines of the grid"


@pytest.mark.browser
def test_a_host_that_does_not_answer_is_said(open_page: Open) -> None:
    opened = open_page(make_page(tiles=TILES))
    opened.page.get_by_role("button", name="Fetch the background map").click()
    opened.page.wait_for_timeout(400)
    assert opened.text("#tiles-text") == "Parts of the background map could not be fetched from tiles.invalid."
    assert {url.split("/")[2] for url in opened.reached} == {"tiles.invalid"}


def test_only_the_host_that_is_named_is_let_through() -> None:
    text = page_to_html(make_page(tiles=TILES))
    assert "img-src data: https://tiles.invalid; " in text
    plain = page_to_html(replace(make_page(), tiles=None))
    assert "img-src data:; " in plain
    assert "tiles.invalid" not in plain


@pytest.mark.parametrize(
    "address",
    [
        "http://plain.invalid/{z}/{x}/{y}.png", "https://x.invalid/{z}/{x}.png", "https://x.invalid/{z}/{x}/{y}/{s}.png",
        "https://x.invalid/{z}/{x}/{-y}.png", "https://x.invalid; script-src */{z}/{x}/{y}", "https://*/{z}/{x}/{y}",
        "https://x.invalid/{z}/{x}/{y} ", "{z}{x}{y}",
    ],
)  # fmt: skip
def test_other_addresses_are_refused_in_a_sentence(address: str, tmp_path: Path) -> None:
    path = tmp_path / "area.toml"
    path.write_text(f'[tiles]\naddress = "{address}"\ncredit = "somebody"\n')
    with pytest.raises(SettingsError, match="no address of map tiles") as caught:
        read_settings(path)
    assert "write one https address" in str(caught.value.do)


def test_credit_is_asked_for(tmp_path: Path) -> None:
    path = tmp_path / "area.toml"
    path.write_text('[tiles]\naddress = "https://x.invalid/{z}/{x}/{y}"\n')
    with pytest.raises(SettingsError, match="owed to somebody"):
        read_settings(path)
    assert Settings().tiles.host == ""
