"""Where the tiles of a background map lie in the plane of the page: a lattice the page's script goes by.

Tiles divide the square of the Web Mercator projection: level 0 is one tile, every level halves the sides (OGC Two
Dimensional Tile Matrix Set, WebMercatorQuad). The page's plane is another one, so each picture is bent into place by
the corners of its parts.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from gapmap.grid.projections import grid_to_lonlat, lonlat_to_grid
from gapmap.outputs.page.contents import Page
from gapmap.outputs.page.pack import Block
from gapmap.outputs.page.sentences import clean

#: Nodes on each side of the lattice.
NODES = 33
#: Beyond this latitude the square of Web Mercator ends.
_MOST_LATITUDE = 85.05
#: Stands for a node the plane cannot hold.
NOWHERE = 1 << 40


def add_tiles(block: Block, page: Page, view: list[int]) -> dict[str, Any] | None:
    """Add the lattice and return what else the script needs; nothing when the page has no tiles.

    ``tiles.easting`` and ``tiles.northing`` are the metres of the nodes row by row from the north-west; the frame is
    west, north, east and south as shares of the Web Mercator square.

    Parameters
    ----------
    view
        West, south, east and north of the map in metres; the lattice reaches its own size further on all sides.
    """
    if page.tiles is None or not page.tiles.address:
        return None
    frame = _frame(page, view)
    x, y = np.meshgrid(np.linspace(frame[0], frame[2], NODES), np.linspace(frame[1], frame[3], NODES))
    metres = lonlat_to_grid(page.system, *shares_to_lonlat(x.ravel(), y.ravel()))
    for name, values in zip(("easting", "northing"), metres, strict=True):
        block.add_signed(f"tiles.{name}", np.where(np.isfinite(values), np.rint(np.nan_to_num(values)), NOWHERE))
    tiles = page.tiles
    return {
        "address": clean(tiles.address), "host": tiles.host, "credit": clean(tiles.credit), "deepest": tiles.deepest,
        "frame": frame, "nodes": NODES,
    }  # fmt: skip


def _frame(page: Page, view: list[int]) -> list[float]:
    west, south, east, north = view
    wide, high = east - west, north - south
    eastings, northings = np.meshgrid(
        np.linspace(west - wide, east + wide, NODES), np.linspace(south - high, north + high, NODES)
    )
    x, y = lonlat_to_shares(*grid_to_lonlat(page.system, eastings.ravel(), northings.ravel()))
    return [round(float(end), 9) for end in (np.nanmin(x), np.nanmin(y), np.nanmax(x), np.nanmax(y))]


def lonlat_to_shares(lon: npt.ArrayLike, lat: npt.ArrayLike) -> tuple[Any, Any]:
    """Degrees as shares of the Web Mercator square, from its north-west corner.

    Examples
    --------
    >>> [round(float(share), 6) for share in lonlat_to_shares(0.0, 0.0)]
    [0.5, 0.5]
    """
    latitude = np.radians(np.clip(lat, -_MOST_LATITUDE, _MOST_LATITUDE))
    return (np.asarray(lon) + 180) / 360, (1 - np.arcsinh(np.tan(latitude)) / np.pi) / 2


def shares_to_lonlat(x: npt.ArrayLike, y: npt.ArrayLike) -> tuple[Any, Any]:
    """The way back.

    Examples
    --------
    >>> [round(float(part), 6) for part in shares_to_lonlat(*lonlat_to_shares(-3.2, 55.9))]
    [-3.2, 55.9]
    """
    return np.asarray(x) * 360 - 180, np.degrees(np.arctan(np.sinh(np.pi * (1 - 2 * np.asarray(y)))))
