"""How large the page is and how quick it answers, beside a plain ``folium.GeoJson`` page of the same squares.

    python tests/benchmarks/page.py 10000 40000            # the page alone
    python tests/benchmarks/page.py 10000 --folium         # beside plain folium
    python tests/benchmarks/page.py 10000 --views          # with still to find, growth, visits and records too

600 species, three date classes, 40 species a square; medians of the runs; "4x" is the processor slowed fourfold.
Every time is taken inside the browser, and a run counts only when squares are in view.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import statistics
import sys
import tempfile
import time
from importlib import metadata
from pathlib import Path
from typing import Any

import folium
import geopandas as gpd
from playwright.sync_api import sync_playwright

sys.path.append(str(Path(__file__).resolve().parents[1] / "outputs"))
from page_frames import make_page

from gapmap.grid.references import squares_to_references
from gapmap.grid.squares import polygons
from gapmap.outputs.page.build import write_page
from gapmap.outputs.page.contents import Page

GOALS = {
    10_000: {"MB": 1.0, "write s": 1, "drawn s 1x": 0.8, "drawn s 4x": 2.5, "click ms 1x": 150, "click ms 4x": 400,
             "species ms 1x": 5, "species ms 4x": 15, "pan ms 1x": 17, "pan ms 4x": 33},
    40_000: {"MB": 3.2, "write s": 3, "drawn s 1x": 1.2, "drawn s 4x": 3.5, "click ms 1x": 150, "click ms 4x": 500,
             "species ms 1x": 5, "species ms 4x": 20, "pan ms 1x": 17, "pan ms 4x": 33},
}  # fmt: skip
WATCH = """
window.watched = {};
new MutationObserver((_, me) => { if (document.body && document.body.dataset.ready) { me.disconnect();
  requestAnimationFrame(() => setTimeout(() => window.watched.drawn = performance.now())); } })
  .observe(document, { attributes: true, childList: true, subtree: true });
window.addEventListener('load', () => requestAnimationFrame(
  () => setTimeout(() => window.watched.loaded = performance.now())));
window.addEventListener('click', (e) => { window.watched.clicked = e.timeStamp;
  requestAnimationFrame(() => setTimeout(() => window.watched.answered = performance.now())); }, true);
