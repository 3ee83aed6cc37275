"""The effort surface: lists a square, smoothed by a stated kernel, as arrays that a raster can be written from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.ndimage import gaussian_filter

from gapmap.errors import GapmapError
from gapmap.grid.squares import unpack
from gapmap.grid.systems import System, system_of
from gapmap.typed import DateClass

#: The kernel ends at this many of its standard deviations.
_REACH = 3.0
_MOST_CELLS = 25_000_000


@dataclass(frozen=True)
class Surface:
    """Effort over one grid system.

    Parameters
    ----------
    system
        Grid system whose plane the cells lie in.
    side
        Side of a cell in metres: the map's square.
    kernel_m
        Standard deviation of the Gaussian kernel in metres; 0 when nothing was smoothed.
    labels
        What each band is: the date classes, then all dates.
    bands
        float32, bands × rows × columns, the first row northernmost: lists a square; NaN where nothing is known.
    transform
        Six numbers (a, b, c, d, e, f): easting = a column + b row + c, northing = d column + e row + f.
    """

    system: System
    side: int
    kernel_m: float
    labels: tuple[str, ...]
    bands: npt.NDArray[np.float32]
    transform: tuple[float, float, float, float, float, float]

    @property
    def note(self) -> str:
        """What the numbers are, in one sentence."""
        if self.kernel_m == 0:
            return f"Lists in each square of {self.side} m, not smoothed"
        return (
            f"Lists in a square of {self.side} m, smoothed by a Gaussian kernel with a standard deviation of "
            f"{self.kernel_m:.0f} m, cut at {_REACH:.0f} of them; no data where no record lies within its reach"
        )


def effort_surfaces(
    effort: pd.DataFrame, classes: Sequence[DateClass], *, kernel_m: float | None = None
) -> list[Surface]:
    """Spread the lists of each square over its surroundings.

    The kernel spreads and adds nothing: a band's cells add up to the lists of its class.

    Parameters
    ----------
    effort
        As :func:`gapmap.coverage.effort.effort` gives it.
    classes
        The date classes it was made with.
    kernel_m
        Standard deviation of the kernel in metres; the side of a square by default, 0 for no smoothing.

    Returns
    -------
    list of Surface
        One for each grid system, in the order of their keys; none where there is no record.

    Raises
    ------
    GapmapError
        The squares lie so far apart that the raster would not fit into memory.

    Examples
    --------
    >>> from gapmap.grid.squares import pack
    >>> home = int(pack(1, 2000, 500_000, 600_000).item())
    >>> effort = pd.DataFrame({"square": [home], "date_class": [-1], "records": [9], "lists": [4]})
    >>> [surface] = effort_surfaces(effort, (), kernel_m=0)
    >>> surface.bands.tolist(), surface.labels
    ([[[4.0]]], ('all dates',))
    >>> effort_surfaces(effort.iloc[:0], ())
    []
    """
    known = effort[effort["records"] > 0]
    key, side, easting, northing = unpack(known["square"].to_numpy(dtype=np.int64))
    surfaces = []
    for one in np.unique(key):
        mine = key == one
        surfaces.append(_surface(known[mine], side[mine], easting[mine], northing[mine], int(one), classes, kernel_m))
    return surfaces


def _surface(
    known: pd.DataFrame, sides: npt.NDArray[np.int64], easting: npt.NDArray[np.int64],
    northing: npt.NDArray[np.int64], key: int, classes: Sequence[DateClass], kernel_m: float | None,
) -> Surface:
    side = int(sides[0])
    kernel = float(side) if kernel_m is None else kernel_m
    margin = int(_REACH * kernel / side + 0.5)
    west, south = int(easting.min()) - margin * side, int(northing.min()) - margin * side
    width, height = int(easting.max() - west) // side + 1 + margin, int(northing.max() - south) // side + 1 + margin
    if width * height > _MOST_CELLS:
        raise GapmapError(
            "The squares lie too far apart for one effort raster",
            found=f"{width} by {height} cells of {side} m", do="use larger squares, or a smaller area",
        )
    row = height - 1 - (northing - south) // side
    column = (easting - west) // side
    bands = np.zeros((len(classes) + 1, height, width), np.float32)
    date_class = known["date_class"].to_numpy(dtype=np.int64)
    band = np.where(date_class < 0, len(classes), date_class)
    bands[band, row, column] = known["lists"].to_numpy(dtype=np.float32)
    seen = np.zeros((height, width), np.float32)
    seen[row, column] = 1
    if kernel > 0:
        bands = np.stack([_spread(one, kernel / side) for one in bands])
        seen = _spread(seen, kernel / side)
    bands[:, seen <= 0] = np.nan
    return Surface(
        system_of(key), side, kernel, (*(one.label for one in classes), "all dates"), bands,
        (float(side), 0.0, float(west), 0.0, -float(side), float(south + height * side)),
    )


def _spread(band: npt.NDArray[np.float32], sigma: float) -> npt.NDArray[np.float32]:
    spread: npt.NDArray[np.float32] = gaussian_filter(band, sigma, mode="constant", truncate=_REACH)
    return spread
