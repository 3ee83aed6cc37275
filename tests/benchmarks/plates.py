"""How long a plate takes from the tables to the file, beside ``geopandas.GeoDataFrame.plot`` of the same squares.

    python tests/benchmarks/plates.py 10000

Each plate is made from the page's tables, with its legend, grid and caption, and saved as a PNG of 300 dots an inch, as
SVG and as PDF. The usual way draws the same squares in the same colours with ``plot`` and ``savefig``, on a sheet of
the same size and without legend, grid or words. Seconds of processor and of wall time, medians of the runs.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

sys.path.append(str(Path(__file__).resolve().parents[1] / "outputs"))
from page_frames import make_page, still_of

from gapmap.grid.squares import polygons
from gapmap.outputs.page.contents import Page
from gapmap.outputs.plates.curves import growth_plate
from gapmap.outputs.plates.maps import coverage_plate, species_plate, still_to_find_plate
from gapmap.outputs.plates.sheet import PRINT_DOTS, STEPS, UPRIGHT, save_plate

PLATES: dict[str, Callable[[Page], Figure]] = {
    "standing": coverage_plate,
    "visits": lambda page: coverage_plate(page, "visits"),
    "species": lambda page: species_plate(page, 3),
    "still to find": lambda page: still_to_find_plate(replace(page, still=still_of(page))),
    "growth": growth_plate,
}
GOAL_S = 1.0


def usual_plot(page: Page) -> Figure:
    """The squares as polygons in a frame that is asked to plot itself, coloured by the visits made."""
    rows = page.effort[page.effort["date_class"] == -1]
    shapes = polygons(rows["square"].to_numpy())
    frame = gpd.GeoDataFrame(rows[["visits"]].reset_index(drop=True), geometry=shapes, crs=page.system.epsg)
    ends = frame["visits"].quantile([0.2, 0.4, 0.6, 0.8]).to_numpy()
    colours = [STEPS[k] for k in ends.searchsorted(frame["visits"].to_numpy())]
    figure = Figure(figsize=UPRIGHT.size)
    FigureCanvasAgg(figure)
    frame.plot(ax=figure.add_subplot(), color=colours)
    return figure


def save_usual(figure: Figure, path: Path, dots: int = PRINT_DOTS) -> None:
    figure.savefig(path, dpi=dots)


def timed(draw: Callable[[Page], Figure], save: Any, page: Page, path: Path, runs: int) -> tuple[float, float]:
    """Median seconds of processor and of wall time of drawing and saving, after one run that is not counted."""
    found = []
    for _ in range(runs + 1):
        wall, processor = time.perf_counter(), time.process_time()
        save(draw(page), path)
        found.append((time.process_time() - processor, time.perf_counter() - wall))
    return statistics.median(p for p, _ in found[1:]), statistics.median(w for _, w in found[1:])


def main() -> None:
    """Print one line a plate and format."""
    asked = argparse.ArgumentParser()
    asked.add_argument("squares", type=int, nargs="?", default=10_000)
    asked.add_argument("--runs", type=int, default=3)
    options = asked.parse_args()
    page = make_page(options.squares, 600, 40)
    ways = [*((name, draw, save_plate) for name, draw in PLATES.items()), ("geopandas plot", usual_plot, save_usual)]
    print(f"{options.squares:,} squares; goal {GOAL_S:g} s a plate")
    with tempfile.TemporaryDirectory() as folder:
        for name, draw, save in ways:
            for kind in ("png", "svg", "pdf"):
                path = Path(folder) / f"plate.{kind}"
                processor, wall = timed(draw, save, page, path, options.runs)
                size = path.stat().st_size / 1e6
                print(f"  {name:15}{kind}  processor {processor:6.2f} s  wall {wall:6.2f} s  {size:6.2f} MB", flush=True)


if __name__ == "__main__":
    main()
