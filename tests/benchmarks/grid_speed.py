"""A million references to squares, and a million coordinates to the British grid, beside other libraries."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
from convertbng.cutil import convert_bng
from osbng.bng_reference import BNGReference
from osbng.indexing import bng_to_xy
from pyproj import Transformer

from gapmap.grid.projections import lonlat_to_grid
from gapmap.grid.references import references_to_squares
from gapmap.grid.squares import unpack
from gapmap.grid.systems import system_named

COUNT = 1_000_000


@cache
def references() -> list[str]:
    """Distinct eight-figure references in ten lettered squares."""
    lot = np.random.default_rng(3)
    places = lot.permutation(np.unique(lot.integers(0, 10 * 10**8, COUNT * 11 // 10)))[:COUNT]
    letters = np.array(["NT", "NS", "NO", "NU", "NZ", "NY", "SE", "SK", "SP", "TQ"])[places // 10**8]
    digits = pd.Series(places % 10**8).astype(str).str.zfill(8)
    return [letter + text for letter, text in zip(letters, digits, strict=True)]


def gapmap_references() -> dict[str, float]:
    """All at once."""
    squares = references_to_squares(references(), "british").squares
    _, _, easting, northing = unpack(squares)
    return {"sum of metres": float(easting.sum() + northing.sum())}


def osbng_references() -> dict[str, float]:
    """One at a time, as the library offers."""
    total = 0.0
    for text in references():
        easting, northing = bng_to_xy(BNGReference(text), position="lower-left")
        total += easting + northing
    return {"sum of metres": total}


@cache
def coordinates() -> tuple[np.ndarray, np.ndarray]:
    """Longitudes and latitudes over most of England and Scotland."""
    lot = np.random.default_rng(4)
    return lot.uniform(-5, 1, COUNT), lot.uniform(51, 57, COUNT)


def gapmap_lonlat() -> dict[str, float]:
    """With the shift grid, guarded against places outside Britain."""
    longitude, latitude = coordinates()
    easting, _ = lonlat_to_grid(system_named("british"), longitude, latitude)
    return {"points": float(np.isfinite(easting).sum())}


def convertbng_lonlat() -> dict[str, float]:
    """The library that carries the shift grid, alone."""
    longitude, latitude = coordinates()
    easting, _ = convert_bng(longitude, latitude)
    return {"points": float(np.isfinite(easting).sum())}


def pyproj_lonlat() -> dict[str, float]:
    """The usual transformation without a grid file: metres off."""
    longitude, latitude = coordinates()
    easting, _ = Transformer.from_crs(4326, 27700, always_xy=True).transform(longitude, latitude)
    return {"points": float(np.isfinite(easting).sum())}


def prepare() -> None:
    """Make the data before the clock starts."""
    references()
    coordinates()
