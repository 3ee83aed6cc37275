"""Text that came from a file is text, whatever it says: nothing runs, nothing is fetched, nothing breaks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from page_frames import make_page

from gapmap.outputs.page.contents import Background, Page

pytestmark = pytest.mark.browser

#: Each runs, fetches or breaks something where text is taken for markup, script, template, formula or address.
INJECTIONS = (
    "</script><script>window.ran=1</script>",
    "<img src=x onerror=window.ran=1>",
    "<svg/onload=window.ran=1>",
    "<!--<script>",
    "\"'><iframe src=javascript:parent.ran=1>",
    "{{ 7*7 }}{{ cycler.__init__.__globals__.os.system('touch ran') }}",
    "{% for x in y %}",
    "{# unfinished",
    "@@SCRIPT@@ @@FACTS@@",
    "\u2028window.ran=1\u2029",
    '=HYPERLINK("http://example.invalid")',
    "javascript:window.ran=1",
    "${window.ran=1}",
    "&lt;b&gt; &amp; \\u003cscript\\u003e",
    "\u202egnp.exe \u0000\u0001\u0007 {n} {when}",
    "__proto__",
)
ALL = " ".join(INJECTIONS)


def spoilt(frame: pd.DataFrame | None, text: str) -> pd.DataFrame | None:
    """A frame whose every text says something else."""
    if frame is None:
        return None
    texts = [name for name in frame.columns if pd.api.types.is_string_dtype(frame[name])]
    return frame.assign(**dict.fromkeys(texts, text))


def spoilt_page(text: str) -> Page:
    page = make_page(squares=30)
    town = gpd.GeoDataFrame({"name": [text]}, geometry=[shapely.Point(570_000, -50_000)])
    assert page.boundary is not None
    return replace(
        page, title=text, notice=text, files=(text,), thresholds=(text,), remarks=(text,),
        species=spoilt(page.species, text), effort=spoilt(page.effort, text), standing=spoilt(page.standing, text),
        expected=spoilt(page.expected, text), lists=spoilt(page.lists, text), visits=spoilt(page.visits, text),
        findings=spoilt(page.findings, text),
        background=(Background(text, "place", town), Background(text, "land", page.boundary)),
    )  # fmt: skip


@pytest.mark.parametrize("text", [INJECTIONS[0], INJECTIONS[1], INJECTIONS[4], INJECTIONS[5], ALL])
def test_nothing_from_a_file_runs(open_page: Callable[..., Any], text: str, tmp_path: Any, monkeypatch: Any) -> None:
    monkeypatch.chdir(tmp_path)
    opened = open_page(spoilt_page(text))
    tab = opened.page
    scripts = tab.locator("script").count()
    for view in tab.locator("#views button").all():
        view.click()
        tab.focus("#map_gapmap")
        tab.keyboard.press("ArrowRight")
        tab.click("#as-table")
        tab.click("#as-table")
        if tab.locator("#species-text").count():
            tab.click("#species-text")
            tab.keyboard.press("ArrowDown")
            tab.keyboard.press("Enter")
    tab.click("#about summary")
    tab.wait_for_timeout(50)
    assert tab.evaluate("window.ran") is None
    assert not (tmp_path / "ran").exists()
    assert tab.locator("script").count() == scripts == 3
    assert tab.locator("iframe, #panel img, #panel svg:not(.curve), table img").count() == 0
    assert opened.dialogs == []
    assert opened.errors == []
    assert opened.reached == []
    assert {url.split("#")[0] for url in opened.requests} == {opened.path.as_uri()}


def test_the_policy_stops_what_would_slip_through(open_page: Callable[..., Any]) -> None:
    """Even markup put into the page by hand runs nothing and fetches nothing."""
    opened = open_page()
    blocked = opened.page.evaluate(
        """async () => {
            const seen = [];
            const script = document.createElement('script');
            script.textContent = 'window.ran = 1';
            document.body.append(script);
            const markup = '<img src="http://example.invalid/x" onerror="window.ran = 2">';
            document.body.insertAdjacentHTML('beforeend', markup);
            try { await fetch('http://example.invalid/'); } catch (e) { seen.push('fetch refused'); }
            await new Promise((done) => setTimeout(() => {
                try { window.eval('window.ran = 3'); } catch (e) { seen.push('eval refused'); }
                done();
            }));
            await new Promise((done) => setTimeout(done, 200));
            return [window.ran ?? null, seen];
        }"""
    )
    assert blocked[0] is None
    assert {"fetch refused", "eval refused"} <= set(blocked[1])
    assert opened.reached == []


def test_text_is_shown_as_it_was_written(open_page: Callable[..., Any]) -> None:
    opened = open_page(spoilt_page("<b>bold</b> & {{ x }}"))
    assert opened.text("#title") == "<b>bold</b> & {{ x }}"
    assert opened.page.title() == "<b>bold</b> & {{ x }}"
    opened.page.click("#about summary")
    assert "<b>bold</b> & {{ x }}" in opened.text("#about-text")


def test_the_count_of_requests_would_see_one(open_page: Callable[..., Any]) -> None:
    """The guard itself: with the policy switched off, a picture that is asked for is counted."""
    opened = open_page(bypass_csp=True)
    opened.page.evaluate("() => { new Image().src = 'http://example.invalid/x'; }")
    opened.page.wait_for_timeout(300)
    assert opened.reached == ["http://example.invalid/x"]
