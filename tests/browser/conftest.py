"""A Chromium of the machine, and invented pages opened in it from a file with every request counted."""

from __future__ import annotations

import re
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

sys.path.append(str(Path(__file__).resolve().parents[1] / "outputs"))
from page_frames import make_page

from gapmap.outputs.page.build import write_page
from gapmap.outputs.page.contents import Page

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """The machine's own browser; nothing is downloaded."""
    program = next((found for name in NAMES if (found := shutil.which(name))), None)
    if program is None:
        pytest.skip("no Chromium on this machine (looked for " + ", ".join(NAMES) + ")")
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=program, args=list(QUIET))
        yield started
        started.close()


@dataclass
class Opened:
    """A page in the browser: what it asked for, which of that left the browser, and what went wrong in it."""

    page: Any
    path: Path
    requests: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    dialogs: list[str] = field(default_factory=list)
    reached: list[str] = field(default_factory=list)

    def text(self, selector: str) -> str:
        """What can be read in an element."""
        return str(self.page.inner_text(selector))

    def click_square(self, reference: str) -> None:
        """Go to a square by its reference, as a person would."""
        self.page.fill("#goto-text", reference)
        self.page.click("#goto button")

    def colours(self) -> int:
        """How many different colours the map's canvas shows: more than a few when squares are in view."""
        return int(
            self.page.evaluate(
                """() => { const c = document.querySelector('#map_gapmap canvas'); const d = c.getContext('2d')
            .getImageData(0, 0, c.width, c.height).data; const seen = new Set();
            for (let i = 0; i < d.length; i += 4) seen.add(d[i] << 16 | d[i + 1] << 8 | d[i + 2]);
            return seen.size; }"""
            )
        )


@pytest.fixture(scope="session")
def usual_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented page most tests open, written once."""
    path = tmp_path_factory.mktemp("usual") / "page.html"
    write_page(path, make_page())
    return path


@pytest.fixture
def open_page(browser: Any, usual_page: Path, tmp_path: Path) -> Iterator[Callable[..., Opened]]:
    """Write a page and open it from its file, offline: ``open_page(page, address="#view=find", width=390)``."""
    contexts = []

    def opened(
        page: Page | None = None, *, address: str = "", width: int = 1280, height: int = 720, **options: Any
    ) -> Opened:
        path = usual_page if page is None else tmp_path / "page.html"
        if page is not None:
            write_page(path, page)
        context = browser.new_context(viewport={"width": width, "height": height}, offline=True, **options)
        contexts.append(context)
        tab = context.new_page()
        found = Opened(tab, path)
        tab.on("request", lambda request: found.requests.append(request.url))
        tab.on("pageerror", lambda error: found.errors.append(str(error)))
        tab.on("console", lambda line: found.errors.append(line.text) if line.type in ("error", "warning") else None)
        tab.on("dialog", lambda dialog: (found.dialogs.append(dialog.message), dialog.dismiss()))
        context.route(re.compile("^(?!file:)"), lambda route: (found.reached.append(route.request.url), route.abort()))
        tab.goto(path.as_uri() + address)
        tab.wait_for_selector("body[data-ready]", timeout=20_000)
        return found

    yield opened
    for context in contexts:
        context.close()