"""
PAN = """() => new Promise((done) => { const gaps = []; let last = performance.now();
  const frame = (now) => { gaps.push(now - last); last = now; gaps.length < 40 ? requestAnimationFrame(frame)
  : done(gaps.slice(5).sort((a, b) => a - b)[17]); }; requestAnimationFrame(frame); })"""
SPECIES = """() => { const box = document.getElementById('species-text'); box.value = ''; box.click();
  const item = document.querySelectorAll('#species-list li')[5 + Math.floor(Math.random() * 20)];
  const start = performance.now(); item.dispatchEvent(new MouseEvent('mousedown', { bubbles: true, cancelable: true }));
  return performance.now() - start; }"""


#: What is changed in the other views: name of the measure, the view, the control, and how it is moved.
CHANGES = {
    "month": ("find", "month", "box.selectedIndex = (box.selectedIndex + 1) % box.options.length", "change"),
    "year": ("growth", "year", "box.value = Number(box.value) - 1", "input"),
    "volunteer": ("visits", "volunteer", "box.selectedIndex = (box.selectedIndex + 1) % box.options.length", "change"),
}


def change_script(control: str, move: str, event: str) -> str:
    """Move a control once; milliseconds of script."""
    return f"""() => {{ const box = document.getElementById('{control}'); {move}; const start = performance.now();
  box.dispatchEvent(new Event('{event}', {{ bubbles: true }})); return performance.now() - start; }}"""


def drawn_script(script: str) -> str:
    """The same until the next frame stands."""
    return f"""async () => {{ const start = performance.now(); ({script})();
  await new Promise((done) => requestAnimationFrame(() => setTimeout(done))); return performance.now() - start; }}"""


def write_plain_folium(path: Path, page: Page) -> None:
    """The usual way: squares as GeoJSON with their species and classes as properties."""
    squares = page.effort.loc[page.effort["date_class"] == -1, ["square", "visits", "species"]]
    names = page.species["name"].to_numpy()
    tally = page.tally[page.tally["date_class"] >= 0]
    found = tally.groupby(["square", "species_id"])["date_class"].agg(lambda c: "".join(map(str, c)))
    by_square: dict[int, dict[str, str]] = {}
    for (square, species), classes in found.items():
        by_square.setdefault(square, {})[names[species]] = classes
    frame = gpd.GeoDataFrame(
        squares.assign(
            reference=squares_to_references(squares["square"].to_numpy()),
            found=[json.dumps(by_square.get(s, {})) for s in squares["square"]],
        ),
        geometry=polygons(squares["square"].to_numpy()), crs=page.system.epsg,
    ).to_crs(4326)  # fmt: skip
    middle = frame.union_all().centroid
    plain = folium.Map(location=[middle.y, middle.x], zoom_start=7, tiles=None)
    folium.GeoJson(frame, popup=folium.GeoJsonPopup(["reference", "visits", "species"])).add_to(plain)
    plain.save(path)


def serve_leaflet(route: Any) -> None:
    """Give the plain page the installed Leaflet and nothing for the other assets it asks for."""
    name = route.request.url.rsplit("/", 1)[-1]
    listed = {f.name: f for f in metadata.files("XStatic-Leaflet") or []}
    if name in ("leaflet.js", "leaflet.css"):
        route.fulfill(path=str(listed[name].locate()))
    else:
        route.fulfill(body="", content_type="text/javascript" if name.endswith("js") else "text/css")


def measure(browser: Any, path: Path, slow: int, runs: int, own: bool) -> dict[str, float]:
    """Medians over fresh tabs."""
    found: dict[str, list[float]] = {}
    for _ in range(runs):
        context = browser.new_context(viewport={"width": 1280, "height": 720})
        tab = context.new_page()
        tab.set_default_timeout(400_000)
        tab.route(re.compile("^https?:"), serve_leaflet)
        tab.add_init_script(WATCH)
        context.new_cdp_session(tab).send("Emulation.setCPUThrottlingRate", {"rate": slow})
        tab.goto(path.as_uri() + ("#view=coverage&by=visits" if own else ""))
        for key, value in (one_own(tab) if own else one_plain(tab)).items():
            found.setdefault(f"{key} {slow}x", []).append(value)
        context.close()
    return {key: round(statistics.median(values), 3) for key, values in found.items()}


def waited(tab: Any, name: str) -> float:
    """A time the page noted, in milliseconds."""
    for _ in range(8_000):
        value = tab.evaluate(f"window.watched.{name} ?? null")
        if value is not None:
            return float(value)
        time.sleep(0.05)
    raise TimeoutError(name)


def click_ms(tab: Any, selector: str) -> float:
    box = tab.locator(selector).bounding_box()
    tab.mouse.click(box["x"] + box["width"] / 2 + 11, box["y"] + box["height"] / 2 + 9)
    return waited(tab, "answered") - float(tab.evaluate("window.watched.clicked"))


def pan_ms(tab: Any, selector: str) -> float:
    box = tab.locator(selector).bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down()
    tab.evaluate(f"() => {{ ({PAN})().then((gap) => (window.watched.panned = gap)); }}")
    for step in range(40):
        tab.mouse.move(x - 4 * step, y - 2 * step)
    value = waited(tab, "panned")
    tab.mouse.up()
    return value


def one_own(tab: Any) -> dict[str, float]:
    drawn = waited(tab, "drawn")
    colours = tab.evaluate(
        """() => { const c = document.querySelector('#map_gapmap canvas'); const d = c.getContext('2d')
        .getImageData(c.width / 4, c.height / 4, c.width / 2, c.height / 2).data; const seen = new Set();
        for (let i = 0; i < d.length; i += 4) seen.add(d[i] << 16 | d[i + 1] << 8 | d[i + 2]);
        return ['#fde737', '#bcae6c', '#7c7b78', '#414d6b', '#00224e']
        .filter((h) => seen.has(parseInt(h.slice(1), 16))).length; }"""
    )
    assert colours >= 3, "squares are in view"
    click = click_ms(tab, "#map_gapmap")
    assert tab.inner_text("#facts-of-square h2")
    pan = pan_ms(tab, "#map_gapmap")
    tab.click('#views button[data-view="species"]')
    changes = [tab.evaluate(SPECIES) for _ in range(9)]
    drawn_again = [tab.evaluate(drawn_script(SPECIES)) for _ in range(5)]
    return {"drawn s": drawn / 1000, "click ms": click, "species ms": statistics.median(changes),
            "species drawn ms": statistics.median(drawn_again), "pan ms": pan, **other_views(tab)}  # fmt: skip


def other_views(tab: Any) -> dict[str, float]:
    """A change in each of the other views the page has, and a click on a square in it."""
    found = {}
    for name, (view, *how) in CHANGES.items():
        if not tab.locator(f'#views button[data-view="{view}"]').count():
            continue
        tab.click(f'#views button[data-view="{view}"]')
        script = change_script(*how)
        found[f"{name} ms"] = statistics.median(tab.evaluate(script) for _ in range(9))
        found[f"{name} drawn ms"] = statistics.median(tab.evaluate(drawn_script(script)) for _ in range(5))
        tab.evaluate("() => { delete window.watched.answered; }")
        found[f"click in {view} ms"] = click_ms(tab, "#map_gapmap")
    return found


def one_plain(tab: Any) -> dict[str, float]:
    drawn = waited(tab, "loaded")
    assert tab.locator("path.leaflet-interactive").count() > 9_000, "squares are in view"
    click = click_ms(tab, ".folium-map")
    return {"drawn s": drawn / 1000, "click ms": click, "pan ms": pan_ms(tab, ".folium-map")}


def timed_write(write: Any, path: Path, page: Page) -> dict[str, float]:
    write(path, page)
    start, cpu = time.perf_counter(), time.process_time()
    write(path, page)
    return {
        "MB": round(path.stat().st_size / 1e6, 3), "write s": round(time.perf_counter() - start, 2),
        "write cpu s": round(time.process_time() - cpu, 2),
    }  # fmt: skip


def main() -> None:
    """Print one line a measure: the page, its goal, and plain folium where asked."""
    asked = argparse.ArgumentParser()
    asked.add_argument("squares", type=int, nargs="+")
    asked.add_argument("--folium", action="store_true")
    asked.add_argument("--views", action="store_true")
    asked.add_argument("--bare", action="store_true", help="without standing")
    asked.add_argument("--runs", type=int, default=5)
    options = asked.parse_args()
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox", "--disable-gpu"])
        for squares in options.squares:
            page = make_page(squares, 600, 40, views=options.views, standing=not options.bare)
            columns = [(write_page, True)] + ([(write_plain_folium, False)] if options.folium else [])
            for write, own in columns:
                path = Path(folder) / f"{squares}-{own}.html"
                found: dict[str, float] = timed_write(write, path, page)
                for slow in (1, 4):
                    found |= measure(browser, path, slow, options.runs if own else 1, own)
                print(f"{squares:,} squares, {'the page' if own else 'plain folium.GeoJson'}")
                for key, value in found.items():
                    print(f"  {key:16}{value:10}   goal {GOALS.get(squares, {}).get(key, '-') if own else '-'}")
        browser.close()


if __name__ == "__main__":
    main()
